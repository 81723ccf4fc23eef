"""One fault in one access on a bus, at every access in turn: a lost write, a wrong bit, a wrong answer, none.

A clock that is written is right, or an error is raised. A clock that is read is right, or an error or a doubt
says so. Reading changes nothing, no fault changes the memory without an error, and the cartridge is closed.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, NamedTuple

import pytest

from rtcsave import (
    CalendarChip,
    CalendarClock,
    CounterChip,
    CounterClock,
    MinuteChip,
    MinuteClock,
    NotTaken,
    sequence_to_read,
    sequence_to_write,
)
from rtcsave.clocks import Clock

OTHER_DATE = CalendarClock(
    year=24, month=2, day=28, weekday=3, hours=9, minutes=59, seconds=58, leap_counter=0
)
# What is written, and what the clock shows before it is.
PAIRS: dict[str, tuple[tuple[Any, Any], ...]] = {
    "counter": (
        (
            CounterClock(seconds=7, minutes=40, hours=13, day_counter=300),
            CounterClock(seconds=1, minutes=2, hours=3, day_counter=4, carry=True),
        ),
        (
            CounterClock(seconds=13, minutes=13, hours=13, day_counter=321, halt=True),
            CounterClock(seconds=13, minutes=13, hours=13, day_counter=321),
        ),
        (
            CounterClock(seconds=0, minutes=0, hours=0, day_counter=65),
            CounterClock(seconds=0, minutes=0, hours=0, day_counter=0),
        ),
    ),
    "minutes": (
        (
            MinuteClock(minute_of_day=820, day_counter=2_012, event_minutes=5, event_days=9),
            MinuteClock(minute_of_day=7, day_counter=31, event_minutes=1_000, event_days=4_000),
        ),
    ),
    "calendar": (
        (
            CalendarClock(
                year=26, month=11, day=25, weekday=4, hours=13, minutes=40, seconds=7,
                leap_counter=2, alarm=0x2860715,
            ),
            OTHER_DATE,
        ),
        (OTHER_DATE, OTHER_DATE.with_values(hours=23)),
    ),
}  # fmt: skip
CHIPS: dict[str, Any] = {"counter": CounterChip, "minutes": MinuteChip, "calendar": CalendarChip}
BANKS = 16


class Fault(NamedTuple):
    """What happens at the access of a number, counted from 1."""

    number: int
    kind: str
    bit: int = 0


class OneFault:
    """A bus with a cartridge of clock and memory, and one fault."""

    def __init__(self, chip: Any, fault: Fault | None = None, access_us: int = 20) -> None:
        self.chip, self.fault, self.access_us = chip, fault, access_us
        self.accesses = 0
        self.passed_us = 0
        self.was_read: list[bool] = []
        self.memory = bytearray(0x5A ^ bank for bank in range(BANKS))  # a byte at A000h a bank

    def is_faulty(self, is_read: bool) -> bool:
        self.accesses += 1
        self.was_read.append(is_read)
        self.wait(self.access_us)
        return self.fault is not None and self.accesses == self.fault.number

    def write(self, address: int, value: int) -> None:
        if self.is_faulty(False):
            assert self.fault is not None
            if self.fault.kind == "lost":
                return
            value ^= 1 << self.fault.bit
        bank = getattr(self.chip, "memory_bank", None)
        if bank is not None and address >= 0xA000 and self.chip.kind == "counter":
            self.memory[bank % BANKS] = value
        self.chip.write(address, value)

    def read(self, address: int) -> int | None:
        is_faulty = self.is_faulty(True)
        value: int | None = self.chip.read(address)
        bank = getattr(self.chip, "memory_bank", None)
        if value is None and bank is not None and self.chip.kind == "counter":
            value = self.memory[bank % BANKS]
        if not is_faulty:
            return value
        assert self.fault is not None
        if self.fault.kind == "lost":
            return None
        if self.fault.kind == "floating":
            return 0xFF
        if self.fault.kind == "low":
            return 0
        return value ^ 1 << self.fault.bit if value is not None else None

    def wait(self, microseconds: int) -> None:
        self.passed_us += microseconds
        self.chip.wait(microseconds)

    def kept(self) -> object:
        """What no fault may change without an error: the memory, and what lies beside the clock."""
        chip = self.chip
        if chip.kind == "counter":
            return bytes(self.memory)
        return chip.state.banks[26:] if chip.kind == "calendar" else None

    @property
    def is_closed(self) -> bool:
        if self.chip.kind == "counter":
            return not self.chip.is_open
        return self.chip.kind != "minutes" or self.chip.memory_bank == 0


def faults_of(was_read: list[bool]) -> Iterator[Fault]:
    """Each fault at each access of a run that was watched; of a long one a bit at each, in turn."""
    for number, is_read in enumerate(was_read, 1):
        yield Fault(number, "lost")
        for bit in range(8) if len(was_read) < 200 else (number % 8, (number // 8) % 8):
            yield Fault(number, "bit", bit)
        if is_read:
            yield Fault(number, "floating")
            yield Fault(number, "low")


CASES = [(kind, written, before) for kind, pairs in PAIRS.items() for written, before in pairs]


@pytest.mark.parametrize(("kind", "clock", "before"), CASES)
def test_one_fault_while_a_clock_is_written(kind: str, clock: Clock, before: Clock) -> None:
    sequence = sequence_to_write(clock)
    whole = OneFault(CHIPS[kind](before))
    sequence.replay(whole)
    assert whole.chip.snapshot() == clock
    assert whole.is_closed
    noticed, silent = 0, []
    for fault in faults_of(whole.was_read):
        bus = OneFault(CHIPS[kind](before), fault)
        kept = bus.kept()
        try:
            sequence.replay(bus)
        except NotTaken:
            noticed += 1
        else:
            right = bus.chip.snapshot() == clock and bus.kept() == kept
            if not right or getattr(bus.chip, "timer_enabled", True) is False:
                silent.append(fault)
        if not bus.is_closed:
            silent.append(fault)
    assert silent == []
    assert noticed > 50


READINGS = [(*case[:2], 20) for case in CASES] + [("calendar", OTHER_DATE, 20_000)]
"""On a slow bus a calendar clock ticks in every reading, so that it is read again."""


@pytest.mark.parametrize(("kind", "clock", "access_us"), READINGS)
def test_one_fault_while_a_clock_is_read(kind: str, clock: Clock, access_us: int) -> None:
    sequence = sequence_to_read(kind, twice=True)

    def chip() -> Any:
        made = CHIPS[kind](clock)
        if kind == "counter":  # a latch of before, of another time
            made.state = CounterChip(PAIRS[kind][0][1]).state
            other = CounterChip(clock)
            made._clock = other.snapshot()
        return made

    whole = OneFault(chip(), access_us=access_us)
    answers = sequence.replay(whole)
    passed_s = whole.passed_us // 1_000_000
    unit_s = clock.resolution_s
    times = {clock.advance(later) for later in range(0, passed_s + 1, unit_s)}
    assert sequence.clock(answers) in times
    assert sequence.doubts(answers) == ()
    silent = []
    for fault in faults_of(whole.was_read):
        bus = OneFault(chip(), fault, access_us)
        kept, mode = bus.kept(), getattr(bus.chip.state, "mode", None)
        read, doubts = None, ()
        try:
            answers = sequence.replay(bus)
            read, doubts = sequence.clock(answers), sequence.doubts(answers)
        except NotTaken:
            pass
        passed_s = bus.passed_us // 1_000_000 // unit_s * unit_s  # some, where it was read again
        is_right = read in {clock.advance(later) for later in range(0, passed_s + 1, unit_s)}
        is_noticed = read is None or bool(doubts)
        is_same = bus.chip.snapshot() == clock.advance(passed_s) and bus.kept() == kept
        is_same = is_same and getattr(bus.chip.state, "mode", None) == mode
        is_well = is_noticed or (is_right and is_same)
        if kind != "minutes":  # no noise while these are read changes them
            is_well = is_well and is_same
        if not (is_well and bus.is_closed):
            silent.append(fault)
    assert silent == []


@pytest.mark.parametrize("kind", list(CHIPS))
def test_one_fault_is_got_over_where_a_clock_is_only_read(kind: str) -> None:
    clock = PAIRS[kind][0][0]
    sequence = sequence_to_read(kind, twice=True)
    whole = OneFault(CHIPS[kind](clock))
    sequence.replay(whole)
    reads = [number for number, is_read in enumerate(whole.was_read, 1) if is_read]
    for number in reads[:: max(1, len(reads) // 60)]:
        answers = sequence.replay(OneFault(CHIPS[kind](clock), Fault(number, "lost")))
        assert sequence.clock(answers) == clock
        assert answers["failed_readings"] == 1
        assert "the bus is noisy" in sequence.doubts(answers)[-1]


@pytest.mark.xfail(
    strict=True, raises=AssertionError, reason="the controller gives no way to notice it"
)
def test_a_digit_of_the_event_that_is_cleared_while_it_is_read_the_last_time_is_noticed() -> None:
    clock = MinuteClock(minute_of_day=820, day_counter=2_012, event_minutes=0x55)
    sequence = sequence_to_read("minutes", twice=True)
    # the second digit is the same as the first: what is shown then is right, and it is cleared
    note = "read event_minutes_1_again and step"
    number = next(
        n for n, step in enumerate(sequence, 1) if step.kind == "write" and step.note == note
    )
    bus = OneFault(MinuteChip(clock), Fault(number, "bit", 5))
    answers = sequence.replay(bus)
    assert bus.chip.snapshot() == clock or sequence.doubts(answers)
