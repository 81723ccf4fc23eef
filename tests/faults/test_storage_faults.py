"""The system fails, at every call in turn: the save is all old or all new, nothing is left over.

The approach is that of SQLite's I/O error tests ("How SQLite Is Tested", section 3.2): fail the
Nth call for every N, then look.
"""

from __future__ import annotations

import errno
import os
import pathlib
from collections.abc import Callable, Iterator
from typing import Any

import pytest
from known import HEALTHY48, memory

from rtcsave import ChangedUnderneath, RtcSaveError, SystemFailed, dump, load, restore
from rtcsave.storage import system

OLD = memory() + HEALTHY48
CALLS = (
    "open", "close", "stat", "fstat", "write", "fsync", "link", "replace", "utime", "chmod",
    "unlink",
)  # fmt: skip


class Failing:
    """Lets the system fail at the Nth call of any that writing makes."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch, number: int, error: int) -> None:
        self.left = number
        self.error = error
        self.failed_at = ""
        for name in CALLS:
            monkeypatch.setattr(os, name, self.guard(name, getattr(os, name)))

    def guard(self, name: str, call: Callable[..., Any]) -> Callable[..., Any]:
        def guarded(*args: Any, **kwargs: Any) -> Any:
            self.left -= 1
            if self.left == 0:
                self.failed_at = name
                if name == "close":
                    call(*args, **kwargs)  # the descriptor is closed even if closing it fails
                raise OSError(self.error, os.strerror(self.error))
            return call(*args, **kwargs)

        return guarded


@pytest.fixture
def path(tmp_path: pathlib.Path) -> Iterator[pathlib.Path]:
    save_path = tmp_path / "ferry.sav"
    save_path.write_bytes(OLD)
    return save_path


@pytest.fixture(autouse=True)
def _no_waiting(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(system.time, "sleep", lambda seconds: None)


@pytest.mark.parametrize("error", [errno.EIO, errno.ENOSPC, errno.EACCES])
def test_fail_every_call_in_turn(path: pathlib.Path, error: int) -> None:
    save = load(path).advance_by(60)
    new = save.memory + save.block.raw  # type: ignore[union-attr]
    seen: set[str] = set()
    for number in range(1, 200):
        path.write_bytes(OLD)
        for other in path.parent.iterdir():
            if other != path:
                other.unlink()
        with pytest.MonkeyPatch.context() as patch:
            failing = Failing(patch, number, error)
            try:
                dump(save, path)
                raised = False
            except RtcSaveError:
                raised = True
        if not failing.failed_at:
            assert not raised
            break
        seen.add(failing.failed_at)
        data = path.read_bytes()
        assert data in (OLD, new), f"call {number} ({failing.failed_at})"
        others = [file for file in path.parent.iterdir() if file != path]
        if raised:
            assert data == OLD, f"call {number} ({failing.failed_at}) failed after the replacement"
        else:
            assert data == new
            assert any(file.suffix == ".bak" and file.read_bytes() == OLD for file in others), (
                number
            )
        for other in others:
            if failing.failed_at != "unlink":
                assert other.suffix == ".bak", f"call {number} ({failing.failed_at}) left {other}"
                assert other.read_bytes() == OLD
    else:
        pytest.fail("writing never came to an end")
    assert {"open", "stat", "write", "fsync", "link", "replace", "utime"} <= seen


def test_a_full_disk_leaves_everything_as_it_was(
    path: pathlib.Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    save = load(path).advance_by(60)
    from rtcsave.storage import replacing

    real = replacing._fill

    def full(descriptor: int, data: bytes) -> None:
        real(descriptor, data[:100])
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(replacing, "_fill", full)
    with pytest.raises(SystemFailed, match="the disk is full") as caught:
        dump(save, path)
    assert "nothing was changed" in str(caught.value)
    assert path.read_bytes() == OLD
    assert list(path.parent.iterdir()) == [path]


def test_a_short_write_is_gone_on_with(path: pathlib.Path, monkeypatch: pytest.MonkeyPatch) -> None:
    real = os.write
    monkeypatch.setattr(os, "write", lambda descriptor, data: real(descriptor, data[:700]))
    save = load(path).advance_by(60)
    dump(save, path)
    assert path.read_bytes() == save.memory + save.block.raw  # type: ignore[union-attr]


class Held(PermissionError):
    """What Windows raises for a file that another program holds open: error 32."""

    winerror = 32


def test_a_file_held_open_is_tried_again(
    path: pathlib.Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    tries = []
    real = os.replace

    def held_twice(source: str, target: str) -> None:
        tries.append(source)
        if len(tries) < 3:
            raise Held(13, "sharing violation")
        real(source, target)

    monkeypatch.setattr(os, "replace", held_twice)
    dump(load(path).advance_by(60), path)
    assert len(tries) == 3
    assert path.read_bytes() != OLD


def test_what_the_holder_wrote_meanwhile_is_not_replaced(
    path: pathlib.Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def held_and_written(source: str, target: str) -> None:
        path.write_bytes(b"saved by the program that held it")
        raise Held(13, "sharing violation")

    save = load(path).advance_by(60)
    monkeypatch.setattr(os, "replace", held_and_written)
    with pytest.raises(ChangedUnderneath):
        dump(save, path)
    assert path.read_bytes() == b"saved by the program that held it"


def test_where_a_hold_looks_like_a_missing_permission(
    path: pathlib.Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    real = os.open
    tries = []

    def refuse_once(*args: Any, **kwargs: Any) -> int:
        tries.append(args)
        if len(tries) == 1:
            raise PermissionError(13, "Permission denied")  # Windows says no more than this
        return real(*args, **kwargs)

    monkeypatch.setattr(system.sys, "platform", "win32")
    monkeypatch.setattr(os, "open", refuse_once)
    assert load(path).memory == memory()


def test_a_file_that_stays_held_open_is_refused_with_that_reason(
    path: pathlib.Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(source: str, target: str) -> None:
        raise Held(13, "sharing violation")

    monkeypatch.setattr(os, "replace", refuse)
    with pytest.raises(SystemFailed, match="another program holds it open"):
        dump(load(path).advance_by(60), path)
    assert path.read_bytes() == OLD
    assert list(path.parent.iterdir()) == [path]


def test_reading_a_file_held_open(path: pathlib.Path, monkeypatch: pytest.MonkeyPatch) -> None:
    real = os.open
    tries = []

    def held_once(*args: Any, **kwargs: Any) -> int:
        tries.append(args)
        if len(tries) == 1:
            raise Held(13, "sharing violation")
        return real(*args, **kwargs)

    monkeypatch.setattr(os, "open", held_once)
    assert load(path).memory == memory()

    def always(*args: Any, **kwargs: Any) -> int:
        raise Held(13, "sharing violation")

    monkeypatch.setattr(os, "open", always)
    with pytest.raises(SystemFailed, match="another program holds it open"):
        load(path)


class TestWhereASystemLacksACall:
    def test_folders_that_cannot_be_opened(
        self, path: pathlib.Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        real = os.open

        def no_folders(target: Any, *args: Any, **kwargs: Any) -> int:
            if os.path.isdir(target):
                raise PermissionError(13, "Permission denied")  # as Windows answers
            return real(target, *args, **kwargs)

        monkeypatch.setattr(os, "open", no_folders)
        dump(load(path).advance_by(60), path)
        assert path.read_bytes() != OLD

    def test_folders_that_cannot_be_synced(
        self, path: pathlib.Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        real = os.fsync

        def no_folders(descriptor: int) -> None:
            import stat

            if stat.S_ISDIR(os.fstat(descriptor).st_mode):
                raise OSError(errno.EINVAL, "Invalid argument")
            real(descriptor)

        monkeypatch.setattr(os, "fsync", no_folders)
        dump(load(path).advance_by(60), path)
        assert path.read_bytes() != OLD

    def test_modes_and_owners_that_cannot_be_set(
        self, path: pathlib.Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        def refuse(*args: object, **kwargs: object) -> None:
            raise PermissionError(1, "Operation not permitted")

        monkeypatch.setattr(os, "chmod", refuse)
        if hasattr(os, "chown"):
            monkeypatch.setattr(os, "chown", refuse)
        dump(load(path).advance_by(60), path)
        assert path.read_bytes() != OLD

    def test_disks_without_a_second_name_for_a_file(
        self, path: pathlib.Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        def refuse(*args: object, **kwargs: object) -> None:
            raise PermissionError(1, "Operation not permitted")  # as memory cards answer

        monkeypatch.setattr(os, "link", refuse)
        for number in range(2):
            written = dump(load(path).advance_by(60), path)
            assert written.backup is not None
            assert len(list(path.parent.iterdir())) == 2 + number

    @pytest.mark.parametrize("flag", ["O_NONBLOCK", "O_CLOEXEC", "O_DIRECTORY"])
    def test_flags_that_do_not_exist(
        self, path: pathlib.Path, monkeypatch: pytest.MonkeyPatch, flag: str
    ) -> None:
        monkeypatch.delattr(os, flag, raising=False)
        dump(load(path).advance_by(60), path)
        assert path.read_bytes() != OLD


def test_an_interruption_leaves_no_temporary_file(
    path: pathlib.Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def interrupt(source: str, target: str) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(os, "replace", interrupt)
    with pytest.raises(KeyboardInterrupt):
        dump(load(path).advance_by(60), path)
    assert path.read_bytes() == OLD
    assert list(path.parent.iterdir()) == [path]


def test_a_restore_that_fails_leaves_the_present_file(
    path: pathlib.Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    dump(load(path).advance_by(60), path)
    present = path.read_bytes()
    before = sorted(path.parent.iterdir())

    def fail(source: str, target: str) -> None:
        raise OSError(errno.EIO, "Input/output error")

    monkeypatch.setattr(os, "replace", fail)
    with pytest.raises(SystemFailed, match="the disk failed"):
        restore(path)
    assert path.read_bytes() == present
    assert sorted(path.parent.iterdir()) == before


def test_a_new_file_that_appears_meanwhile_is_not_replaced(
    path: pathlib.Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from rtcsave.storage import replacing

    new = path.with_name("new.sav")
    real = replacing._fill

    def meanwhile(descriptor: int, data: bytes) -> None:
        real(descriptor, data)
        new.write_bytes(b"somebody else's")

    monkeypatch.setattr(replacing, "_fill", meanwhile)
    with pytest.raises(ChangedUnderneath, match="a file that was not there"):
        dump(load(path), new)
    assert new.read_bytes() == b"somebody else's"
