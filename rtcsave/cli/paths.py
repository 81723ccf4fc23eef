"""The files that were named: patterns expanded, each once, and whether two names mean one file."""

from __future__ import annotations

import contextlib
import os
from collections.abc import Iterable
from typing import Final

from rtcsave.errors import BadArgument
from rtcsave.storage.names import is_ours

STREAM: Final = "-"
_MAGIC: Final = frozenset("*?[")


def _is_ours(path: str) -> bool:
    """Whether a path, or what it leads to, is a backup or a temporary file of ours."""
    return is_ours(os.path.basename(path)) or is_ours(os.path.basename(os.path.realpath(path)))


def expand(paths: Iterable[str]) -> list[str]:
    """The paths, patterns replaced by what they match, each file once.

    A name that exists is no pattern. Our own backups and temporary files are taken only if they
    are named in full.
    """
    expanded: list[str] = []
    for path in paths:
        if path == STREAM or os.path.lexists(path) or not _MAGIC & set(path):
            expanded.append(path)
        else:
            import glob

            matches = sorted(glob.glob(path, recursive=True))
            expanded.extend([m for m in matches if not _is_ours(m)] or [path])
    once: dict[str, str] = {}
    for path in expanded:
        once.setdefault(path if path == STREAM else os.path.realpath(path), path)
    return list(once.values())


def one_file(typed: str) -> str:
    """The one file that a command takes; a pattern that matches several is refused."""
    paths = expand([typed])
    if len(paths) > 1:
        raise BadArgument(
            "this command takes one file",
            found=f"{typed} matches {len(paths)}: {', '.join(paths[:4])}"
            + (" ..." if len(paths) > 4 else ""),
        )
    return paths[0]


def quoted(word: str) -> str:
    """A word as it is typed in this system's shells."""
    if os.name == "nt":
        return f'"{word}"' if " " in word else word
    import shlex

    return shlex.quote(word)


def same_place(path: str, where: str) -> bool:
    """Whether an error speaks of a file, by the path as it was typed or as a whole."""
    if where == path or path == STREAM:
        return where == path
    with contextlib.suppress(OSError):
        return where in (os.path.abspath(path), os.path.realpath(path))
    return False
