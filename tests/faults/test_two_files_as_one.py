"""A clock that is split off: two files change as one, whatever call of the system fails."""

from __future__ import annotations

import errno
import os
import pathlib
from typing import Any

import pytest
from faults.test_storage_faults import Failing
from known import HEALTHY48, REGISTERS5, memory

from rtcsave.cli.main import main
from rtcsave.storage import system

OLD = memory() + HEALTHY48
WORDS = ("--to", "registers5", "--drop-stamp", "--drop-latched")
NOT_UNDONE = ("was written all the same", "could not be removed")


@pytest.fixture(autouse=True)
def _no_waiting(monkeypatch: pytest.MonkeyPatch) -> None:
    from rtcsave.storage import looking

    monkeypatch.setattr(system.time, "sleep", lambda seconds: None)
    monkeypatch.setattr(looking, "RECENT_S", 0)


def split(folder: pathlib.Path) -> int:
    return main(
        ["convert", str(folder / "game.sav"), "--split", str(folder / "game.clock"), *WORDS]
    )


@pytest.mark.parametrize("error", [errno.EIO, errno.ENOSPC])
def test_fail_every_call_in_turn(
    tmp_path: pathlib.Path, capsys: pytest.CaptureFixture[str], error: int
) -> None:
    game, clock = tmp_path / "game.sav", tmp_path / "game.clock"
    for number in range(1, 400):
        for other in tmp_path.iterdir():
            other.unlink()
        game.write_bytes(OLD)
        with pytest.MonkeyPatch.context() as patch:
            failing = Failing(patch, number, error)
            code = split(tmp_path)
        said = capsys.readouterr().err
        where = f"call {number} ({failing.failed_at}): {said}"
        state = (game.read_bytes(), clock.read_bytes() if clock.exists() else None)
        if code == 0:
            assert state == (memory(), REGISTERS5), where
            assert [backup.read_bytes() for backup in tmp_path.glob("*.bak")] == [OLD], where
        else:
            assert state == (OLD, None), where
            assert "was written all the same" not in said, where
        if not failing.failed_at:
            assert code == 0
            assert number > 30, "fewer calls failed than a split makes"
            break
        if code != 0:  # running it again finishes
            assert split(tmp_path) == 0, where
            capsys.readouterr()
            assert (game.read_bytes(), clock.read_bytes()) == (memory(), REGISTERS5), where
    else:
        pytest.fail("splitting never came to an end")


def test_killed_between_the_two_it_is_finished_the_next_time(
    tmp_path: pathlib.Path, capsys: pytest.CaptureFixture[str]
) -> None:
    game, clock = tmp_path / "game.sav", tmp_path / "game.clock"
    game.write_bytes(OLD)
    clock.write_bytes(REGISTERS5)  # the first of the two was in place
    assert split(tmp_path) == 0, capsys.readouterr().err
    assert (game.read_bytes(), clock.read_bytes()) == (memory(), REGISTERS5)


def test_another_file_in_the_clocks_place_is_refused_before_anything_is_done(
    tmp_path: pathlib.Path,
) -> None:
    game, clock = tmp_path / "game.sav", tmp_path / "game.clock"
    game.write_bytes(OLD)
    clock.write_bytes(b"precious")
    assert split(tmp_path) == 4
    assert (game.read_bytes(), clock.read_bytes()) == (OLD, b"precious")
    assert sorted(os.listdir(tmp_path)) == ["game.clock", "game.sav"]


@pytest.mark.parametrize("present", [None, b"an older clock"])
def test_the_first_is_undone_where_the_second_cannot_be_put_in_place(
    tmp_path: pathlib.Path, monkeypatch: pytest.MonkeyPatch, present: bytes | None
) -> None:
    from rtcsave.storage import writing

    game, clock = tmp_path / "game.sav", tmp_path / "game.clock"
    game.write_bytes(OLD)
    if present is not None:
        clock.write_bytes(present)
    real = writing.put

    def fail_for_the_game(temporary: str, target: str, *more: Any) -> None:
        if target == str(game):
            raise system.system_failed(
                OSError(errno.EIO, "I/O"), "the file cannot be written", target
            )
        real(temporary, target, *more)

    monkeypatch.setattr(writing, "put", fail_for_the_game)
    words = ["convert", str(game), "--split", str(clock), *WORDS, "--overwrite"]
    assert main(words) == 3
    assert game.read_bytes() == OLD
    assert (clock.read_bytes() if clock.exists() else None) == present
    assert len(os.listdir(tmp_path)) == 1 + (present is not None)


@pytest.mark.parametrize("more", [(), ("--no-backup",)])
def test_stopped_right_after_the_second_both_are_undone(
    tmp_path: pathlib.Path, monkeypatch: pytest.MonkeyPatch, more: tuple[str, ...]
) -> None:
    game, clock = tmp_path / "game.sav", tmp_path / "game.clock"
    game.write_bytes(OLD)
    real = os.replace
    stopped: list[str] = []

    def replace_then_stop(source: str, target: str) -> None:
        real(source, target)
        if target == str(game) and not stopped:
            stopped.append(target)
            raise KeyboardInterrupt

    monkeypatch.setattr(os, "replace", replace_then_stop)
    assert main(["convert", str(game), "--split", str(clock), *WORDS, *more]) == 130
    assert stopped
    assert (game.read_bytes(), clock.exists()) == (OLD, False)


def test_what_can_no_longer_be_looked_at_is_said(
    tmp_path: pathlib.Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    game, clock = tmp_path / "game.sav", tmp_path / "game.clock"
    game.write_bytes(OLD)
    real = os.open

    def fail_when_the_clock_is_there(target: Any, *args: Any, **kwargs: Any) -> int:
        if clock.exists() and str(target) in (str(game), str(clock)):
            raise OSError(errno.EIO, "Input/output error")
        return real(target, *args, **kwargs)

    monkeypatch.setattr(os, "open", fail_when_the_clock_is_there)
    assert split(tmp_path) == 3
    said = capsys.readouterr().err
    assert "may have been written all the same" in said
    assert "nothing was changed" not in said.partition("could not be put back")[0]
    monkeypatch.undo()
    assert game.read_bytes() == OLD
