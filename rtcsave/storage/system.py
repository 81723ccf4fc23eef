"""What differs between systems: each call that one of them lacks has its fallback here."""

from __future__ import annotations

import contextlib
import errno
import os
import sys
import time
from collections.abc import Callable
from typing import Final, TypeVar

from rtcsave.errors import FileMissing, RtcSaveError, SystemFailed

_T = TypeVar("_T")

TRIES: Final = 8
FIRST_PAUSE_S: Final = 0.02
"""A file held open is tried again for about two and a half seconds, with doubling pauses: long
enough for a virus scanner or an emulator's flush to let go, short enough to wait for."""

_HELD_OPEN: Final = (32, 33)
"""Windows' numbers for a sharing and a lock violation (Microsoft, System Error Codes)."""

_LONGEST_NAME: Final = 255
"""What most disks allow for one name (POSIX.1, NAME_MAX, as Linux has it; NTFS the same)."""

_REASONS: Final = {
    errno.ENOENT: "there is no such file",
    errno.EACCES: "no permission",
    errno.EPERM: "no permission",
    errno.ENOSPC: "the disk is full",
    errno.EDQUOT: "the disk quota is used up",
    errno.EROFS: "the disk is read-only",
    errno.ENAMETOOLONG: "the name is too long for this system",
    errno.EIO: "the disk failed",
    errno.ENOTDIR: "a file stands where a folder is needed",
    errno.EPIPE: "nobody reads it any more",
    errno.ELOOP: "the links go in a circle",
    errno.EFBIG: "the file would be larger than this system allows",
}


def system_failed(error: OSError, doing: str, path: str, remedy: str = "") -> SystemFailed:
    """The error that says in plain words what the system would not do."""
    reason = _REASONS.get(error.errno or 0, error.strerror or type(error).__name__)
    if getattr(error, "winerror", None) in _HELD_OPEN:
        reason = "another program holds it open"
    elif sys.platform == "win32" and error.errno == errno.EACCES:
        reason = "no permission, or another program holds it open"
    kind = FileMissing if isinstance(error, FileNotFoundError) else SystemFailed
    failed = kind(f"{doing}: {reason}", where=path, remedy=remedy or _remedy_for(error.errno or 0))
    failed.errno = error.errno
    failed.filename = path or None
    for note in getattr(error, "__notes__", ()):
        failed.remedy += f"; {note}"
    return failed


class dressing_errors:  # noqa: N801  # it reads as a call
    """Make of what the system will not do an error of ours."""

    __slots__ = ("doing", "path")

    def __init__(self, doing: str, path: str) -> None:
        self.doing: str = doing
        self.path: str = path

    def __enter__(self) -> None:
        return None

    def __exit__(self, kind: object, error: BaseException | None, trace: object) -> None:
        if isinstance(error, OSError) and not isinstance(error, RtcSaveError):
            raise system_failed(error, self.doing, self.path) from error


def _remedy_for(number: int) -> str:
    if number == errno.ENOENT:
        return "check the path"
    if number in (errno.EACCES, errno.EPERM, errno.EROFS):
        return "nothing was changed; check who owns it, or write to another folder"
    if number == errno.ENAMETOOLONG:
        return "nothing was changed; shorten the name, or do without a backup"
    if number in (errno.ENOSPC, errno.EDQUOT):
        return "nothing was changed; delete other files, or write to another disk"
    return "nothing was changed"


def config_folder() -> str:
    """Where this platform keeps what a user has set up for applications.

    Windows: APPDATA; macOS: Application Support; elsewhere: the XDG base directory. Written out here
    because every start of the command asks for it, and a library for it doubles what that costs.
    """
    home = os.path.expanduser("~")
    platform: str = sys.platform  # a plain text, so that every branch is checked on every system
    if platform == "win32":
        return os.environ.get("APPDATA") or os.path.join(home, "AppData", "Roaming")
    if platform == "darwin":
        return os.path.join(home, "Library", "Application Support")
    return os.environ.get("XDG_CONFIG_HOME") or os.path.join(home, ".config")


def _patiently(call: Callable[[], _T], held_open: Callable[[PermissionError], bool]) -> _T:
    """Make a call again and again while another program holds the file open, for a short while."""
    pause_s = FIRST_PAUSE_S
    for left in reversed(range(TRIES)):
        try:
            return call()
        except PermissionError as error:
            if not left or not held_open(error):
                raise
        time.sleep(pause_s)
        pause_s *= 2
    raise AssertionError("the last try returns or raises")


def _perhaps_held(error: PermissionError) -> bool:
    """Whether a refusal may be another program's hold: Windows says so only in some calls."""
    return sys.platform == "win32" or getattr(error, "winerror", None) in _HELD_OPEN


def name_too_long(path: str) -> bool:
    """Whether the last part of a path is longer than its disk allows."""
    folder, name = os.path.split(path)
    ask = getattr(os, "pathconf", None)
    if ask is None:  # Windows, which counts UTF-16
        return len(name.encode("utf-16-le", "surrogatepass")) // 2 > _LONGEST_NAME
    most = _LONGEST_NAME
    with contextlib.suppress(OSError, ValueError):
        most = ask(folder or ".", "PC_NAME_MAX")
    return len(os.fsencode(name)) > most


QUICK_FLAGS: Final = (
    os.O_RDONLY
    | getattr(os, "O_BINARY", 0)
    | getattr(os, "O_NONBLOCK", 0)
    | getattr(os, "O_CLOEXEC", 0)
)
"""To open a file for reading without waiting: a pipe without a writer opens at once."""


def open_for_reading(path: str) -> int:
    """A descriptor for reading that never waits."""
    try:
        return os.open(path, QUICK_FLAGS)
    except PermissionError:  # another program may hold it for a moment
        return _patiently(lambda: os.open(path, QUICK_FLAGS), _perhaps_held)


def _read_at(descriptor: int, size: int, offset: int) -> bytes:
    os.lseek(descriptor, offset, os.SEEK_SET)
    return os.read(descriptor, size)


read_at: Final[Callable[[int, int, int], bytes]] = getattr(os, "pread", _read_at)
"""So many bytes of an open file from an offset on, fewer at its end (Windows has no `pread`)."""


def sync_file(descriptor: int) -> None:
    """Have the system put a file's bytes on the disk itself."""
    if sys.platform == "darwin":
        import fcntl

        with contextlib.suppress(OSError):  # some network disks know only fsync
            fcntl.fcntl(descriptor, fcntl.F_FULLFSYNC)
            return
    os.fsync(descriptor)


def sync_folder(folder: str) -> None:
    """Have the system put a folder's entries on the disk, where it can; elsewhere do nothing.

    Windows opens no folders, and some network disks refuse to sync one: the file itself is synced
    by then, so what remains is the system's own care.
    """
    with contextlib.suppress(OSError):
        descriptor = os.open(folder, os.O_RDONLY | getattr(os, "O_DIRECTORY", 0))
        try:
            os.fsync(descriptor)
        finally:
            os.close(descriptor)


def real_path(path: str) -> str:
    """The path of the file that a path leads to, links followed; of a new file, where it would be.

    A link that cannot be read is an error of the system, and never taken for a plain file.
    """
    with dressing_errors("the path cannot be followed", path):
        try:
            return os.path.realpath(path, strict=True)
        except FileNotFoundError:  # a new file, or a link to one
            return os.path.realpath(path)


def move_new(source: str, target: str) -> None:
    """Give a file a name that is free; `FileExistsError` if it is not, and nothing is changed.

    A second name for the same file is made in one step where the disk knows such, and the first
    one is left for its owner to remove; on others (memory cards) the file is renamed after a look.
    """
    platform: str = sys.platform
    if platform == "win32":  # refuses a name that is taken
        _patiently(lambda: os.rename(source, target), _perhaps_held)
        return
    try:
        os.link(source, target)
    except FileExistsError:
        raise
    except OSError:
        if os.path.lexists(target):
            raise FileExistsError(errno.EEXIST, os.strerror(errno.EEXIST), target) from None
        os.rename(source, target)


def replace(source: str, target: str, look: Callable[[], None]) -> None:
    """Put `source` in the place of `target` in one step; a target held open is tried again.

    Before every try `look` raises if the target is no longer what is to be replaced: whoever held
    it open may have written it. Systems that lock open files answer with a permission error.
    """

    def once() -> None:
        look()
        os.replace(source, target)

    try:
        _patiently(once, lambda error: not isinstance(error, RtcSaveError))
    except PermissionError as error:
        if isinstance(error, RtcSaveError):
            raise
        raise SystemFailed(
            "the file cannot be replaced: another program holds it open, or the folder lets nobody "
            "replace files",
            where=target,
            remedy="nothing was changed; close the other program and try again",
        ) from error
