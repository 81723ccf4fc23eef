"""Writing a file so that at every moment the old one or the new one is there whole."""

from __future__ import annotations

import contextlib
import os
import secrets
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

from rtcsave.errors import ChangedUnderneath, RtcSaveError, WorldFailed, WouldOverwrite
from rtcsave.savefile import Origin, SaveFile, dumps
from rtcsave.storage.reading import digest_of, path_text, read_bytes, refuse_irregular
from rtcsave.storage.system import keep_mode, replace, sync_file, sync_folder, world_failed
from rtcsave.when import compact_utc, present_s

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

    Between the last comparison and the replacement there remains an instant in which another
    program's write would be lost; it is in the backup only if that was made after it.
    """
    return write(dumps(save), path, origin=save.origin, backup=backup, overwrite=overwrite)


def write(
    data: bytes,
    path: str | os.PathLike[str],
    *,
    origin: Origin | None = None,
    backup: bool = True,
    overwrite: bool = False,
) -> Written:
    """Write bytes to a file as `dump` does; `origin` says what the file held when it was read."""
    text = path_text(path)
    present = look_before(text, origin, overwrite)
    made = put_keeping(data, os.path.realpath(text), present, backup=backup)
    return Written(path=text, backup=made)


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
    except BaseException:
        if made is not None and present is not None and _holds(target, present.data):
            with contextlib.suppress(OSError):
                os.unlink(made)
        raise
    return made


def look_before(
    path: str | os.PathLike[str], origin: Origin | None = None, overwrite: bool = False
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
    data, status = read_bytes(target)
    if ours and origin is not None and digest_of(data) != origin.digest:
        raise _changed(text, "other bytes")
    return Present(data=data, status=status)


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
        return read_bytes(path)[0] == data
    except RtcSaveError:
        return False


def _put(
    data: bytes, target: str, present: Present | None, times_ns: tuple[int, int] | None
) -> None:
    """Put bytes in the place of a file that holds `present` (None: there is none) in one step."""
    folder, name = os.path.split(target)
    with _temporary(folder, name, 0o666 if present is None else 0o600) as temporary:
        with _writing(target):
            _fill(temporary, data)
            if present is not None:
                keep_mode(temporary, present.status)
            if times_ns is not None:
                os.utime(temporary, ns=times_ns)
        _compare_once_more(target, present)
        with _writing(target):
            replace(temporary, target)
    sync_folder(folder)


def _compare_once_more(target: str, present: Present | None) -> None:
    if present is None:
        if os.path.lexists(target):
            raise _changed(target, "a file that was not there")
    elif not _holds(target, present.data):
        raise _changed(target, "other bytes")


@contextlib.contextmanager
def _writing(path: str) -> Iterator[None]:
    try:
        yield
    except WorldFailed:
        raise
    except OSError as error:
        raise world_failed(error, _NOT_WRITTEN, path) from error


@contextlib.contextmanager
def _temporary(folder: str, name: str, mode: int) -> Iterator[str]:
    """A new file beside the target, gone afterwards whatever happens."""
    temporary = os.path.join(folder, f".{name[:40]}.{secrets.token_hex(4)}.tmp")
    with _writing(os.path.join(folder, name)):
        os.close(os.open(temporary, _NEW_FILE, mode))
    try:
        yield temporary
    finally:
        with contextlib.suppress(OSError):
            os.unlink(temporary)


def _fill(path: str, data: bytes) -> None:
    with open(path, "r+b", buffering=0) as stream:
        rest = memoryview(data)
        while rest:
            rest = rest[stream.write(rest) :]
        sync_file(stream.fileno())


def _make_backup(target: str, present: Present, kind: str) -> str:
    """Copy what is about to be replaced beside it: NAME.20260310T141500Z.bak, mode and times too.

    A name that is taken gets a number behind it; none is ever overwritten.
    """
    instant = compact_utc(present_s())
    number = 1
    status = present.status
    with _backing_up(target):
        while True:
            counted = f"-{number}" if number > 1 else ""
            path = f"{target}.{instant}{counted}{kind}.bak"
            try:
                descriptor = os.open(path, _NEW_FILE, 0o600)
                break
            except FileExistsError:
                number += 1
        os.close(descriptor)
        try:
            _fill(path, present.data)
            keep_mode(path, status)
            os.utime(path, ns=(status.st_atime_ns, status.st_mtime_ns))
            sync_folder(os.path.dirname(path))
        except BaseException:
            with contextlib.suppress(OSError):
                os.unlink(path)
            raise
    return path


@contextlib.contextmanager
def _backing_up(path: str) -> Iterator[None]:
    try:
        yield
    except OSError as error:
        raise world_failed(
            error,
            "no backup can be made beside the file",
            path,
            remedy="nothing was changed; make room or write elsewhere with -o",
        ) from error
