"""What goes through untouched: the bytes a clock does not own, and what the system knows of a file."""

from __future__ import annotations

import os
import pathlib
import stat
import sys

import pytest
from known import (
    CALENDAR26,
    HEALTHY48,
    MINUTES12,
    NOW,
    REGISTERS5,
    REGISTERS10,
    STAMP,
    WORKSHOP,
    memory,
    patched,
)

import rtcsave
from rtcsave import (
    BadArgument,
    CalendarChip,
    ClockBlock,
    CounterChip,
    DoesNotFit,
    MinuteChip,
    backups,
    describe,
    dump,
    load,
    loads,
    restore,
)

POSIX = os.name == "posix"
BENCH = bytes.fromhex("434c4b31 07280d2c01 a1b2c3 6427b069 d4e5f6070809 f507")


def test_the_bench_block_is_sound() -> None:
    assert sum(BENCH[:22]) == 0x07F5
    save = loads(BENCH, layout=describe(WORKSHOP))
    assert rtcsave.check(save, now=NOW) == ()


class TestChips:
    def test_a_described_block_keeps_what_the_clock_does_not_own(self) -> None:
        block = ClockBlock(layout=describe(WORKSHOP), raw=BENCH)
        chip = CounterChip.from_block(block)
        chip.run(seconds=1)
        after = chip.to_block(STAMP + 1)
        assert after.raw == bytes.fromhex("434c4b31 08280d2c01 a1b2c3 6527b069 d4e5f6070809 f707")

    def test_stray_bits_stay(self) -> None:
        raw = patched(HEALTHY48, 1, "ff")
        chip = CounterChip.from_block(loads(raw, layout="block48").clock_block)
        assert chip.to_block(STAMP).raw == raw

    def test_in_another_layout_it_is_made_from_the_blank(self) -> None:
        chip = CounterChip.from_block(loads(REGISTERS5, layout="registers5").clock_block)
        layout = describe(WORKSHOP)
        assert chip.to_block(STAMP, layout=layout).raw == bytes.fromhex(
            "434c4b31 07280d2c01 000000 6427b069 000000000000 1803"
        )

    @pytest.mark.parametrize(
        ("kind", "raw", "layout"),
        [(MinuteChip, MINUTES12, "minutes12"), (CalendarChip, CALENDAR26, "calendar26")],
    )
    def test_the_other_chips_too(self, kind: type, raw: bytes, layout: str) -> None:
        stray = bytes([raw[0] | 0x50]) + raw[1:]
        block = loads(stray, layout=layout).clock_block
        assert kind.from_block(block).to_block(None).raw == stray
        assert kind.from_block(block).to_block(STAMP).raw == stray

    def test_no_stamp_writes_an_absent_one(self) -> None:
        chip = CounterChip.from_block(loads(HEALTHY48).clock_block)
        assert chip.to_block(None).raw == HEALTHY48[:40] + bytes(8)


def test_a_part_that_is_not_there_is_not_set_in_silence() -> None:
    block = loads(REGISTERS5, layout="registers5").clock_block
    with pytest.raises(DoesNotFit, match="layout registers5 has no latched registers"):
        block.with_clock(block.running, "latched")
    for wrong in ("stamp", "lached", 3):
        with pytest.raises(BadArgument, match="no such part of a clock"):
            block.with_clock(block.running, wrong)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("name", "raw"),
    [
        ("registers5", REGISTERS5),
        ("registers10", REGISTERS10),
        ("minutes12", MINUTES12),
        ("minutes6", MINUTES12[:6]),
        ("calendar26", CALENDAR26),
    ],
)
class TestWithoutAStampInTheLayout:
    """The file's time is the only record of the instant for which the clock is right."""

    def test_several_resumes_count_each_day_once(
        self, tmp_path: pathlib.Path, name: str, raw: bytes
    ) -> None:
        path = tmp_path / "clock"
        path.write_bytes(raw)
        os.utime(path, (STAMP, STAMP))
        first = load(path, layout=name).clock_block.running
        for day in (10, 14, 15, 40):
            save = load(path, layout=name)
            assert save.saved_at is None
            assert save.origin is not None
            moved = save.advance_to(STAMP + day * 86_400, saved_at=save.origin.modified_at)
            assert moved.saved_at == rtcsave.when.utc_datetime(STAMP + day * 86_400)
            dump(moved, path)
            assert path.stat().st_mtime == STAMP + day * 86_400
            assert load(path, layout=name).clock_block.running == first.advance(day * 86_400)

    def test_in_one_process_the_carried_instant_is_enough(
        self, tmp_path: pathlib.Path, name: str, raw: bytes
    ) -> None:
        path = tmp_path / "clock"
        path.write_bytes(raw)
        save = load(path, layout=name).advance_to(STAMP + 86_400, saved_at=STAMP)
        written = dump(save, path)
        assert written.save is not None
        again = written.save.advance_to(STAMP + 2 * 86_400)
        first = loads(raw, layout=name).clock_block.running
        assert again.clock_block.running == first.advance(2 * 86_400)

    def test_a_shift_by_a_span_moves_the_instant(
        self, tmp_path: pathlib.Path, name: str, raw: bytes
    ) -> None:
        path = tmp_path / "clock"
        path.write_bytes(raw)
        os.utime(path, (STAMP, STAMP))
        dump(load(path, layout=name).advance_by(3_600), path)
        assert path.stat().st_mtime == STAMP + 3_600

    def test_other_changes_keep_the_time_to_the_nanosecond(
        self, tmp_path: pathlib.Path, name: str, raw: bytes
    ) -> None:
        path = tmp_path / "clock"
        path.write_bytes(raw)
        os.utime(path, ns=(STAMP * 10**9, STAMP * 10**9 + 123_456_700))
        save = load(path, layout=name)
        clock = save.clock_block.running.advance(60)
        dump(save.with_clock(clock), path)
        assert path.read_bytes() != raw
        assert path.stat().st_mtime_ns == STAMP * 10**9 + 123_456_700


def test_a_stamp_that_is_dropped_is_carried() -> None:
    save = loads(memory() + HEALTHY48).with_layout("block44", drop_stamp=True)
    assert save.carried_s is None
    clock = loads(HEALTHY48).with_layout("registers10", drop_stamp=True)
    assert clock.saved_at == rtcsave.when.utc_datetime(STAMP)


@pytest.fixture
def path(tmp_path: pathlib.Path) -> pathlib.Path:
    path = tmp_path / "ferry.sav"
    path.write_bytes(memory() + HEALTHY48)
    return path


@pytest.mark.skipif(not POSIX, reason="hard links and modes are POSIX's")
class TestWhatTheSystemKnows:
    def test_a_second_name_is_said_before_anything_is_written(self, path: pathlib.Path) -> None:
        os.link(path, path.with_name("same file.sav"))
        written = dump(load(path).advance_by(60), path)
        assert written.lost == ("the file has another name (hard links), which keep the old bytes",)
        assert path.with_name("same file.sav").read_bytes() == memory() + HEALTHY48

    def test_a_private_file_that_was_lost_comes_back_private(self, path: pathlib.Path) -> None:
        path.chmod(0o600)
        dump(load(path).advance_by(60), path)
        path.unlink()
        restore(path)
        assert stat.S_IMODE(path.stat().st_mode) == 0o600

    @pytest.mark.skipif(sys.platform != "linux", reason="Python knows attributes on Linux only")
    def test_extended_attributes_stay(self, path: pathlib.Path) -> None:
        try:
            os.setxattr(path, "user.shelf", b"row 3")
        except OSError:
            pytest.skip("this disk has no extended attributes")
        dump(load(path).advance_by(60), path)
        assert os.getxattr(path, "user.shelf") == b"row 3"
        (backup,) = backups(path)
        assert os.getxattr(backup.path, "user.shelf") == b"row 3"

    def test_another_users_file_is_said(
        self, path: pathlib.Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        monkeypatch.setattr(os, "geteuid", lambda: os.getuid() + 1)
        written = dump(load(path).advance_by(60), path)
        assert written.lost == ("the file belongs to another user, and will belong to you",)

    def test_through_a_link_to_nowhere_its_target_is_made(self, path: pathlib.Path) -> None:
        link = path.with_name("link.sav")
        link.symlink_to(path.with_name("new.sav"))
        dump(load(path), link)
        assert link.is_symlink()
        assert path.with_name("new.sav").read_bytes() == memory() + HEALTHY48

    def test_through_a_link_into_no_folder_nothing_is_made(self, path: pathlib.Path) -> None:
        link = path.with_name("link.sav")
        link.symlink_to(path.parent / "gone" / "new.sav")
        with pytest.raises(FileNotFoundError) as caught:
            dump(load(path), link)
        assert isinstance(caught.value, rtcsave.SystemFailed)
        assert caught.value.filename == str(link)


def test_what_a_killed_process_left_goes_with_the_next_write(path: pathlib.Path) -> None:
    old, young = (path.with_name(f".ferry.sav.{number:08x}.tmp") for number in (1, 2))
    other = path.with_name(".another.sav.00000003.tmp")
    for left in (old, young, other):
        left.write_bytes(b"half a save")
    for left in (old, other):
        os.utime(left, (1_700_000_000, 1_700_000_000))
    dump(load(path).advance_by(60), path, backup=False)
    assert sorted(os.listdir(path.parent)) == [other.name, young.name, path.name]


class TestRestoring:
    def test_a_backup_larger_than_a_save(self, path: pathlib.Path) -> None:
        large = bytes(2_000_000)
        other = path.with_name("picture.raw")
        other.write_bytes(large)
        dump(load(path), other, overwrite=True)
        assert restore(other) is not None
        assert other.read_bytes() == large

    def test_the_newest_that_cannot_be_looked_at_is_not_passed_over(
        self, path: pathlib.Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        for number in range(2):
            path.with_name(f"ferry.sav.2026031{number}T000000Z.bak").write_bytes(bytes([number]))
        real = os.stat

        def fail(target: object, *args: object, **kwargs: object) -> os.stat_result:
            if str(target).endswith("20260311T000000Z.bak"):
                raise OSError(5, "Input/output error")
            return real(target, *args, **kwargs)  # type: ignore[arg-type, call-overload, no-any-return]

        monkeypatch.setattr(os, "stat", fail)
        with pytest.raises(rtcsave.SystemFailed, match="the backup cannot be looked at"):
            restore(path)
        assert path.read_bytes() == memory() + HEALTHY48
