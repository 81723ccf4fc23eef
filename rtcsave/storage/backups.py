"""The backups beside a file: finding them, and putting one back."""

from __future__ import annotations

import os
import stat
from dataclasses import dataclass

from rtcsave.errors import BadArgument, NoBackup, number_of
from rtcsave.storage.looking import LARGEST_REPLACED_BYTES
from rtcsave.storage.names import BACKUP_TAIL
from rtcsave.storage.reading import path_text, read_bytes
from rtcsave.storage.system import dressing_errors, real_path
from rtcsave.storage.writing import Change, Written, present_bytes, write_together


@dataclass(frozen=True, slots=True, kw_only=True)
class Backup:
    """A backup of a file: its path, the instant in its name (UTC), and the number after that.

    `replaced` marks the copy that `restore` made of what it replaced.
    """

    path: str
    """Its path."""
    instant: str
    """The instant in its name, in UTC: `20260310T141500Z`."""
    number: int
    """The number after the instant, 1 for none."""
    replaced: bool

    @property
    def name(self) -> str:
        """The file's name, without its folder."""
        return os.path.basename(self.path)


def backups(path: str | os.PathLike[str]) -> tuple[Backup, ...]:
    """The backups beside a file, newest first by the instant in the name, then by the number.

    `SystemFailed` where the folder or one of them cannot be looked at: an older one is never taken
    because a newer one could not be seen.
    """
    target = real_path(path_text(path))
    folder, name = os.path.split(target)
    with dressing_errors("the folder cannot be read", folder):
        names = os.listdir(folder)
    found = []
    for other in names:
        tail = BACKUP_TAIL.fullmatch(other[len(name) :]) if other.startswith(name) else None
        if tail is not None and _is_file(os.path.join(folder, other)):
            found.append(
                Backup(
                    path=os.path.join(folder, other),
                    instant=tail["instant"],
                    number=int(tail["number"] or 1),
                    replaced=tail["replaced"] is not None,
                )
            )
    return tuple(sorted(found, key=lambda b: (b.instant, b.number, b.name), reverse=True))


def _is_file(path: str) -> bool:
    """Whether a regular file is there; an error of the system is one."""
    with dressing_errors("the backup cannot be looked at", path):
        try:
            return stat.S_ISREG(os.stat(path).st_mode)
        except FileNotFoundError:  # gone meanwhile, or a link to nowhere
            return False


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
        "the file equals its oldest backup",
        where=text,
        found=f"{number_of(len(made), 'backup')}, none older with other bytes",
        remedy="nothing was changed; pick a backup by its name",
    )


def restore(
    path: str | os.PathLike[str], pick: str | None = None, *, backup: bool = True
) -> Written | None:
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
    change = Change(
        data=data,
        path=text,
        backup=backup,
        overwrite=True,
        times_ns=(status.st_atime_ns, status.st_mtime_ns),
        kind=".replaced",
        like=status,
    )
    (written,) = write_together((change,))
    return written if written.changed else None
