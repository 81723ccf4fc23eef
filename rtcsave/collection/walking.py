"""The files in folders: each once, ours and hidden ones passed over, links only where that is wanted."""

from __future__ import annotations

import fnmatch
import os
from collections.abc import Callable, Iterable, Iterator

from rtcsave.storage.names import is_ours

Refused = Callable[[str, OSError], None]
"""What is called with a folder or a link that cannot be read, and the system's error."""


def walk(
    paths: Iterable[str],
    on_refused: Refused,
    *,
    follow: bool = False,
    pattern: str | None = None,
    ordered: bool = False,
) -> Iterator[str]:
    """The files that some paths mean: a file is itself, a folder all regular files in it, at any depth.

    Our own backups and temporary files, and names that begin with a dot, are passed over in folders; so
    are symbolic links, unless `follow`, which goes into a folder once. `pattern` (`*.sav`) is for the
    names in folders. `ordered` sorts the names of each folder; else they come as the system gives them.
    """
    seen: set[tuple[int, int]] = set()
    for path in paths:
        if not os.path.isdir(path):
            yield path
            continue
        folders = [path]
        while folders:
            folder = folders.pop()
            try:
                if follow and not _is_new(folder, seen):
                    continue
                with os.scandir(folder) as entries:
                    listed = sorted(entries, key=lambda entry: entry.name) if ordered else entries
                    deeper = []
                    for entry in listed:
                        name = entry.name
                        if name[0] == ".":
                            continue
                        try:
                            is_file = entry.is_file(follow_symlinks=follow)
                            is_folder = not is_file and entry.is_dir(follow_symlinks=follow)
                        except OSError as error:  # links that go in a circle
                            on_refused(entry.path, error)
                            continue
                        if is_file:
                            if name.endswith(".bak") and is_ours(name):
                                continue
                            if pattern is None or fnmatch.fnmatch(name, pattern):
                                yield entry.path
                        elif is_folder:
                            deeper.append(entry.path)
                    folders += reversed(deeper)
            except OSError as error:
                on_refused(folder, error)


def _is_new(folder: str, seen: set[tuple[int, int]]) -> bool:
    """Whether a folder was not walked before: links may lead round in a circle."""
    status = os.stat(folder)
    key = (status.st_dev, status.st_ino)
    if key in seen:
        return False
    seen.add(key)
    return True
