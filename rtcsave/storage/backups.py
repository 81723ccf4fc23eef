"""The backups beside a file: finding them, and putting one back."""

from __future__ import annotations

import os
import re
from dataclasses import dataclass

from rtcsave.errors import BadArgument, WorldFailed
from rtcsave.storage.reading import path_text, read_bytes
from rtcsave.storage.system import world_failed
from rtcsave.storage.writing import Written, beside, look_before, put_keeping

_TAIL = re.compile(r"\.(?P<instant>\d{8}T\d{6}Z)(?:-(?P<number>\d+))?(?P<undone>\.undone)?\.bak")


@dataclass(frozen=True, slots=True, kw_only=True)
class Backup:
    """A backup of a file: its path, the instant in its name (UTC), and the number behind that.

    `undone` marks the copy that `restore` made of what it replaced.
    """

    path: str
    instant: str
    number: int
    undone: bool

    @property
    def name(self) -> str:
        """The file's name, without its folder."""
        return os.path.basename(self.path)


def backups(path: str | os.PathLike[str]) -> tuple[Backup, ...]:
    """The backups beside a file, newest first by the instant in the name, then by the number."""
    target = os.path.realpath(path_text(path))
    folder, name = os.path.split(target)
    try:
        names = os.listdir(folder)
    except OSError as error:
        raise world_failed(error, "the folder cannot be read", folder) from error
    found = []
    for one in names:
        tail = _TAIL.fullmatch(one[len(name) :]) if one.startswith(name) else None
        if tail is not None and os.path.isfile(os.path.join(folder, one)):
            found.append(
                Backup(
                    path=os.path.join(folder, one),
                    instant=tail["instant"],
                    number=int(tail["number"] or 1),
                    undone=tail["undone"] is not None,
                )
            )
    return tuple(sorted(found, key=lambda one: (one.instant, one.number, one.name), reverse=True))


def choose(path: str | os.PathLike[str], pick: str | None = None) -> Backup:
    """The backup to put back: the newest that `restore` did not make itself, or the one picked."""
    text = path_text(path)
    known = backups(text)
    if pick is not None:
        wanted = os.path.basename(path_text(pick))
        for one in known:
            if one.name == wanted:
                return one
        raise BadArgument(
            "there is no backup of that name",
            where=text,
            found=repr(pick),
            expected=", ".join(one.name for one in known) or "none: there are no backups",
            remedy="'restore --list' names them",
        )
    for one in known:
        if not one.undone:
            return one
    raise WorldFailed(
        "there is no backup beside the file",
        where=text,
        expected=f"{os.path.basename(text)}.<instant>.bak",
        remedy="nothing was changed; was it written with --no-backup, or moved?",
    )


def restore(
    path: str | os.PathLike[str], pick: str | None = None, backup: bool = True
) -> Written | None:
    """Put a backup back in the place of a file; None if the file holds those bytes already.

    The newest is taken by the instant in its name, then the number behind it, or the one whose
    name is `pick`. What is replaced is first copied to `NAME.<instant>.undone.bak` (the `backup`
    of what is returned), which `restore` never picks by itself. The file's time is the backup's.
    """
    text = path_text(path)
    chosen = choose(text, pick)
    data, status = read_bytes(chosen.path)
    present = look_before(text, overwrite=True, backup=backup)
    if present is not None and present.data == data:
        return None
    made = put_keeping(
        data,
        os.path.realpath(text),
        present,
        backup=backup,
        kind=".undone",
        times_ns=(status.st_atime_ns, status.st_mtime_ns),
    )
    return Written(path=text, backup=beside(text, made))
