"""Writing files so that at every moment the old one or the new one is there whole."""

from __future__ import annotations

import contextlib
import os
import threading
from collections.abc import Callable, Generator, Sequence
from typing import Final

from rtcsave.errors import RtcSaveError
from rtcsave.savefile import Origin
from rtcsave.storage.beside import free_number, made_backup, remove_old_backups
from rtcsave.storage.changes import Change, FileWritten
from rtcsave.storage.looking import (
    LARGEST_REPLACED_BYTES,
    NOT_WRITTEN,
    Present,
    look_before,
    remember,
    wrote_here,
)
from rtcsave.storage.names import backup_name, remove_left_overs
from rtcsave.storage.reading import digest_of, path_text, read_bytes
from rtcsave.storage.replacing import put, temporary_file
from rtcsave.storage.system import dressing_errors, move_new, real_path, sync_folder
from rtcsave.when import compact_utc, present_s

Say = Callable[[str], None]


def write(
    data: bytes,
    path: str | os.PathLike[str],
    *,
    origin: Origin | None = None,
    backup: bool = True,
    overwrite: bool = False,
    times_ns: tuple[int, int] | None = None,
    keep: int | None = None,
    say: Say | None = None,
) -> FileWritten:
    """Write bytes to a file as `dump` does; `origin` says what the file held when it was read."""
    change = Change(
        data=data,
        path=path,
        origin=origin,
        backup=backup,
        overwrite=overwrite,
        times_ns=times_ns,
        keep=keep,
    )
    return write_together((change,), say)[0]


def write_together(changes: Sequence[Change], say: Say | None = None) -> tuple[FileWritten, ...]:
    """Write several files as one: either all of them change, or none does.

    All are prepared beside their places and synced before the first is put in place; where a later
    one fails, those before it are put back as they were. `say` is told what a file cannot keep,
    before anything is written. Threads that write one file do so one after the other.
    """
    with _locked([path_text(change.path) for change in changes]):
        return _write_together(changes, say)


def _write_together(changes: Sequence[Change], say: Say | None) -> tuple[FileWritten, ...]:
    jobs = [_Job(change) for change in changes]
    for job in jobs:
        for words in job.lost:
            if say is not None:
                say(f"{job.path}: {words}")
    with contextlib.ExitStack() as stack:
        try:
            for job in jobs:
                job.prepare(stack)
            for job in jobs:
                job.put()
        except BaseException as error:
            for job in reversed(jobs):
                job.undo(error)
            raise
    for job in jobs:
        job.remove_old_backups()
    return tuple(job.written() for job in jobs)


_LOCKS: Final = tuple(threading.Lock() for _ in range(64))


@contextlib.contextmanager
def _locked(paths: Sequence[str]) -> Generator[None, None, None]:
    """Let one thread at a time write a file: the second finds that the first has written it."""
    numbers = {hash(os.path.realpath(path)) % len(_LOCKS) for path in paths}
    with contextlib.ExitStack() as stack:
        for number in sorted(numbers):
            stack.enter_context(_LOCKS[number])
        yield


class _Job:
    """One file on its way: looked at, prepared, put in place, and put back if another one fails."""

    def __init__(self, change: Change) -> None:
        self.change = change
        self.path = path_text(change.path)
        self.present = look_before(
            self.path, change.origin, change.overwrite, change.backup, change.data
        )
        self.target = real_path(self.path)
        self._is_equal = self.present is not None and self.present.data == change.data
        self._backup: str | None = None
        self._temporary = ""
        self._is_begun = False
        self.left: list[str] = []

    @property
    def lost(self) -> tuple[str, ...]:
        """What the file cannot keep when it is replaced, in words."""
        return () if self.present is None or self._is_equal else self.present.lost

    def prepare(self, stack: contextlib.ExitStack) -> None:
        """Make the backup and the new file beside the old one."""
        if self._is_equal:
            return
        remove_left_overs(self.target)
        if self.change.backup and self.present is not None:
            self._backup = _make_backup(
                self.target,
                self.present,
                self.change.kind,
                self.left,
                self.change.keep is not None,
            )
        status = self.change.like if self.present is None else self.present.status
        source = None if self.present is None else self.target
        self._temporary = _entered(stack, self, status, source)

    def put(self) -> None:
        """Put the new file in place; one that holds the bytes already only gets the time."""
        if self._is_equal:
            self._keep_time()
            return
        self._is_begun = True
        put(self._temporary, self.target, self.present, self.left)
        if self._backup is not None:
            made_backup(self.target, self._backup, not self._is_going_on())
        remember(self.target, digest_of(self.change.data))

    def _is_going_on(self) -> bool:
        """Whether what is replaced is what this process itself wrote last."""
        return self.present is not None and wrote_here(self.target, self.present.data)

    def remove_old_backups(self) -> None:
        """Remove the backups that are too many; what cannot be removed is said, and no error."""
        if self.change.keep is not None and self._backup is not None:
            with contextlib.suppress(RtcSaveError):
                self.left += remove_old_backups(self.target, self.change.keep, self._backup)

    def _keep_time(self) -> None:
        times_ns, present = self.change.times_ns, self.present
        if times_ns is None or present is None or present.status.st_mtime_ns == times_ns[1]:
            return
        with dressing_errors("the file's time cannot be set", self.path):
            os.utime(self.target, ns=times_ns)

    def undo(self, error: BaseException) -> None:
        """Restore the old file, and remove the backup unless it is the only copy of its bytes."""
        try:
            present = present_bytes(self.target)
            if self._is_begun and present == self.change.data:
                self._put_back()
                present = None if self.present is None else self.present.data
        except (OSError, RtcSaveError) as failed:
            if isinstance(error, RtcSaveError) and self._is_begun:
                error.remedy = (
                    f"{self.path} may have been written all the same, and could not be put back "
                    f"({failed}); look at it, then run it again to finish"
                )
            return
        if self._backup is None or self.present is None:
            return
        if present == self.present.data:
            with contextlib.suppress(OSError):
                os.unlink(self._backup)
        elif isinstance(error, RtcSaveError):
            error.remedy += f"; the backup {self._backup} holds what was read and stays"

    def _put_back(self) -> None:
        """Put the old file back, in the place of ours."""
        if self.present is None:
            os.unlink(self.target)
        else:
            status = self.present.status
            times_ns = (status.st_atime_ns, status.st_mtime_ns)
            ours = Present(data=self.change.data, status=status)
            with temporary_file(
                self.target, self.present.data, status, times_ns, self.target
            ) as temporary:
                put(temporary, self.target, ours)
        sync_folder(os.path.dirname(self.target))

    def written(self) -> FileWritten:
        """The account of it."""
        return FileWritten(
            path=self.path,
            backup=None if self._backup is None else beside(self.path, self._backup),
            changed=not self._is_equal,
            lost=self.lost,
            left_over=tuple(self.left),
        )


def _entered(
    stack: contextlib.ExitStack, job: _Job, like: os.stat_result | None, source: str | None
) -> str:
    """A temporary file that goes when the stack does, errors of making it ours."""
    change = job.change
    with dressing_errors(NOT_WRITTEN, job.target):
        return stack.enter_context(
            temporary_file(job.target, change.data, like, change.times_ns, source, job.left)
        )


def beside(path: str, made: str) -> str:
    """The path of a backup in the words of the caller: relative where the file's path was."""
    folder, name = os.path.split(made)
    typed = os.path.dirname(path)
    return os.path.join(typed, name) if os.path.realpath(typed) == folder else made


def present_bytes(path: str) -> bytes | None:
    """The bytes of a file, None if there is no file; an error of the system if it cannot be read."""
    target = real_path(path)
    return read_bytes(target, LARGEST_REPLACED_BYTES)[0] if os.path.lexists(target) else None


def _make_backup(target: str, present: Present, kind: str, left: list[str], list_them: bool) -> str:
    """Copy what is about to be replaced beside it: NAME.20260310T141500Z.bak, mode and times too.

    A name that is taken gets a number after it; none is ever overwritten, nor a number of the same
    second used again after its backup was removed (with `list_them`). Only a whole backup
    ever bears such a name.
    """
    instant = compact_utc(present_s())
    status = present.status
    times_ns = (status.st_atime_ns, status.st_mtime_ns)
    with (
        dressing_errors("no backup can be made beside the file", target),
        temporary_file(target, present.data, status, times_ns, target, left) as temporary,
    ):
        number = free_number(target, instant, list_them)
        while True:
            path = backup_name(target, instant, kind, number)
            try:
                move_new(temporary, path)
                break
            except FileExistsError:
                number += 1
    sync_folder(os.path.dirname(target))
    return path
