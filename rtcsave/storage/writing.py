"""Writing a file so that at every moment the old one or the new one is there whole."""

from __future__ import annotations

import contextlib
import errno
import os
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

from rtcsave.errors import ChangedUnderneath, RtcSaveError, WorldFailed, WouldOverwrite
from rtcsave.savefile import Origin, SaveFile, dumps
from rtcsave.storage.reading import digest_of, path_text, read_bytes, refuse_irregular
from rtcsave.storage.system import (
    dressing_errors,
    keep_mode,
    move_new,
    name_too_long,
    replace,
    sync_file,
    sync_folder,
    world_failed,
)
from rtcsave.units import LARGEST_FILE_BYTES
from rtcsave.when import compact_utc, present_s, unix_seconds

LARGEST_REPLACED_BYTES: Final = 64 * LARGEST_FILE_BYTES
"""What a file that is replaced may hold: it is read whole, to be compared and backed up."""

_NOT_WRITTEN: Final = "the file cannot be written"
_NEW_FILE: Final = os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Written:
    """What a write did: the path written, and the path of the backup, None where none was made."""

    path: str
    backup: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Present:
    """The file that is to be replaced, as it was seen before anything was done."""

    data: bytes
    status: os.stat_result


def dump(
    save: SaveFile, path: str | os.PathLike[str], backup: bool = True, overwrite: bool = False
) -> Written:
    """Write a save to a file: beside it first, synced, then put in its place in one step.

    Back to the path that the save was loaded from, the file is compared with what was read, and
    `ChangedUnderneath` raised if it differs; another file that exists raises `WouldOverwrite`
    unless `overwrite`. What is replaced is first copied beside it, under a name with the instant
    in it, unless `backup` is False. `WorldFailed` where the system will not; nothing is changed
    then. A symbolic link stays one: its target is written.

    Afterwards the file is another than the one that was read: load it again before the next dump.
    A save whose stamp says nothing keeps the time of the file it was read from: that may be the
    only record of when it was written.

    Between the last comparison and the replacement there remains an instant in which another
    program's write would be lost; it is in the backup only if that was made after it.
    """
    data = dumps(save)
    return write(
        data,
        path,
        origin=save.origin,
        backup=backup,
        overwrite=overwrite,
        file_time_s=time_to_keep(save),
    )


def time_to_keep(save: SaveFile) -> int | None:
    """The file time, in Unix seconds, that a save keeps when it is written; None for the usual.

    A clock whose stamp is no use leaves the file's own time as the only trace of when it was saved.
    """
    block, origin = save.block, save.origin
    if block is None or origin is None:
        return None
    if block.usable_unix_s is not None:
        return None
    return unix_seconds(origin.modified_at)


def write(
    data: bytes,
    path: str | os.PathLike[str],
    *,
    origin: Origin | None = None,
    backup: bool = True,
    overwrite: bool = False,
    file_time_s: int | None = None,
) -> Written:
    """Write bytes to a file as `dump` does; `origin` says what the file held when it was read.

    `file_time_s` is the time to give the file, in Unix seconds (None: that of writing).
    """
    text = path_text(path)
    present = look_before(text, origin, overwrite, backup)
    times_ns = None if file_time_s is None else (file_time_s * 10**9, file_time_s * 10**9)
    target = os.path.realpath(text)
    made = put_keeping(data, target, present, backup=backup, times_ns=times_ns)
    return Written(path=text, backup=beside(text, made))


def beside(path: str, made: str | None) -> str | None:
    """The path of a backup in the words of the caller: relative where the file's path was."""
    if made is None:
        return None
    folder, name = os.path.split(made)
    typed = os.path.dirname(path)
    return os.path.join(typed, name) if os.path.realpath(typed) == folder else made


def put_keeping(
    data: bytes,
    target: str,
    present: Present | None,
    *,
    backup: bool,
    kind: str = "",
    times_ns: tuple[int, int] | None = None,
) -> str | None:
    """Put bytes in the place of a file after a backup of it, whose path is returned.

    When the write fails the backup goes again, unless it holds what is nowhere else by then.
    """
    made: str | None = None
    try:
        if backup and present is not None:
            made = _make_backup(target, present, kind)
        _put(data, target, present, times_ns)
    except BaseException as error:
        if made is not None and present is not None:
            if _holds(target, present.data):
                with contextlib.suppress(OSError):
                    os.unlink(made)
            elif isinstance(error, RtcSaveError):
                error.remedy += f"; the backup {made} holds what was read and stays"
        raise
    return made


def look_before(
    path: str | os.PathLike[str],
    origin: Origin | None = None,
    overwrite: bool = False,
    backup: bool = True,
) -> Present | None:
    """See what stands where something is to be written; None for nothing.

    Raises what `dump` would raise for it, and changes nothing: a dry run asks this too.
    """
    text = path_text(path)
    target = os.path.realpath(text)
    ours = origin is not None and os.path.realpath(origin.path) == target
    try:
        status = os.stat(target)
    except FileNotFoundError:
        if ours:
            raise _changed(text, "it is gone") from None
        _refuse_folder(text, os.path.dirname(target))
        return None
    except OSError as error:
        raise world_failed(error, _NOT_WRITTEN, text) from error
    refuse_irregular(status, text)
    if not ours and not overwrite:
        raise WouldOverwrite(
            "another file stands there",
            where=text,
            remedy="choose another name, or say so with overwrite=True or --overwrite",
        )
    if not os.access(target, os.W_OK):
        raise WorldFailed(
            f"{_NOT_WRITTEN}: it is read-only",
            where=text,
            remedy="nothing was changed; allow writing to it, or write elsewhere with -o",
        )
    _refuse_folder(text, os.path.dirname(target))
    if backup and name_too_long(_backup_name(target, compact_utc(present_s()))):
        raise world_failed(
            OSError(errno.ENAMETOOLONG, os.strerror(errno.ENAMETOOLONG)),
            "no backup can be made beside the file",
            text,
        )
    data, status = read_bytes(target, LARGEST_REPLACED_BYTES)
    if ours and origin is not None and digest_of(data) != origin.digest:
        raise _changed(text, "other bytes")
    return Present(data=data, status=status)


def _refuse_folder(path: str, folder: str) -> None:
    """Raise `WorldFailed` if nothing can be written into a folder."""
    if not os.path.isdir(folder):
        raise WorldFailed(
            f"{_NOT_WRITTEN}: there is no such folder",
            where=path,
            found=folder,
            remedy="make it first, or choose another",
        )
    if not os.access(folder, os.W_OK):
        raise WorldFailed(
            f"{_NOT_WRITTEN}: no permission in its folder",
            where=path,
            remedy="nothing was changed; write elsewhere with -o",
        )


def _changed(path: str, found: str) -> ChangedUnderneath:
    return ChangedUnderneath(
        "the file has changed since it was read",
        where=path,
        found=found,
        expected="the bytes that were read",
        remedy="nothing was written; close the other program and read the file again",
    )


def _holds(path: str, data: bytes) -> bool:
    try:
        return read_bytes(path, LARGEST_REPLACED_BYTES)[0] == data
    except RtcSaveError:
        return False


def _put(
    data: bytes, target: str, present: Present | None, times_ns: tuple[int, int] | None
) -> None:
    """Put bytes in the place of a file that holds `present` (None: there is none) in one step."""
    folder, name = os.path.split(target)
    with (
        dressing_errors(_NOT_WRITTEN, target),
        _temporary(folder, name, data, present) as temporary,
    ):
        if times_ns is not None:
            os.utime(temporary, ns=times_ns)
        if present is None:
            try:
                move_new(temporary, target)
            except FileExistsError:
                raise _changed(target, "a file that was not there") from None
        else:
            replace(temporary, target, lambda: _look_again(target, present))
    sync_folder(folder)


def _look_again(target: str, present: Present) -> None:
    if not _holds(target, present.data):
        raise _changed(target, "other bytes")


@contextlib.contextmanager
def _temporary(folder: str, name: str, data: bytes, like: Present | None) -> Iterator[str]:
    """A new file with these bytes beside the target, synced; gone afterwards whatever happens."""
    temporary = os.path.join(folder, f".{name[:40]}.{os.urandom(4).hex()}.tmp")
    try:
        descriptor = os.open(temporary, _NEW_FILE, 0o666 if like is None else 0o600)
        try:
            _fill(descriptor, data)
        finally:
            os.close(descriptor)
        if like is not None:
            keep_mode(temporary, like.status)
        yield temporary
    finally:
        with contextlib.suppress(OSError):
            os.unlink(temporary)


def _fill(descriptor: int, data: bytes) -> None:
    rest = memoryview(data)
    while rest:
        rest = rest[os.write(descriptor, rest) :]
    sync_file(descriptor)


def _backup_name(target: str, instant: str, kind: str = "", number: int = 1) -> str:
    counted = f"-{number}" if number > 1 else ""
    return f"{target}.{instant}{counted}{kind}.bak"


def _make_backup(target: str, present: Present, kind: str) -> str:
    """Copy what is about to be replaced beside it: NAME.20260310T141500Z.bak, mode and times too.

    A name that is taken gets a number behind it; none is ever overwritten. Only a whole backup
    ever bears such a name.
    """
    instant = compact_utc(present_s())
    folder, name = os.path.split(target)
    status = present.status
    with (
        dressing_errors("no backup can be made beside the file", target),
        _temporary(folder, name, present.data, present) as temporary,
    ):
        os.utime(temporary, ns=(status.st_atime_ns, status.st_mtime_ns))
        number = 1
        while True:
            path = _backup_name(target, instant, kind, number)
            try:
                move_new(temporary, path)
                break
            except FileExistsError:
                number += 1
    sync_folder(folder)
    return path
