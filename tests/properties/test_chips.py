"""Chips against a slow model, sequences against chips, and chips against anything at all."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from known import HEALTHY44_BE, HEALTHY48, REGISTERS10, STAMP

from rtcsave import (
    BadArgument,
    CalendarChip,
    CalendarClock,
    CounterChip,
    CounterClock,
    MinuteChip,
    NotTaken,
    loads,
    sequence_to_read,
    sequence_to_write,
    strategies,
)

from .test_counter_counting import clocks, tick


class SlowChip:
    """The bus of the day-counter clock, written apart from the library: a tick at a time, bytes
    only (Pan Docs; hardware measurements, public domain)."""

    def __init__(self) -> None:
        self.registers = [0] * 5
        self.copy = [0] * 5
        self.ticks = 0
        self.open = False
        self.select = 0
        self.latch = None

    def write(self, address: int, value: int) -> None:
        area = address >> 13
        if area == 0:
            self.open = value == 0x0A
        elif area == 2:
            self.select = value
        elif area == 3:
            if self.latch == 0 and value == 1:
                self.copy = list(self.registers)
            self.latch = value  # type: ignore[assignment]
        elif area == 5 and self.open and 8 <= self.select <= 12:
            mask = (0x3F, 0x3F, 0x1F, 0xFF, 0xC1)[self.select - 8]
            self.registers[self.select - 8] = value & mask
            if self.select == 8:
                self.ticks = 0

    def read(self, address: int) -> int | None:
        if address >> 13 != 5:
            return None
        if not self.open:
            return 0xFF
        if self.select < 8:
            return None
        return self.copy[self.select - 8] if self.select <= 12 else 0xFF

    def run(self, ticks: int) -> None:
        if self.registers[4] & 0x40:
            return
        self.ticks += ticks
        while self.ticks >= 32_768:
            self.ticks -= 32_768
            tick(self.registers)


addresses = st.one_of(
    st.sampled_from((0x0000, 0x1FFF, 0x4000, 0x5FFF, 0x6000, 0x7FFF, 0xA000, 0xBFFF)),
    st.integers(0, 0xFFFF),
)
values = st.one_of(
    st.sampled_from((0, 1, 0x0A, 8, 9, 10, 11, 12, 13, 0x40, 0x80, 59, 63)), st.integers(0, 255)
)
actions = st.one_of(
    st.tuples(st.just("write"), addresses, values),
    st.tuples(st.just("read"), addresses),
    st.tuples(st.just("run"), st.integers(0, 32_768 * 90)),
)


@given(walk=st.lists(actions, max_size=60))
def test_a_random_walk_on_the_bus(walk: list[tuple[Any, ...]]) -> None:
    chip, slow = CounterChip(), SlowChip()
    for each_chip in (chip, slow):
        each_chip.write(0x0000, 0x0A)
    for what, *rest in walk:
        if what == "write":
            chip.write(*rest)
            slow.write(*rest)
        elif what == "read":
            assert chip.read(*rest) == slow.read(*rest)
        else:
            chip.run(ticks=rest[0])
            slow.run(rest[0])
        assert list(chip.snapshot().registers()) == slow.registers
    assert chip.divider_ticks == slow.ticks


def read_clock(kind: str, chip: Any) -> Any:
    """The clock that a chip's bus tells."""
    sequence = sequence_to_read(kind)
    return sequence.clock(sequence.replay(chip))


@given(clock=clocks)
def test_a_written_counter_clock_is_taken(clock: CounterClock) -> None:
    chip = CounterChip()
    chip.run(ticks=12_345)
    sequence_to_write(clock).replay(chip)
    assert chip.snapshot() == clock
    assert chip.latched == clock
    assert not chip.is_open
    answers = sequence_to_read("counter").replay(chip)
    assert sequence_to_read("counter").clock(answers) == clock


# Fh in every digit is taken for a bus on which nothing answers
minute_clocks = strategies.clocks("minutes", in_range=False).filter(
    lambda clock: set(clock.registers()) != {0xF}
)


@given(clock=minute_clocks, before=minute_clocks, busy=st.integers(0, 5))
def test_a_written_minute_clock_is_taken(clock: Any, before: Any, busy: int) -> None:
    chip = MinuteChip(before, busy_polls=busy)
    sequence_to_write(clock).replay(chip)
    assert chip.snapshot() == clock
    assert read_clock("minutes", chip) == clock


calendar_registers = strategies.registers("calendar")


@given(registers=calendar_registers, before=calendar_registers)
def test_a_written_calendar_clock_is_taken(registers: bytes, before: bytes) -> None:
    clock = CalendarClock.from_registers(registers)
    chip = CalendarChip(CalendarClock.from_registers(before))
    sequence_to_write(clock).replay(chip)
    assert chip.snapshot() == clock
    assert chip.timer_enabled
    assert read_clock("calendar", chip) == clock


@given(registers=st.lists(st.integers(0, 15), min_size=26, max_size=26).map(bytes))
def test_every_bit_of_a_calendar_clock_survives(registers: bytes) -> None:
    clock = CalendarClock.from_registers(registers, stray="drop")
    masks = [register.mask for register in CalendarClock.REGISTERS]
    assert clock.registers() == bytes(n & m for n, m in zip(registers, masks, strict=True))


@given(
    year=st.integers(0, 99), phase=st.integers(0, 3), month=st.integers(1, 12),
    day=st.integers(1, 28), a=st.integers(0, 10**10), b=st.integers(0, 10**10),
)  # fmt: skip
def test_calendar_counting_is_additive(
    year: int, phase: int, month: int, day: int, a: int, b: int
) -> None:
    clock = CalendarClock(
        year=year, month=month, day=day, weekday=0, hours=1, minutes=2, seconds=3,
        leap_counter=phase,
    )  # fmt: skip
    assert clock.advance(a).advance(b) == clock.advance(a + b)
    assert clock.shifted(a)[0] == clock.advance(a)
    assert clock.shifted(a)[0].shifted(-a)[0] == clock
    assert clock.as_time() == (clock, 0)


@given(data=st.data())
def test_no_chip_raises_whatever_the_bus_does(data: st.DataObject) -> None:
    kind = data.draw(st.sampled_from(("counter", "minutes", "calendar")))
    chip = {"counter": CounterChip, "minutes": MinuteChip, "calendar": CalendarChip}[kind]()
    number = st.integers(-(2**20), 2**20)
    for access in data.draw(strategies.accesses(kind)):
        byte = access.on(chip)
        assert byte is None or 0 <= byte <= 0xFF
        chip.write(data.draw(number), data.draw(number))
        byte = chip.read(data.draw(number))
        assert byte is None or 0 <= byte <= 0xFF
    chip.snapshot()


class TestSequences:
    clock = CounterClock(seconds=7, minutes=40, hours=13, day_counter=300)

    def test_halt_first_then_the_registers_then_the_release(self) -> None:
        writes = [
            (step.address, step.value)
            for step in sequence_to_write(self.clock)
            if step.kind == "write"
        ]
        latch = [(0x6000, 0x00), (0x6000, 0x01)]
        selects = [(0x4000, 0x08), (0x4000, 0x09), (0x4000, 0x0A), (0x4000, 0x0B), (0x4000, 0x0C)]
        assert writes == [
            (0x0000, 0x0A), *latch, *latch, (0x4000, 0x0C), *selects,  # what is there
            (0x4000, 0x0C), (0xA000, 0x41),
            (0x4000, 0x08), (0xA000, 7), (0xA000, 7),
            (0x4000, 0x09), (0xA000, 40),
            (0x4000, 0x0A), (0xA000, 13),
            (0x4000, 0x0B), (0xA000, 0x2C),
            *latch, *latch, *selects, (0x4000, 0x0C),  # read back while it is halted
            (0xA000, 0x01), *latch, (0x4000, 0x0C),  # released, and looked at once more
            (0x0000, 0x00), (0x4000, 0x00), (0x0000, 0x00),
        ]  # fmt: skip

    def test_the_last_register_write_is_the_one_that_is_due(self) -> None:
        steps = sequence_to_write(self.clock, at=STAMP)
        assert steps.at_unix_s == STAMP
        assert steps.due_index is not None
        due = steps.steps[steps.due_index]
        assert (due.address, due.value) == (0xA000, 0x01)
        # 4 us between accesses (Pan Docs): 48 accesses before it
        assert steps.due_index == 48
        assert steps.lead_us == 192

    @pytest.mark.parametrize("pause", [0, 1, 32_700, 70_000])
    def test_a_calendar_clock_is_right_however_long_the_flasher_waits(self, pause: int) -> None:
        clock = CalendarClock(
            year=24, month=2, day=28, weekday=3, hours=14, minutes=5, seconds=6, leap_counter=0
        )
        chip = CalendarChip()
        chip.run(ticks=12_345)
        steps = sequence_to_write(clock)
        mode = 0
        for number, step in enumerate(steps):
            if number == steps.due_index:
                chip.run(ticks=pause)  # waiting for the instant
            if step.kind == "write":
                kept = mode & ~step.mask if step.keep else 0
                chip.write(step.address, step.value & step.mask | kept)  # type: ignore[arg-type, operator]
        chip.run(ticks=32_767)
        assert chip.snapshot() == clock
        chip.run(ticks=1)
        assert chip.snapshot() == clock.advance(1)

    @pytest.mark.parametrize("mode", [0x0, 0x4, 0x8, 0xC])
    def test_reading_a_calendar_changes_nothing(self, mode: int) -> None:
        chip = CalendarChip()
        chip.write(13, mode)
        before = bytes(chip._banks), chip.read(13)
        sequence_to_read("calendar").replay(chip)
        assert (bytes(chip._banks), chip.read(13)) == before

    def test_another_chip_is_not_taken_for_the_right_one(self) -> None:
        for kind, chip in (("counter", MinuteChip()), ("minutes", CounterChip())):
            with pytest.raises(NotTaken):
                sequence_to_read(kind).replay(chip)  # type: ignore[arg-type]
        with pytest.raises(BadArgument):
            sequence_to_read("sundial")
        with pytest.raises(NotTaken, match="registers were not read"):
            sequence_to_read("counter").clock({"seconds": 5})

    @pytest.mark.parametrize("chip", [CounterChip, MinuteChip, CalendarChip])
    def test_wrong_arguments(self, chip: Any) -> None:
        for call in (lambda: chip(5), lambda: chip.from_block(None), lambda: chip().write(0, 1.5)):
            with pytest.raises(BadArgument):
                call()

    def test_a_halted_clock_stays_halted(self) -> None:
        chip = CounterChip()
        halted = self.clock.with_values(halt=True)
        steps = sequence_to_write(halted)
        steps.replay(chip)
        assert chip.snapshot() == halted
        assert steps.steps[steps.due_index].value == 0x41  # type: ignore[index]

    def test_accesses_have_a_wait_between_them(self) -> None:
        waits: list[float] = []

        class Watched(CounterChip):
            def wait(self, microseconds: float) -> None:
                waits.append(microseconds)

        steps = sequence_to_write(self.clock)
        steps.replay(Watched())
        assert waits == [4] * (len(steps) - 1)

    def test_a_chip_that_does_not_take_it_is_found_out(self) -> None:
        class Stuck(CounterChip):
            def write(self, address: int, value: int) -> None:
                if address != 0xA000 or value != 40:
                    super().write(address, value)

        with pytest.raises(NotTaken, match=r"did not take what was written \(access 41, minutes\)"):
            sequence_to_write(self.clock).replay(Stuck())

    def test_a_chip_that_is_never_ready_is_given_up(self) -> None:
        with pytest.raises(NotTaken, match="polls"):
            sequence_to_read("minutes").replay(MinuteChip(busy_polls=10**9))

    def test_replay_goes_through_the_chips_own_accesses(self) -> None:
        seen: list[tuple[Any, ...]] = []

        class Watched(CounterChip):
            def write(self, address: int, value: int) -> None:
                seen.append(("write", address))
                super().write(address, value)

            def read(self, address: int) -> int | None:
                seen.append(("read", address))
                return super().read(address)

            def wait(self, microseconds: float) -> None:
                seen.append(("wait",))

        sequence_to_read("counter").replay(Watched())
        assert {access[0] for access in seen} == {"write", "read", "wait"}

    @pytest.mark.parametrize("wrong", [None, "12d03:04:05", 5, [], HEALTHY48])
    def test_bad_input_gives_no_steps(self, wrong: Any) -> None:
        with pytest.raises(BadArgument):
            sequence_to_write(wrong)
        with pytest.raises(BadArgument):
            sequence_to_read(wrong)
        with pytest.raises(BadArgument):
            sequence_to_write(self.clock, at="now")  # type: ignore[arg-type]


def test_straight_to_and_from_a_save() -> None:
    block = loads(HEALTHY48).clock_block
    chip = CounterChip.from_block(block)
    assert chip.to_block(STAMP) == block
    assert chip.to_block(None, layout="registers10").raw == REGISTERS10
    other = loads(HEALTHY44_BE).clock_block
    assert CounterChip.from_block(other).to_block(STAMP) == other
    assert CounterChip.from_block(loads(REGISTERS10[:5]).clock_block).latched == block.running
    with pytest.raises(BadArgument, match="kind of clock"):
        CounterChip.from_block(loads(bytes(6)).clock_block)
