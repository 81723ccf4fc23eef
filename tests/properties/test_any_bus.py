"""Sequences on a bus that is not ours: slow, with waits at random, noisy, gone in the middle.

Whatever happens, the clock is right at its instant, or an error names the cause, and the cartridge is closed.
"""

from __future__ import annotations

import contextlib
import random
from typing import Any

import pytest
from known import STAMP

from rtcsave import (
    BadArgument,
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

KINDS = ("counter", "minutes", "calendar")
CHIPS: dict[str, Any] = {"counter": CounterChip, "minutes": MinuteChip, "calendar": CalendarChip}


class OtherBus:
    """A bus in front of a chip: each access takes up to `slowest_s`, and one of them may fail."""

    def __init__(
        self, chip: Any, dice: random.Random, slowest_s: float, fault: str = "", of: int = 40
    ) -> None:
        self.chip = chip
        self.dice = dice
        self.slowest_s = slowest_s
        self.fault = fault
        self.now_s = 0.0
        self.accesses = 0
        self.fails_at = dice.randrange(1, of + 1)  # one of so many accesses

    def wait(self, microseconds: float) -> None:
        self.pass_time(microseconds / 1e6)

    def pass_time(self, seconds: float) -> None:
        self.now_s += seconds
        self.chip.run(seconds)

    def access(self) -> bool:
        """Take a time; whether this is the access that fails."""
        self.accesses += 1
        self.pass_time(self.dice.uniform(0, self.slowest_s))
        return self.accesses == self.fails_at

    def write(self, address: int, value: int) -> None:
        if self.access():
            if self.fault == "raises":
                raise OSError("the line is down")
            if self.fault == "dropped":
                return
        if self.fault == "stuck" and self.accesses >= self.fails_at and address in (0xA000, 1, 3):
            value |= 0x02
        self.chip.write(address, value)

    def read(self, address: int) -> int | None:
        fails = self.access()
        value: int | None = self.chip.read(address)
        if fails and self.fault == "raises":
            raise OSError("the line is down")
        if fails and self.fault == "silent":
            return None
        if fails and self.fault == "noise" and value is not None:
            return value ^ 1 << self.dice.randrange(8)
        return 0xFF if self.fault == "floating" else value


def a_clock(kind: str, dice: random.Random) -> Any:
    if kind == "counter":
        day = dice.choice((0, 255, 300, 511))
        hour, minute = dice.choice(((23, 59), (13, 40), (0, 0)))
        return CounterClock(
            seconds=dice.randrange(60), minutes=minute, hours=hour, day_counter=day,
            carry=dice.random() < 0.3,
        )  # fmt: skip
    if kind == "minutes":
        return MinuteClock(
            minute_of_day=dice.choice((0, 755, 1_439)), day_counter=dice.choice((0, 255, 4_095)),
            event_minutes=dice.randrange(1_440), event_days=dice.randrange(4_096),
        )  # fmt: skip
    return CalendarClock(
        year=dice.choice((24, 26, 99)), month=2, day=28, weekday=3, leap_counter=dice.randrange(4),
        hours=dice.choice((9, 23)), minutes=59, seconds=dice.randrange(60),
    )  # fmt: skip


def is_closed(kind: str, bus: OtherBus) -> bool:
    if kind == "counter":
        return not bus.chip.is_open
    if kind == "minutes":
        return bool(bus.chip.memory_bank == 0)
    return bool(bus.chip.timer_enabled)


@pytest.mark.parametrize("slowest_s", [0.0, 0.003, 0.1, 0.4])
@pytest.mark.parametrize("kind", KINDS)
def test_a_clock_is_right_at_its_instant(kind: str, slowest_s: float) -> None:
    for seed in range(60):
        dice = random.Random(seed)
        clock = a_clock(kind, dice)
        bus = OtherBus(CHIPS[kind](a_clock(kind, dice)), dice, slowest_s)
        sequence = sequence_to_write(clock, at=STAMP)
        called: list[float] = []

        def wait_for_it(bus: OtherBus = bus, called: list[float] = called) -> None:
            bus.pass_time(bus.dice.uniform(0, 90))
            called.append(bus.now_s)

        sequence.replay(bus, at_due=wait_for_it)
        assert is_closed(kind, bus)
        (due_s,) = called
        # the access itself, and one more of the calendar clock, come up to as much later
        least_s, most_s = bus.now_s - due_s - 2 * slowest_s, bus.now_s - due_s
        unit_s = clock.resolution_s
        possible = {
            clock.advance(unit_s * units)
            for units in range(int(least_s // unit_s), int(most_s // unit_s) + 1)
            if units >= 0
        }
        clock_now = bus.chip.snapshot()
        if kind == "minutes":  # the time is set first, then the event
            clock_now = clock_now.with_values(
                event_minutes=clock.event_minutes, event_days=clock.event_days
            )
        assert clock_now in possible


@pytest.mark.parametrize("fault", ["raises", "dropped", "silent", "noise", "stuck", "floating"])
@pytest.mark.parametrize("kind", KINDS)
def test_a_fault_is_named_or_harmless_and_the_cartridge_is_closed(kind: str, fault: str) -> None:
    failed = 0
    for seed in range(150):
        dice = random.Random(seed)
        clock = a_clock(kind, dice)
        sequence = sequence_to_write(clock, at=STAMP)
        slowest_s = dice.choice((0.0, 0.01, 0.4))
        bus = OtherBus(CHIPS[kind](), dice, slowest_s, fault, len(sequence))
        due_s = 0.0

        def at_due(bus: OtherBus = bus) -> None:
            nonlocal due_s
            due_s = bus.now_s

        try:
            sequence.replay(bus, at_due=at_due)
        except OSError:
            failed += 1
        except NotTaken as error:
            failed += 1
            number = error.access or 0
            assert 1 <= number <= len(sequence)  # it may also be harmless
        else:
            off_s = bus.chip.snapshot().to_seconds() - clock.to_seconds()
            slack_s = 60 if kind == "minutes" else 2  # the fraction of a second cannot be read
            off_s = (off_s - (bus.now_s - due_s)) % clock.period_s
            assert min(off_s, clock.period_s - off_s) <= slack_s, (seed, fault)
        assert is_closed(kind, bus), (seed, fault)
    assert failed


@pytest.mark.parametrize("kind", KINDS)
def test_what_is_raised_while_waiting_closes_the_cartridge_too(kind: str) -> None:
    bus = OtherBus(CHIPS[kind](), random.Random(1), 0.0)

    def interrupted() -> None:
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        sequence_to_write(a_clock(kind, random.Random(2))).replay(bus, at_due=interrupted)
    assert is_closed(kind, bus)


def test_a_cartridge_that_cannot_be_closed_is_said() -> None:
    class Gone(OtherBus):
        def access(self) -> bool:
            self.accesses += 1
            if self.accesses >= 10:
                raise OSError("the device is gone")
            return False

    bus = Gone(CounterChip(), random.Random(1), 0.0)
    with pytest.raises(OSError, match="the device is gone") as caught:
        sequence_to_write(a_clock("counter", random.Random(2))).replay(bus)
    assert caught.value.__notes__ == [
        "the clock was not written yet",
        "the cartridge could not be closed (the device is gone): take its power away before you take it out",
    ]


def test_a_minute_that_passed_before_the_read_back_is_named() -> None:
    clock = MinuteClock(minute_of_day=5, day_counter=7)
    bus = OtherBus(MinuteChip(), random.Random(3), 2.0)
    with pytest.raises(NotTaken, match=r"the clock shows \d+ min more than was written") as caught:
        sequence_to_write(clock).replay(bus)
    assert "contacts" not in str(caught.value)
    assert caught.value.register.startswith("minute_")
    assert caught.value.expected_value == 5
    assert caught.value.found_value is not None


def test_an_error_carries_the_bytes() -> None:
    class Stuck(CounterChip):
        def write(self, address: int, value: int) -> None:
            if address != 0xA000 or value != 40:
                super().write(address, value)

    clock = CounterClock(seconds=7, minutes=40, hours=13, day_counter=300)
    with pytest.raises(NotTaken) as caught:
        sequence_to_write(clock).replay(Stuck())
    error = caught.value
    assert (error.access, error.register) == (41, "minutes")
    assert (error.expected_value, error.found_value) == (40, 0)


class TestReading:
    @pytest.mark.parametrize("kind", KINDS)
    def test_nothing_is_made_of_a_bus_on_which_nothing_answers(self, kind: str) -> None:
        class Floating(OtherBus):
            def read(self, address: int) -> int | None:
                return 0xFF

        sequence = sequence_to_read(kind)
        with pytest.raises(NotTaken, match=r"most likely nothing answers|it answers 1|status"):
            sequence.clock(sequence.replay(Floating(CHIPS[kind](), random.Random(1), 0.0)))

    @pytest.mark.parametrize(
        ("kind", "values"),
        [
            ("counter", {"seconds": 0x47}),
            ("counter", {"day_high": 0x3F}),
            ("calendar", {"hour_mode": 0x3}),
        ],
    )
    def test_bits_that_no_register_has_are_refused(self, kind: str, values: dict[str, int]) -> None:
        sequence = sequence_to_read(kind)
        answers = sequence.replay(CHIPS[kind]())
        with pytest.raises(NotTaken, match="most likely nothing answers"):
            sequence.clock({**answers, **values})

    @pytest.mark.parametrize("kind", ["counter", "minutes"])
    def test_all_zero_is_said_to_be_either(self, kind: str) -> None:
        sequence = sequence_to_read(kind)
        answers = {name: 0 for name in sequence.replay(CHIPS[kind]()) if name != "status"}
        assert sequence.clock(answers).to_seconds() == 0
        (doubt,) = sequence.doubts(answers)
        assert doubt.startswith(
            "every register reads 0: that is a clock at zero, or nothing answers"
        )
        register = next(name for name in answers if not name.endswith("_before"))
        assert sequence.doubts({**answers, register: 1}) == ()

    @pytest.mark.parametrize("kind", KINDS)
    def test_twice_finds_the_same_clock(self, kind: str) -> None:
        dice = random.Random(4)
        clock = a_clock(kind, dice)
        sequence = sequence_to_read(kind, twice=True)
        answers = sequence.replay(CHIPS[kind](clock))
        assert sequence.clock(answers) == clock
        assert any(name.endswith("_again") for name in answers)

    @pytest.mark.parametrize("kind", KINDS)
    def test_twice_finds_noise_and_reads_again(self, kind: str) -> None:
        sequence = sequence_to_read(kind, twice=True)
        right = 0
        for seed in range(200):
            dice = random.Random(seed)
            clock = a_clock(kind, dice)
            bus = OtherBus(CHIPS[kind](clock), dice, 0.001, "noise", len(sequence))
            try:
                clock_read = sequence.clock(sequence.replay(bus))
            except NotTaken:
                continue  # the last accesses, which close the cartridge
            assert clock_read in {clock.advance(clock.resolution_s * n) for n in range(4)}, seed
            right += 1
        assert right >= 190

    def test_contacts_that_never_give_the_same_twice_are_given_up(self) -> None:
        class Noisy(OtherBus):
            def read(self, address: int) -> int | None:
                return self.dice.randrange(32)

        sequence = sequence_to_read("counter", twice=True)
        with pytest.raises(NotTaken, match="differ in each of 8 readings"):
            sequence.replay(Noisy(CounterChip(), random.Random(1), 0.0))

    @pytest.mark.parametrize("answer", [256, -1, 1.5, "7"])
    def test_what_is_no_byte(self, answer: Any) -> None:
        class Odd(OtherBus):
            def read(self, address: int) -> int | None:
                byte: int = answer
                return byte

        with pytest.raises(BadArgument, match="a bus reads bytes"):
            sequence_to_read("counter").replay(Odd(CounterChip(), random.Random(1), 0.0))


def test_a_sequence_is_never_left_half_done_by_our_own_chips() -> None:
    for kind in KINDS:
        chip = CHIPS[kind]()
        with contextlib.suppress(NotTaken):
            sequence_to_read(kind).replay(chip)
        sequence = sequence_to_write(a_clock(kind, random.Random(9)))
        assert sequence.replay(chip)


def test_a_bus_that_lacks_an_access_is_refused_before_anything_is_opened() -> None:
    class Half:
        writes = 0

        def read(self, address: int) -> int:
            return 0

        def write(self, address: int, value: int) -> None:
            self.writes += 1

    half = Half()
    with pytest.raises(BadArgument, match="the bus has no wait"):
        sequence_to_read("counter").replay(half)  # type: ignore[arg-type]
    assert half.writes == 0


def test_ff_everywhere_is_said_to_be_no_answer_where_a_clock_is_written() -> None:
    bus = OtherBus(CounterChip(), random.Random(1), 0.0, "floating")
    with pytest.raises(NotTaken, match="most likely nothing answers: FFh was read") as caught:
        sequence_to_write(a_clock("counter", random.Random(2))).replay(bus)
    assert caught.value.access == 7
