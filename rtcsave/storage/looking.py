"""The file at the place to write to: looked at before anything is done."""

from __future__ import annotations

import errno
import os
import time
from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

from rtcsave.errors import (
    ChangedUnderneath,
    FileMissing,
    NotARegularFile,
    SystemFailed,
    WouldOverwrite,
)
from rtcsave.savefile import Origin
from rtcsave.storage.attributes import what_is_lost
from rtcsave.storage.names import backup_name
from rtcsave.storage.reading import digest_of, path_text, read_bytes, refuse_irregular
from rtcsave.storage.system import name_too_long, real_path, system_failed
from rtcsave.units import LARGEST_FILE_BYTES
from rtcsave.when import compact_utc, present_s

LARGEST_REPLACED_BYTES: Final = 64 * LARGEST_FILE_BYTES
"""What a file that is replaced may hold: it is read whole, to be compared and backed up."""

NOT_WRITTEN: Final = "the file cannot be written"

RECENT_S: Final = 2.0
LOOK_EVERY_S: Final = 0.1
"""A file that was modified within the last two seconds may still be being written: it is looked at
every 100 ms until it has stayed as it is for as long, two seconds at most."""

_MOST_REMEMBERED: Final = 4_096
_written_here: dict[str, str] = {}
"""What this process wrote last: the digest by the real path, for the message of a second write."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Present:
    """The file that is to be replaced, as it was seen before anything was done.

    `lost` says in words what the file that takes its place cannot keep of it.
    """

    data: bytes
    status: os.stat_result
    lost: tuple[str, ...] = ()


def wait_until_quiet(path: str, say: Callable[[str], None] | None = None) -> None:
    """Wait while another program seems to be writing a file, two seconds at most.

    For a command that reads a file in order to write it; `say` is told that it waits. A program that
    pauses for two seconds or longer while it writes is not noticed here.
    """
    end = time.monotonic() + RECENT_S
    while time.monotonic() < end:
        try:
            modified = os.stat(path).st_mtime
        except OSError:  # reading it says why
            return
        if not 0 <= time.time() - modified < RECENT_S:
            return
        if say is not None:
            say(f"{path}: it was written just now; waiting until it stays as it is")
            say = None
        time.sleep(LOOK_EVERY_S)


def look_before(
    path: str | os.PathLike[str],
    origin: Origin | None = None,
    overwrite: bool = False,
    backup: bool = True,
    data: bytes | None = None,
) -> Present | None:
    """Look at the file at the place to write to; None if there is none.

    Raises what `dump` would raise for it, and changes nothing: a dry run asks this too. `data` is
    what is to be written: a file that holds just that is no other file, since nothing is lost.
    """
    text = path_text(path)
    target = real_path(text)
    ours = origin is not None and real_path(origin.path) == target
    try:
        status = os.stat(target)
    except FileNotFoundError:
        if ours:
            raise changed(text, "it is gone", _GONE) from None
        _refuse_folder(text, os.path.dirname(target))
        return None
    except OSError as error:
        raise system_failed(error, NOT_WRITTEN, text) from error
    _refuse_no_file(status, text)
    same = not ours and data is not None and read_bytes(target, LARGEST_REPLACED_BYTES)[0] == data
    if not ours and not overwrite and not same:
        raise WouldOverwrite(
            "another file stands there",
            where=text,
            remedy="choose another name, or say that it may be replaced (`overwrite`)",
        )
    _refuse_unwritable(text, target, backup)
    present, status = read_bytes(target, LARGEST_REPLACED_BYTES)
    if ours and origin is not None:
        _refuse_changed(text, target, digest_of(present), origin)
    return Present(data=present, status=status, lost=what_is_lost(target, status))


def _refuse_changed(path: str, target: str, digest: str, origin: Origin) -> None:
    """Raise `ChangedUnderneath` if a file is not the one that was read."""
    if digest == origin.digest:
        return
    if _written_here.get(target) == digest:
        raise changed(path, "the bytes that this process wrote", _DUMPED_TWICE)
    raise changed(path, "other bytes")


_GONE: Final = "nothing was written; write the save under another name"
_DUMPED_TWICE: Final = (
    "nothing was written; go on from the save that the first write gave back (Written.save)"
)


def _refuse_no_file(status: os.stat_result, path: str) -> None:
    """Raise `NotARegularFile` for what nothing can be written over."""
    try:
        refuse_irregular(status, path)
    except NotARegularFile as error:
        error.expected, error.remedy = "a file", "name a file to write"
        raise


def remember(target: str, digest: str) -> None:
    """Remember what this process wrote to a file."""
    _written_here.pop(target, None)
    _written_here[target] = digest
    if len(_written_here) > _MOST_REMEMBERED:
        del _written_here[next(iter(_written_here))]


def wrote_here(target: str, data: bytes) -> bool:
    """Whether these bytes are what this process wrote to a file last."""
    return _written_here.get(target) == digest_of(data)


def _refuse_unwritable(path: str, target: str, backup: bool) -> None:
    """Raise `SystemFailed` if a file cannot be replaced, or no backup of it can be made."""
    if not os.access(target, os.W_OK):
        raise SystemFailed(
            f"{NOT_WRITTEN}: it is read-only",
            where=path,
            remedy="nothing was changed; allow writing to it, or write to another place",
        )
    _refuse_folder(path, os.path.dirname(target))
    if backup and name_too_long(backup_name(target, compact_utc(present_s()))):
        raise system_failed(
            OSError(errno.ENAMETOOLONG, os.strerror(errno.ENAMETOOLONG)),
            "no backup can be made beside the file",
            path,
        )


def _refuse_folder(path: str, folder: str) -> None:
    """Raise `SystemFailed` if nothing can be written into a folder."""
    if not os.path.isdir(folder):
        missing = FileMissing(
            f"{NOT_WRITTEN}: there is no such folder",
            where=path,
            found=folder,
            remedy="make it first, or choose another",
        )
        missing.errno, missing.filename = errno.ENOENT, path
        raise missing
    if not os.access(folder, os.W_OK):
        raise SystemFailed(
            f"{NOT_WRITTEN}: no permission in its folder",
            where=path,
            remedy="nothing was changed; write to another folder",
        )


def changed(
    path: str,
    found: str,
    remedy: str = "nothing was written; close the other program and read the file again",
) -> ChangedUnderneath:
    """The error for a file that is no longer the one that was read."""
    return ChangedUnderneath(
        "the file has changed since it was read",
        where=path,
        found=found,
        expected="the bytes that were read",
        remedy=remedy,
    )
