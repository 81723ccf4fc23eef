"""Putting a backup back in the place of its file."""

from __future__ import annotations

import os

from rtcsave.errors import BadArgument, NoBackup, number_of
from rtcsave.savefile import Origin
from rtcsave.storage.beside import Backup, backups
from rtcsave.storage.changes import Change, FileWritten
from rtcsave.storage.looking import LARGEST_REPLACED_BYTES
from rtcsave.storage.reading import path_text, read_bytes
from rtcsave.storage.writing import present_bytes, write_together


def read_backup(backup: Backup) -> tuple[bytes, os.stat_result]:
    """The bytes and the status of a backup, which may be larger than a save."""
    return read_bytes(backup.path, LARGEST_REPLACED_BYTES)


def _picked(path: str, known: tuple[Backup, ...], pick: str) -> Backup:
    """The backup of a name; `BadArgument` if there is none."""
    wanted = os.path.basename(path_text(pick))
    for backup in known:
        if backup.name == wanted:
            return backup
    raise BadArgument(
        "there is no backup of that name",
        where=path,
        found=repr(pick),
        expected=", ".join(backup.name for backup in known) or "none: there are no backups",
        remedy="`backups` names them",
    )


def choose(
    path: str | os.PathLike[str], pick: str | None = None, present: bytes | None = None
) -> Backup:
    """The backup to put back in place of a file that holds `present` (None: there is none).

    The one picked by its name; else the newest; else, where the file equals a backup, the next older
    one with other bytes. Copies that `restore` made itself are only ever picked. `NoBackup` where
    there is none, or none that is older.
    """
    text = path_text(path)
    known = backups(text)
    if pick is not None:
        return _picked(text, known, pick)
    made = [backup for backup in known if not backup.replaced]
    if not made:
        raise NoBackup(
            "there is no backup beside the file",
            where=text,
            expected=f"{os.path.basename(text)}.<instant>.bak",
            remedy="nothing was changed; perhaps it was written without a backup, or was moved",
        )
    equal = False
    for backup in made:
        if present is None:
            return backup
        same = read_backup(backup)[0] == present
        if equal and not same:
            return backup
        equal = equal or same
    if not equal:
        return made[0]
    raise NoBackup(
        "the file is its oldest backup already",
        where=text,
        found=f"{number_of(len(made), 'backup')}, none older with other bytes",
        remedy="nothing was changed; to choose another, pick a backup by its name",
    )


def restore(
    path: str | os.PathLike[str], pick: str | None = None, *, backup: bool = True
) -> FileWritten | None:
    """Put a backup back in the place of a file; None if the file holds those bytes already.

    The newest is taken by the instant in its name, then the number after it; where the file equals a
    backup, the next older one with other bytes, so that each call goes one further back; or the one
    whose name is `pick`. What is replaced is first copied to `NAME.<instant>.replaced.bak` (the
    `backup` of what is returned), which `restore` never picks by itself. The file's time is the
    backup's, and so is the mode of a file that is no longer there.
    """
    text = path_text(path)
    chosen = choose(text, pick, present_bytes(text))
    data, status = read_backup(chosen)
    written = put_back(text, data, status, backup=backup)
    return written if written.changed else None


def put_back(
    path: str,
    data: bytes,
    status: os.stat_result,
    *,
    origin: Origin | None = None,
    backup: bool = True,
) -> FileWritten:
    """Write what a backup holds into its file, with the backup's times; `origin` as for `write`."""
    change = Change(
        data=data,
        path=path,
        origin=origin,
        backup=backup,
        overwrite=True,
        times_ns=(status.st_atime_ns, status.st_mtime_ns),
        kind=".replaced",
        like=status,
    )
    return write_together((change,))[0]
