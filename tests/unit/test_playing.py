"""Playing costs no time: a clock that is loaded, played and saved a thousand times is still right."""

from __future__ import annotations

import copy
import pathlib
import pickle
import random
import time
from typing import Any

import pytest
from known import CALENDAR26, HEALTHY48, MINUTES12, REGISTERS10, STAMP, memory

import rtcsave
from rtcsave import (
    BadArgument,
    CalendarChip,
    ClockBlock,
    CounterChip,
    CounterClock,
    DoesNotFit,
    MinuteChip,
    MinuteClock,
    SaveFile,
    describe,
)

CHIPS: list[tuple[Any, bytes, str]] = [
    (CounterChip, HEALTHY48, "block48"),
    (CounterChip, REGISTERS10, "registers10"),
    (MinuteChip, MINUTES12, "minutes12"),
    (CalendarChip, CALENDAR26, "calendar26"),
]

STAMPED_MINUTES = describe(
    """
name = "stamped-minutes"
size = 12
clock = "minutes"
place = "standalone"

[[field]]
holds = "minute_of_day"
offset = 0
bytes = 2

[[field]]
holds = "day_counter"
offset = 2
bytes = 2

[stamp]
offset = 4
bytes = 8
"""
)


def played(save: SaveFile, kind: Any, seed: int, cycles: int, frame_s: float) -> tuple[int, float]:
    """Load, play and save again and again: seconds that the clock counted, and that really passed."""
    chance = random.Random(seed)
    began = now = STAMP + chance.random()
    first = save.advance_to(now, saved_at=STAMP).clock_block.running
    save = save.advance_to(now, saved_at=STAMP)
    for _ in range(cycles):
        now += chance.uniform(0, 30)  # the game is off
        save = save.advance_to(now)
        chip = kind.from_block(save.clock_block, at=now)
        for _ in range(chance.randrange(1, 400)):
            chip.run(frame_s)
            now += frame_s
        save = save.with_block(chip.to_block(now))
    last = save.clock_block.running
    return last.to_seconds() - first.to_seconds(), now - began


@pytest.mark.parametrize(("kind", "raw", "layout"), CHIPS)
@pytest.mark.parametrize("seed", [1, 2, 3])
def test_a_thousand_cycles_lose_nothing(kind: Any, raw: bytes, layout: str, seed: int) -> None:
    save = rtcsave.loads(raw, layout=layout)
    counted_s, real_s = played(save, kind, seed, 1_000, 1 / 60)
    assert abs(counted_s - real_s) < (60 if kind is MinuteChip else 1)


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_nor_does_a_minute_clock_with_a_stamp(seed: int) -> None:
    clock = MinuteClock(minute_of_day=5, day_counter=7)
    block = ClockBlock.new(clock, saved_at=STAMP, layout=STAMPED_MINUTES)
    counted_s, real_s = played(SaveFile(memory=b"", block=block), MinuteChip, seed, 1_000, 1 / 60)
    assert abs(counted_s - real_s) < 60


def test_nor_where_the_caller_cuts_his_instants_off() -> None:
    # int(time.time()) at both ends: what is cut off at one end is given back at the other, on average
    chance = random.Random(11)
    now, save = STAMP + 0.5, rtcsave.loads(HEALTHY48)
    first = save.clock_block.running
    for _ in range(1_000):
        chip = CounterChip.from_block(save.advance_to(int(now)).clock_block, at=int(now))
        play_s = chance.uniform(1, 60)
        chip.run(play_s)
        now += play_s
        save = save.with_block(chip.to_block(int(now)))
    counted_s = save.clock_block.running.to_seconds() - first.to_seconds()
    assert abs(counted_s - (now - STAMP - 0.5)) < 60  # two minutes of 500 s, were it cut off


def test_through_files_of_every_kind(tmp_path: pathlib.Path) -> None:
    for kind, raw, layout in CHIPS:
        path = tmp_path / f"{layout}.clock"
        path.write_bytes(raw)
        now = float(STAMP)
        save = rtcsave.load(path, layout=layout)
        save = save.advance_to(now, saved_at=STAMP)
        first = save.clock_block.running
        for _ in range(20):
            save = save.advance_to(now)
            chip = kind.from_block(save.clock_block, at=now)
            chip.run(95.125)
            now += 95.125
            save = rtcsave.dump(
                save.with_block(chip.to_block(now)), path, backup=False, overwrite=True
            ).save
            save = rtcsave.load(path, layout=layout).advance_to(
                now, saved_at=None if "48" in layout else save.origin.modified_at
            )
        counted_s = save.clock_block.running.to_seconds() - first.to_seconds()
        assert abs(counted_s - 20 * 95.125) < (60 if kind is MinuteChip else 1)


class TestFraction:
    def test_it_becomes_the_dividers(self) -> None:
        chip = CounterChip.from_block(rtcsave.loads(HEALTHY48).clock_block, at=STAMP + 0.75)
        assert chip.divider_ticks == 24_576
        assert chip.fraction_s == 0.75
        chip.run(0.25)
        assert chip.snapshot() == rtcsave.loads(HEALTHY48).clock_block.running.advance(1)

    def test_the_registers_are_those_of_the_whole_second_to_the_nearest(self) -> None:
        clock = CounterClock(seconds=10, minutes=0, hours=0, day_counter=0)

        def second(passed_s: float, at: float) -> int:
            chip = CounterChip(clock)
            chip.run(passed_s)
            running = chip.to_block(at).running
            assert isinstance(running, CounterClock)
            return running.seconds

        assert second(0.25, STAMP + 0.25) == 10
        assert second(0.9999, STAMP + 0.0001) == 11  # a hair before its tick
        assert second(0.1, STAMP + 0.9) == 9
        assert second(0.4, STAMP) == 10

    def test_a_halted_clock_and_one_at_zero_stay(self) -> None:
        halted = CounterChip(CounterClock(seconds=9, minutes=0, hours=0, day_counter=0, halt=True))
        assert halted.to_block(STAMP + 0.9).running == halted.snapshot()
        assert CounterChip().to_block(STAMP + 0.9).running == CounterChip().snapshot()

    def test_a_minute_clock_keeps_and_shows_its_fraction(self) -> None:
        clock = MinuteClock(minute_of_day=5, day_counter=7)
        block = ClockBlock.new(clock, saved_at=STAMP, layout=STAMPED_MINUTES)
        chip = MinuteChip.from_block(block, at=STAMP + 42.5)
        assert chip.fraction_s == 42.5
        chip.run(10)
        after = chip.to_block(STAMP + 52.5)
        assert (after.running, after.usable_unix_s) == (clock, STAMP)
        assert MinuteChip.from_block(after, at=STAMP + 200).fraction_s == 0

    def test_no_stamp_stays_beside_registers_that_ran_on(self) -> None:
        save = rtcsave.loads(HEALTHY48)
        chip = CounterChip.from_block(save.clock_block)
        chip.run(5)
        assert chip.to_block(None).stamp == 0
        carried = rtcsave.loads(REGISTERS10).advance_to(STAMP + 9, saved_at=STAMP)
        chip = CounterChip.from_block(carried.clock_block, at=STAMP + 9)
        chip.run(5)
        assert carried.with_block(chip.to_block(STAMP + 14)).carried_s == STAMP + 14


class TestState:
    @pytest.mark.parametrize(("kind", "raw", "layout"), CHIPS)
    def test_a_chip_goes_back_to_it(self, kind: Any, raw: bytes, layout: str) -> None:
        chip = kind.from_block(rtcsave.loads(raw, layout=layout).clock_block, at=STAMP + 0.3)
        before = chip.state
        assert kind.from_state(before).state == before
        chip.run(1e6 + 0.7)
        chip.write(0x0000, 0x0A)
        chip.write(13, 0x9)
        after = chip.state
        assert after != before
        chip.state = before
        assert chip.state == before
        assert chip.to_block(STAMP).raw == raw
        assert len(repr(before)) < 80
        assert pickle.loads(pickle.dumps(before)) == before

    @pytest.mark.parametrize(("kind", "raw", "layout"), CHIPS)
    def test_a_copy_is_a_copy(self, kind: Any, raw: bytes, layout: str) -> None:
        chip = kind.from_block(rtcsave.loads(raw, layout=layout).clock_block)
        for make in (copy.copy, copy.deepcopy):
            other = make(chip)
            before = chip.state
            other.run(1e6 + 0.5)
            assert chip.state == before != other.state

    def test_the_whole_of_a_counter_chip(self) -> None:
        chip = CounterChip(CounterClock(seconds=7, minutes=0, hours=0, day_counter=1))
        chip.run(0.5)
        chip.write(0x0000, 0x0A)
        chip.write(0x6000, 0x00)
        chip.write(0x6000, 0x01)
        chip.write(0x6000, 0x00)
        chip.write(0x4000, 0x09)
        state = chip.state
        assert (state.running, state.latched) == (chip.snapshot(), chip.snapshot())
        assert (state.ticks, state.part) == (16_384, 0.0)
        assert (state.selected, state.latch_armed, state.open) == (9, True, True)
        assert repr(state) == "<CounterState 1d00:00:07 and 0.500 s, open, 09h selected>"

    def test_the_state_of_another_kind_is_refused(self) -> None:
        with pytest.raises(BadArgument, match="no state of a counter chip"):
            CounterChip.from_state(MinuteChip().state)  # type: ignore[arg-type]


@pytest.mark.parametrize("kind", [CounterChip, MinuteChip, CalendarChip])
def test_waits_add_up(kind: Any) -> None:
    chip = kind()
    for _ in range(250_000):
        chip.wait(4)
    assert abs(chip.fraction_s + (chip.snapshot().to_seconds() % 60) - 1) < 1e-6
    with pytest.raises(BadArgument):
        chip.wait(-1)


def test_the_present_as_a_float_is_an_instant() -> None:
    save = rtcsave.loads(HEALTHY48).advance_to(time.time())
    assert abs(save.clock_block.usable_unix_s - time.time()) < 60  # type: ignore[operator]


class TestWhatWouldLoseASave:
    @pytest.mark.parametrize(("kind", "raw", "layout"), CHIPS[1:])
    def test_a_standalone_block_is_not_put_after_memory(
        self, kind: Any, raw: bytes, layout: str
    ) -> None:
        save = rtcsave.loads(memory() + HEALTHY48)
        block = kind.from_block(rtcsave.loads(raw, layout=layout).clock_block).to_block(STAMP)
        with pytest.raises(DoesNotFit, match="is only ever a file of its own"):
            save.with_block(block)

    def test_a_minute_is_never_stamped_ahead(self) -> None:
        for fraction in (0.5, 0.7, 0.99):
            block = MinuteChip().to_block(STAMP + fraction)
            assert block.carried_s == STAMP
            save = SaveFile(memory=b"", block=block).advance_to(STAMP + 0.995)
            assert save.clock_block.running == block.running

    def test_an_instant_that_is_carried_and_ahead_says_so(self) -> None:
        block = MinuteChip().to_block(STAMP + 600)
        with pytest.raises(rtcsave.StampUnusable, match="the instant that the save carries"):
            SaveFile(memory=b"", block=block).advance_to(STAMP)

    @pytest.mark.parametrize("instant", [12_345.6, STAMP * 1_000, -1, time.monotonic()])
    def test_another_clocks_seconds_are_no_instant_of_a_save(self, instant: float) -> None:
        with pytest.raises(BadArgument, match="no save was written at that instant"):
            CounterChip().to_block(instant)

    def test_milliseconds_do_not_advance_a_clock(self) -> None:
        with pytest.raises(BadArgument, match="perhaps it is in milliseconds"):
            rtcsave.loads(HEALTHY48).advance_to(STAMP * 1_000)


@pytest.mark.parametrize(("kind", "raw", "layout"), CHIPS)
def test_the_chip_of_a_block(kind: Any, raw: bytes, layout: str) -> None:
    block = rtcsave.loads(raw, layout=layout).clock_block
    chip = rtcsave.chip_of(block, at=STAMP + 0.25)
    assert type(chip) is kind
    assert chip.state == kind.from_block(block, at=STAMP + 0.25).state
    with pytest.raises(BadArgument, match="its clock_block"):
        rtcsave.chip_of(SaveFile(memory=b"", block=block))  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("clock", "layout"),
    [
        (CounterClock.from_seconds(5), "block48"),
        (MinuteClock(minute_of_day=5, day_counter=7), "minutes12"),
        (rtcsave.CalendarClock.from_seconds(5), "calendar26"),
    ],
)
def test_a_first_save_of_each_kind(clock: rtcsave.Clock, layout: str) -> None:
    block = ClockBlock.new(clock, saved_at=STAMP)
    assert (block.layout.name, block.running) == (layout, clock)
    save = SaveFile(memory=b"", block=block)
    assert save.saved_at is not None
    assert save.saved_at.timestamp() == STAMP
