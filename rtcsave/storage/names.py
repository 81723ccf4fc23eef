"""The names of the files that we make ourselves: backups, and temporary files beside a file."""

from __future__ import annotations

import contextlib
import os
import re
from functools import lru_cache
from typing import Final

from rtcsave.when import present_s

# Patterns as text: they are compiled when a name is first looked at, and kept by `re`.
BACKUP_TAIL: Final = (
    r"\.(?P<instant>\d{8}T\d{6}Z)(?:-(?P<number>\d+))?(?P<replaced>\.replaced)?\.bak"
)
_BACKUP: Final = f"(?s:.+){BACKUP_TAIL}"
_TEMPORARY: Final = r"\.(?P<name>(?s:.+))\.[0-9a-f]{8}(?P<old>\.old)?\.tmp"
_SHORTENED: Final = 40
_LEFT_OVER_S: Final = 3_600
"""A temporary file older than an hour belongs to a process that was killed: a write takes seconds."""


def backup_name(target: str, instant: str, kind: str = "", number: int = 1) -> str:
    """The path of a backup: `NAME.20260310T141500Z.bak`; the second of a second is `…Z-2.bak`."""
    counted = f"-{number}" if number > 1 else ""
    return f"{target}.{instant}{counted}{kind}.bak"


def temporary_name(folder: str, name: str, old: str = "") -> str:
    """A free path for a temporary file beside a file; with `old=".old"` for what it replaces."""
    return os.path.join(folder, f".{name[:_SHORTENED]}.{os.urandom(4).hex()}{old}.tmp")


def is_ours(name: str) -> bool:
    """Whether a file's name is that of one of our backups or temporary files."""
    return bool(re.fullmatch(_BACKUP, name) or re.fullmatch(_TEMPORARY, name))


def remove_left_overs(target: str) -> None:
    """Remove temporary files of ours beside a file that a killed process left an hour ago or more.

    A folder is listed once an hour at most. What cannot be removed stays.
    """
    folder, name = os.path.split(target)
    now_s = present_s()
    for path in _temporaries(folder, now_s // _LEFT_OVER_S).get(name[:_SHORTENED], ()):
        with contextlib.suppress(OSError):
            status = os.lstat(path)
            # a second name of the old file has that file's time, and is as old as its last change
            made_s = status.st_ctime if path.endswith(".old.tmp") else status.st_mtime
            if made_s < now_s - _LEFT_OVER_S:
                os.unlink(path)


@lru_cache(maxsize=64)
def _temporaries(folder: str, hour: int) -> dict[str, tuple[str, ...]]:
    """The temporary files of ours in a folder, by the (shortened) name of the file they were for."""
    temporaries: dict[str, tuple[str, ...]] = {}
    with contextlib.suppress(OSError):
        for name in os.listdir(folder):
            match = re.fullmatch(_TEMPORARY, name)
            if match is not None:
                path = os.path.join(folder, name)
                temporaries[match["name"]] = (*temporaries.get(match["name"], ()), path)
    return temporaries
