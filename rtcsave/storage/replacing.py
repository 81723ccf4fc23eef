"""Putting a file in the place of another in one step, so that neither is ever lost."""

from __future__ import annotations

import contextlib
import os
import sys
from collections.abc import Generator

from rtcsave.errors import RtcSaveError, SystemFailed
from rtcsave.storage.attributes import keep_mode
from rtcsave.storage.looking import LARGEST_REPLACED_BYTES, NOT_WRITTEN, Present, changed
from rtcsave.storage.names import temporary_name
from rtcsave.storage.reading import read_bytes, read_descriptor
from rtcsave.storage.system import (
    dressing_errors,
    move_new,
    open_for_reading,
    replace,
    sync_file,
    sync_folder,
)

_NEW_FILE = os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0)


def put(
    temporary: str, target: str, present: Present | None, left: list[str] | None = None
) -> None:
    """Give a temporary file the name of a file that holds `present` (None: there is none).

    `ChangedUnderneath` where it holds something else by then, or where another program wrote into it
    while it was replaced: that program's file is then put back, since what it wrote is nowhere else,
    while what we wrote can be made again. `left` gets the names of files that could not be removed.
    """
    folder = os.path.dirname(target)
    with dressing_errors(NOT_WRITTEN, target):
        if present is None:
            try:
                move_new(temporary, target)
            except FileExistsError:
                raise changed(target, "a file that was not there") from None
        else:
            old = _Replaced(target, present)
            try:
                replace(temporary, target, old.look)
                old.look_once_more()
            finally:
                name = old.close()
                if name is not None and left is not None:
                    left.append(name)
    sync_folder(folder)


class _Replaced:
    """The file that another takes the place of, held so that it can be seen to change and put back.

    It is held by a descriptor and, where the disk knows such, by a second name. On Windows a file
    that another program holds open cannot be replaced at all, nor one that we hold ourselves: there
    it is only compared.
    """

    def __init__(self, target: str, present: Present) -> None:
        self._target = target
        self._present = present
        self._descriptor: int | None = None
        self._name: str | None = None
        self._status: os.stat_result | None = None

    def look(self) -> None:
        """Hold the file, and raise `ChangedUnderneath` unless it holds what was read."""
        self.close()
        if sys.platform == "win32":
            data = read_bytes(self._target, LARGEST_REPLACED_BYTES)[0]
        else:
            try:
                self._descriptor = open_for_reading(self._target)
            except FileNotFoundError:
                raise changed(self._target, "it is gone") from None
            name = temporary_name(*os.path.split(self._target), old=".old")
            with contextlib.suppress(OSError):  # memory cards know no second name
                os.link(self._target, name)
                self._name = name
            self._status = os.fstat(self._descriptor)
            data = read_descriptor(self._descriptor, LARGEST_REPLACED_BYTES)
        if data != self._present.data:
            raise changed(self._target, "other bytes")

    def look_once_more(self) -> None:
        """Put the old file back if a program that had it open wrote into it meanwhile."""
        if self._descriptor is None or not self._was_written():
            return
        try:
            if self._name is not None:
                os.replace(self._name, self._target)
                self._name = None
            else:
                self._put_copy_back()
        except OSError as error:
            raise SystemFailed(
                f"another program wrote into the file while it was replaced, and its file could not be "
                f"put back ({error.strerror})",
                where=self._target,
                remedy="save it in the other program again, then look at it before anything else",
            ) from error
        sync_folder(os.path.dirname(self._target))
        raise changed(
            self._target,
            "another program wrote into it while it was replaced",
            "that program's file was put back, and nothing of ours is in it; close the program and "
            "try again",
        )

    def _was_written(self) -> bool:
        """Whether the held file has other bytes, another size or another time than before."""
        assert self._descriptor is not None
        assert self._status is not None
        with contextlib.suppress(OSError, RtcSaveError):  # what cannot be seen is not undone
            status = os.fstat(self._descriptor)
            if (status.st_size, status.st_mtime_ns) != (
                self._status.st_size,
                self._status.st_mtime_ns,
            ):
                return True
            return read_descriptor(self._descriptor, LARGEST_REPLACED_BYTES) != self._present.data
        return False

    def _put_copy_back(self) -> None:
        assert self._descriptor is not None
        data = read_descriptor(self._descriptor, LARGEST_REPLACED_BYTES)
        with temporary_file(self._target, data, self._present.status) as temporary:
            os.replace(temporary, self._target)

    def close(self) -> str | None:
        """Let the old file go; its second name, if that could not be removed."""
        left = self._name if self._name is not None and not _remove(self._name) else None
        with contextlib.suppress(OSError):
            if self._descriptor is not None:
                os.close(self._descriptor)
        self._descriptor = self._name = None
        return left


@contextlib.contextmanager
def temporary_file(
    target: str,
    data: bytes,
    like: os.stat_result | None,
    times_ns: tuple[int, int] | None = None,
    source: str | None = None,
    left: list[str] | None = None,
) -> Generator[str, None, None]:
    """A new file with these bytes beside a file, synced; gone afterwards whatever happens.

    `like` is the status whose mode and owner it gets, `source` the file whose extended attributes,
    `times_ns` its times. One that cannot be removed is named in the error that is on its way, or in
    `left`.
    """
    temporary = temporary_name(*os.path.split(target))
    try:
        descriptor = os.open(temporary, _NEW_FILE, 0o666 if like is None else 0o600)
        try:
            _fill(descriptor, data)
        finally:
            os.close(descriptor)
        if like is not None:
            keep_mode(temporary, like, source)
        if times_ns is not None:
            os.utime(temporary, ns=times_ns)
        yield temporary
    except BaseException as error:
        if not _remove(temporary):
            words = f"the temporary file {temporary} could not be removed"
            if isinstance(error, RtcSaveError):
                error.remedy += f"; {words}"
            else:  # dressed by whoever asked for the file
                error.add_note(words)
        raise
    else:
        if not _remove(temporary) and left is not None:
            left.append(temporary)


def _remove(temporary: str) -> bool:
    """Remove a temporary file; whether it is gone."""
    try:
        os.unlink(temporary)
    except FileNotFoundError:
        return True
    except OSError:
        return False
    return True


def _fill(descriptor: int, data: bytes) -> None:
    rest = memoryview(data)
    while rest:
        rest = rest[os.write(descriptor, rest) :]
    sync_file(descriptor)
