"""The backups beside a file: finding them, and removing those that are too many."""

from __future__ import annotations

import os
import re
import stat
from dataclasses import dataclass

from rtcsave.errors import BadArgument, shown
from rtcsave.storage.names import BACKUP_TAIL
from rtcsave.storage.reading import path_text
from rtcsave.storage.system import dressing_errors, real_path

_first_backups: dict[str, str] = {}
"""The backup that this process made first of a file since it read it, by the real path of the file."""


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
    backups_found = []
    for other in names:
        tail = re.fullmatch(BACKUP_TAIL, other[len(name) :]) if other.startswith(name) else None
        if tail is not None and _is_file(os.path.join(folder, other)):
            backups_found.append(
                Backup(
                    path=os.path.join(folder, other),
                    instant=tail["instant"],
                    number=int(tail["number"] or 1),
                    replaced=tail["replaced"] is not None,
                )
            )
    return tuple(sorted(backups_found, key=lambda b: (b.instant, b.number, b.name), reverse=True))


def _is_file(path: str) -> bool:
    """Whether a regular file is there; an error of the system is one."""
    with dressing_errors("the backup cannot be looked at", path):
        try:
            return stat.S_ISREG(os.stat(path).st_mode)
        except FileNotFoundError:  # gone meanwhile, or a link to nowhere
            return False


def check_keep(keep: object, backup: bool) -> None:
    """Raise `BadArgument` for a number of backups that cannot be kept."""
    if keep is None:
        return
    if type(keep) is not int or keep < 1:
        raise BadArgument(
            "`keep` is how many backups stay: a whole number, 1 or more",
            found=shown(keep),
            remedy="to make none, say `backup=False`",
        )
    if not backup:
        raise BadArgument("`keep` says how many backups stay, and `backup=False` makes none")


def free_number(target: str, instant: str, list_them: bool) -> int:
    """The number that a backup of that instant may begin to look for a free name with.

    Where old backups are removed, a free name may be an old one: the number is then past all that stand.
    """
    if not list_them:
        return 1
    return 1 + max((b.number for b in backups(target) if b.instant == instant), default=0)


def made_backup(target: str, backup: str, is_first: bool) -> None:
    """Remember the backup that was made first since a file was read: no later write removes it."""
    if is_first or target not in _first_backups:
        _first_backups[target] = backup


def remove_old_backups(target: str, keep: int, made: str) -> list[str]:
    """Keep the newest backups of a file, among them the one just made, and the first since it was read.

    Copies that `restore` made are neither counted nor removed. Gives those that could not be removed.
    """
    paths = [backup.path for backup in backups(target) if not backup.replaced]
    kept = [made, *(path for path in paths if path != made)][:keep]
    left = []
    for path in paths:
        if path not in kept and path != _first_backups.get(target):
            try:
                os.unlink(path)
            except FileNotFoundError:
                continue
            except OSError:
                left.append(path)
    return left
