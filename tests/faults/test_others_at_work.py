"""Other programs at work on the same file: what they write is never lost to us in silence."""

from __future__ import annotations

import os
import pathlib
import sys
from typing import Any

import pytest
from known import HEALTHY48, memory

from rtcsave import ChangedUnderneath, SystemFailed, dump, load
from rtcsave.storage import looking, replacing
from rtcsave.storage.looking import wait_until_quiet

OLD = memory() + HEALTHY48
THEIRS = b"their new memory" * 128 + HEALTHY48

pytestmark = pytest.mark.skipif(os.name != "posix", reason="a file held open is not replaced there")


@pytest.fixture
def path(tmp_path: pathlib.Path) -> pathlib.Path:
    path = tmp_path / "pilot.sav"
    path.write_bytes(OLD)
    return path


def writes_while_it_is_replaced(monkeypatch: pytest.MonkeyPatch, stream: Any, data: bytes) -> None:
    """Another program, which has the file open, writes right after our replacement of it."""
    real = os.replace
    calls: list[str] = []

    def replace_then_write(source: str, target: str) -> None:
        real(source, target)
        calls.append(target)
        if len(calls) == 1:
            stream.seek(0)
            stream.write(data)
            stream.flush()

    monkeypatch.setattr(os, "replace", replace_then_write)


@pytest.mark.parametrize("second_names", [True, False])
def test_a_program_that_writes_in_place_gets_its_file_back(
    path: pathlib.Path, monkeypatch: pytest.MonkeyPatch, second_names: bool
) -> None:
    if not second_names:  # a memory card: no second name for a file

        def refuse(*args: object, **kwargs: object) -> None:
            raise PermissionError(1, "Operation not permitted")

        monkeypatch.setattr(os, "link", refuse)
    save = load(path).advance_by(60)
    with open(path, "r+b") as stream:
        writes_while_it_is_replaced(monkeypatch, stream, THEIRS)
        with pytest.raises(ChangedUnderneath, match="another program wrote into it") as caught:
            dump(save, path)
        assert path.read_bytes() == THEIRS
        if second_names:  # its own file is in place again, so that it can go on writing into it
            stream.write(b"!")
            stream.flush()
            assert path.read_bytes() == THEIRS + b"!"
    assert "that program's file was put back" in caught.value.remedy
    # the backup is the only copy of what we had read: it stays
    (backup,) = (other for other in path.parent.iterdir() if other != path)
    assert backup.suffix == ".bak"
    assert backup.read_bytes() == OLD


def test_the_same_bytes_written_again_are_seen_by_their_time(
    path: pathlib.Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    os.utime(path, (1_700_000_000, 1_700_000_000))
    save = load(path).advance_by(60)
    with open(path, "r+b") as stream:
        writes_while_it_is_replaced(monkeypatch, stream, OLD)
        with pytest.raises(ChangedUnderneath):
            dump(save, path)
    assert path.read_bytes() == OLD


def test_where_its_file_cannot_be_put_back_that_is_said(
    path: pathlib.Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    save = load(path).advance_by(60)
    with open(path, "r+b") as stream:
        writes_while_it_is_replaced(monkeypatch, stream, THEIRS)
        first = os.replace

        def only_once(source: str, target: str) -> None:
            if source.endswith(".old.tmp"):
                raise OSError(5, "Input/output error")
            first(source, target)

        monkeypatch.setattr(os, "replace", only_once)
        with pytest.raises(SystemFailed, match="could not be put back") as caught:
            dump(save, path)
    assert "save it in the other program again" in caught.value.remedy


def test_a_disk_that_fails_while_looking_again_is_no_change(
    path: pathlib.Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    save = load(path).advance_by(60)

    def fail(descriptor: int, largest: int) -> bytes:
        raise OSError(5, "Input/output error")

    monkeypatch.setattr(replacing, "read_descriptor", fail)
    with pytest.raises(SystemFailed, match="the disk failed"):
        dump(save, path)
    assert path.read_bytes() == OLD
    assert list(path.parent.iterdir()) == [path]


class Clock:
    """A clock that only goes on while somebody sleeps, and a file that is written meanwhile."""

    def __init__(self, path: pathlib.Path, writes_at: list[float]) -> None:
        self.now = 1_000_000.0
        self.path = path
        self.writes_at = [self.now + at for at in writes_at]
        os.utime(path, (self.now, self.now))

    def time(self) -> float:
        return self.now

    def sleep(self, seconds: float) -> None:
        self.now += seconds
        while self.writes_at and self.writes_at[0] <= self.now:
            at = self.writes_at.pop(0)
            with open(self.path, "ab") as stream:
                stream.write(b"more")
            os.utime(self.path, (at, at))


@pytest.mark.parametrize(
    ("writes_at", "waited_s"),
    [([], 2.0), ([0.3], 2.0), ([0.4, 0.8, 1.2, 1.6, 2.0, 2.4], 2.0)],
    ids=["quiet", "written once more", "never quiet"],
)
def test_a_file_that_was_just_written_is_waited_for(
    path: pathlib.Path,
    monkeypatch: pytest.MonkeyPatch,
    writes_at: list[float],
    waited_s: float,
) -> None:
    clock = Clock(path, writes_at)
    monkeypatch.setattr(looking.time, "time", clock.time)
    monkeypatch.setattr(looking.time, "monotonic", clock.time)
    monkeypatch.setattr(looking.time, "sleep", clock.sleep)
    said: list[str] = []
    wait_until_quiet(str(path), said.append)
    assert clock.now - 1_000_000 == pytest.approx(waited_s, abs=0.11)
    assert said == [f"{path}: it was written just now; waiting until it stays as it is"]


def test_only_as_long_as_it_is_new(path: pathlib.Path, monkeypatch: pytest.MonkeyPatch) -> None:
    clock = Clock(path, [])
    clock.now += 1.5
    monkeypatch.setattr(looking.time, "time", clock.time)
    monkeypatch.setattr(looking.time, "monotonic", clock.time)
    monkeypatch.setattr(looking.time, "sleep", clock.sleep)
    wait_until_quiet(str(path))
    assert clock.now - 1_000_000 == pytest.approx(2.0, abs=0.11)


@pytest.mark.parametrize("age_s", [2.5, 86_400, -3_600])
def test_an_older_file_is_not_waited_for(
    path: pathlib.Path, monkeypatch: pytest.MonkeyPatch, age_s: float
) -> None:
    clock = Clock(path, [])
    clock.now += age_s
    monkeypatch.setattr(looking.time, "time", clock.time)
    monkeypatch.setattr(looking.time, "sleep", lambda seconds: pytest.fail("it waited"))
    wait_until_quiet(str(path))
    wait_until_quiet(str(path.with_name("missing.sav")))


def test_two_dumps_of_one_value_say_who_wrote(path: pathlib.Path) -> None:
    save = load(path)
    first = dump(save.advance_by(60), path)
    with pytest.raises(ChangedUnderneath, match="this process wrote") as caught:
        dump(save.advance_by(120), path)
    assert "Written.save" in caught.value.remedy
    assert first.save is not None
    second = dump(first.save.advance_by(60), path, backup=False)
    assert second.changed
    assert second.save == load(path)
    assert second.save is not None
    third = dump(second.save, path)
    assert (third.changed, third.backup) == (False, None)


@pytest.mark.skipif(sys.platform != "linux", reason="needs a link that cannot be read")
def test_a_link_that_cannot_be_looked_at_does_not_become_a_file(
    path: pathlib.Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    link = path.with_name("current.sav")
    link.symlink_to(path)
    save = load(link).advance_by(60)
    real = os.lstat

    def fail(target: Any, *args: Any, **kwargs: Any) -> os.stat_result:
        if os.fspath(target) == str(link):
            raise OSError(5, "Input/output error")
        return real(target, *args, **kwargs)

    monkeypatch.setattr(os, "lstat", fail)
    with pytest.raises(SystemFailed, match="the path cannot be followed"):
        dump(save, link)
    monkeypatch.undo()
    assert link.is_symlink()
    assert path.read_bytes() == OLD


def test_a_temporary_file_that_stays_is_named(
    path: pathlib.Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    save = load(path).advance_by(60)

    def refuse(*args: object) -> None:
        raise OSError(5, "Input/output error")

    monkeypatch.setattr(os, "unlink", refuse)
    monkeypatch.setattr(os, "replace", refuse)
    with pytest.raises(SystemFailed) as caught:
        dump(save, path, backup=False)
    left = [other for other in path.parent.iterdir() if other != path]
    assert any(f"{other} could not be removed" in caught.value.remedy for other in left)
    assert path.read_bytes() == OLD
