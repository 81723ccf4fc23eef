"""A program that saves again and again: backups that stay few, threads, a first start."""

from __future__ import annotations

import asyncio
import errno
import pathlib
import threading

import pytest
from known import HEALTHY48, STAMP, memory, patched

import rtcsave
from rtcsave import BadArgument, ChangedUnderneath, SaveFile, dumps
from rtcsave.storage import beside


@pytest.fixture(autouse=True)
def times(monkeypatch: pytest.MonkeyPatch) -> None:
    """Every backup gets a second of its own."""
    ticks = iter(range(STAMP, STAMP + 100_000))
    monkeypatch.setattr("rtcsave.storage.writing.present_s", lambda: next(ticks))


@pytest.fixture
def path(tmp_path: pathlib.Path) -> pathlib.Path:
    file = tmp_path / "game.sav"
    file.write_bytes(memory() + HEALTHY48)
    return file


def played(save: SaveFile, number: int) -> SaveFile:
    return save.with_memory(number.to_bytes(4, "big") + save.memory[4:])


def numbers(path: pathlib.Path) -> list[int]:
    """What the backups hold, newest first; -1 for the file as it was before."""
    contents = [pathlib.Path(backup.path).read_bytes() for backup in rtcsave.backups(path)]
    return [
        -1 if data == memory() + HEALTHY48 else int.from_bytes(data[:4], "big") for data in contents
    ]


class TestKeep:
    def test_the_newest_stay_and_the_first_of_this_load(self, path: pathlib.Path) -> None:
        save = rtcsave.load(path)
        for number in range(1, 101):
            written = rtcsave.dump(played(save, number), path, keep=3)
            save = written.save
        assert numbers(path) == [99, 98, 97, -1]

    def test_within_one_second_too(
        self, path: pathlib.Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        monkeypatch.setattr("rtcsave.storage.writing.present_s", lambda: STAMP)
        save = rtcsave.load(path)
        for number in range(1, 11):
            save = rtcsave.dump(played(save, number), path, keep=3).save
        assert numbers(path) == [9, 8, 7, -1]
        restored = rtcsave.restore(path)
        assert restored is not None
        assert int.from_bytes(path.read_bytes()[:4], "big") == 9

    def test_a_file_that_is_gone_says_so(self, path: pathlib.Path) -> None:
        save = rtcsave.load(path)
        path.unlink()
        with pytest.raises(
            ChangedUnderneath, match=r"it is gone.*write the save under another name"
        ):
            rtcsave.dump(played(save, 1), path)

    def test_without_it_all_stay(self, path: pathlib.Path) -> None:
        save = rtcsave.load(path)
        for number in range(1, 11):
            save = rtcsave.dump(played(save, number), path).save
        assert numbers(path) == [9, 8, 7, 6, 5, 4, 3, 2, 1, -1]

    def test_backups_of_other_files_and_of_restore_stay(self, path: pathlib.Path) -> None:
        other = path.with_name("game.sav2.20260310T141500Z.bak")
        replaced = path.with_name("game.sav.20260101T000000Z.replaced.bak")
        for file in (other, replaced):
            file.write_bytes(b"kept")
        save = rtcsave.load(path)
        for number in range(1, 6):
            save = rtcsave.dump(played(save, number), path, keep=1).save
        assert other.exists()
        assert replaced.exists()

    def test_a_clock_that_was_set_back_does_not_cost_the_backup_just_made(
        self, path: pathlib.Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        later = path.with_name("game.sav.20990101T000000Z.bak")
        later.write_bytes(b"later")
        written = rtcsave.dump(played(rtcsave.load(path), 1), path, keep=1)
        assert written.backup is not None
        assert pathlib.Path(written.backup).read_bytes() == memory() + HEALTHY48
        assert not later.exists()

    def test_equal_bytes_remove_nothing(self, path: pathlib.Path) -> None:
        for number in range(1, 4):
            rtcsave.dump(played(rtcsave.load(path), number), path)
        written = rtcsave.dump(rtcsave.load(path), path, keep=1)
        assert (written.changed, written.backup) == (False, None)
        assert len(rtcsave.backups(path)) == 3

    def test_one_that_cannot_be_removed_is_said(
        self, path: pathlib.Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        old = path.with_name("game.sav.20200101T000000Z.bak")
        old.write_bytes(b"old")
        unlink = beside.os.unlink

        def refuse(name: str) -> None:
            if str(name) == str(old):
                raise PermissionError(errno.EACCES, "no")
            unlink(name)

        monkeypatch.setattr(beside.os, "unlink", refuse)
        written = rtcsave.dump(played(rtcsave.load(path), 1), path, keep=1)
        assert written.changed
        assert written.left_over == (str(old),)

    @pytest.mark.parametrize("keep", [0, -1, 1.5, True, "3"])
    def test_a_number_that_is_none(self, path: pathlib.Path, keep: int) -> None:
        with pytest.raises(BadArgument, match="how many backups stay"):
            rtcsave.dump(rtcsave.load(path), path, keep=keep)
        assert rtcsave.backups(path) == ()

    def test_it_contradicts_no_backup(self, path: pathlib.Path) -> None:
        with pytest.raises(BadArgument, match="makes none"):
            rtcsave.dump(rtcsave.load(path), path, keep=1, backup=False)


class TestLoop:
    def test_a_second_dump_of_the_old_value_says_who_wrote(self, path: pathlib.Path) -> None:
        save = rtcsave.load(path)
        rtcsave.dump(played(save, 1), path)
        with pytest.raises(ChangedUnderneath, match=r"that this process wrote.*Written\.save"):
            rtcsave.dump(played(save, 2), path)

    def test_another_programs_write_is_refused_in_the_middle_of_the_loop(
        self, path: pathlib.Path
    ) -> None:
        save = rtcsave.dump(played(rtcsave.load(path), 1), path).save
        path.write_bytes(patched(memory(), 0, "ff") + HEALTHY48)
        with pytest.raises(ChangedUnderneath, match="other bytes"):
            rtcsave.dump(played(save, 2), path)

    def test_a_first_start(self, tmp_path: pathlib.Path) -> None:
        path = tmp_path / "new.sav"
        with pytest.raises(FileNotFoundError) as missing:
            rtcsave.load(path)
        assert missing.value.filename == str(path)
        save = rtcsave.loads(memory() + HEALTHY48)
        written = rtcsave.dump(save, path)
        assert (written.backup, written.changed) == (None, True)
        assert path.read_bytes() == dumps(save)
        nowhere = tmp_path / "missing" / "new.sav"
        with pytest.raises(FileNotFoundError) as missing:
            rtcsave.dump(save, nowhere)
        assert missing.value.filename == str(nowhere)


def race(path: pathlib.Path, first: int) -> list[str]:
    """Two threads go on from one save: what becomes of each."""
    save = rtcsave.load(path)
    start = threading.Barrier(2)
    outcomes = ["", ""]

    def work(at: int) -> None:
        start.wait()
        try:
            rtcsave.dump(played(save, first + at), path, backup=False)
            outcomes[at] = "written"
        except ChangedUnderneath:
            outcomes[at] = "refused"

    threads = [threading.Thread(target=work, args=(at,)) for at in (0, 1)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    return outcomes


class TestThreads:
    def test_of_two_that_go_on_from_one_save_one_wins(self, path: pathlib.Path) -> None:
        for number in range(2, 202, 2):
            outcomes = race(path, number)
            assert sorted(outcomes) == ["refused", "written"]
            number_written = int.from_bytes(path.read_bytes()[:4], "big")
            assert number_written == number + outcomes.index("written")

    def test_from_a_loop_of_asyncio(self, path: pathlib.Path) -> None:
        async def play() -> SaveFile:
            save = await asyncio.to_thread(rtcsave.load, path)
            for number in range(1, 6):
                written = await asyncio.to_thread(rtcsave.dump, played(save, number), path, keep=2)
                save = written.save
            return save

        save = asyncio.run(play())
        assert path.read_bytes() == dumps(save)
        assert numbers(path) == [4, 3, -1]
