"""What a file has beside its bytes: mode, owner, extended attributes, other names; what can be kept."""

from __future__ import annotations

import contextlib
import os
import stat
import sys
from typing import Final

_OPEN_ATTRIBUTES: Final = ("user.", "system.posix_acl_", "security.selinux")
"""Extended attributes that a file's owner may set, or that the system sets by itself."""


def keep_mode(path: str, like: os.stat_result, source: str | None = None) -> None:
    """Give a file the mode, and where the system lets us the owner, of the one it replaces.

    `source` is the file to copy the extended attributes from, where the system has such.
    """
    if sys.platform != "win32":
        with contextlib.suppress(OSError):  # only the owner of all files may give one away
            os.chown(path, like.st_uid, like.st_gid)
    with contextlib.suppress(OSError, NotImplementedError):  # disks without modes
        os.chmod(path, stat.S_IMODE(like.st_mode))
    read, write = getattr(os, "getxattr", None), getattr(os, "setxattr", None)
    if source is not None and read is not None and write is not None:
        for name in extended_attributes(source):
            with contextlib.suppress(OSError):  # said before, by `what_is_lost`
                write(path, name, read(source, name))


def extended_attributes(path: str) -> list[str]:
    """The names of a file's extended attributes; none where Python knows of none (only Linux)."""
    names: list[str] = []
    ask = getattr(os, "listxattr", None)
    if ask is not None:
        with contextlib.suppress(OSError):
            names = ask(path)
    return names


def what_is_lost(path: str, status: os.stat_result) -> tuple[str, ...]:
    """What a file cannot keep when another is put in its place, in words."""
    lost = []
    if status.st_nlink > 1 and stat.S_ISREG(status.st_mode):
        names = "another name" if status.st_nlink == 2 else f"{status.st_nlink - 1} other names"
        lost.append(f"the file has {names} (hard links), which keep the old bytes")
    if sys.platform != "win32":
        lost += _not_kept(path, status)
    return tuple(lost)


def _not_kept(path: str, status: os.stat_result) -> list[str]:
    """The owner and the attributes that this user may not set, in words."""
    lost: list[str] = []
    if sys.platform != "win32" and os.geteuid() != 0:
        if status.st_uid != os.geteuid():
            lost.append("the file belongs to another user, and will belong to you")
        elif status.st_gid not in (os.getegid(), *os.getgroups()):
            lost.append("the file belongs to another group, and will belong to yours")
        names = extended_attributes(path)
        guarded = [name for name in names if not name.startswith(_OPEN_ATTRIBUTES)]
        if guarded:
            lost.append(f"extended attributes that only the system may set: {', '.join(guarded)}")
    return lost
