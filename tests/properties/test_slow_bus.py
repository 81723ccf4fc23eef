"""The calendar clock on a slow bus: time passes with every access while it is read and written."""

from __future__ import annotations

import random

import pytest

from rtcsave import CalendarChip, CalendarClock, NotTaken, sequence_to_read, sequence_to_write
from rtcsave.chips.divider import TICKS_PER_S

ACCESS_MS = (1, 4, 10, 40, 70, 100, 150, 200, 303, 400)
# Year, month, day, leap counter: before a day, month, leap day, year, leap year and century
EVES = ((26, 3, 10, 2), (26, 4, 30, 2), (24, 2, 28, 0), (24, 2, 29, 0), (26, 12, 31, 2), (27, 12, 31, 3),
        (99, 12, 31, 3))  # fmt: skip


class SlowChip(CalendarChip):
    """A chip whose every access takes a time, and that keeps what it showed meanwhile."""

    access_ticks = 0

    def read(self, address: int) -> int | None:
        """Read after the time of an access."""
        self.run(ticks=self.access_ticks)
        return super().read(address)

    def write(self, address: int, value: int) -> None:
        """Write after the time of an access."""
        self.run(ticks=self.access_ticks)
        super().write(address, value)

    def run(self, seconds: float | None = None, *, ticks: int | None = None) -> None:
        """Let time pass, and keep the clock that it makes."""
        super().run(seconds, ticks=ticks)
        self.showed = {*getattr(self, "showed", ()), self.snapshot()}


def a_clock(dice: random.Random) -> CalendarClock:
    year, month, day, leap_counter = dice.choice(EVES)
    return CalendarClock(
        year=year, month=month, day=day, leap_counter=leap_counter, weekday=dice.randrange(7),
        hours=dice.choice((9, 11, 19, 23, 23)), minutes=dice.choice((9, 29, 59, 59)),
        seconds=dice.randrange(40, 60), twelve_hour=dice.random() < 0.5, alarm=0x2860715,
    )  # fmt: skip


def slow_chip(clock: CalendarClock, access_ms: int, dice: random.Random) -> SlowChip:
    chip = SlowChip(clock)
    chip.run(ticks=dice.randrange(TICKS_PER_S))
    chip.access_ticks = access_ms * TICKS_PER_S // 1000
    return chip


@pytest.mark.parametrize("access_ms", ACCESS_MS)
def test_no_reading_is_torn_and_none_fails(access_ms: int) -> None:
    dice = random.Random(access_ms)
    reading = sequence_to_read("calendar")
    for _ in range(160):
        chip = slow_chip(a_clock(dice), access_ms, dice)
        assert reading.clock(reading.replay(chip)) in chip.showed


@pytest.mark.parametrize("access_ms", ACCESS_MS)
def test_a_right_clock_is_taken_and_right_afterwards(access_ms: int) -> None:
    dice = random.Random(access_ms)
    for _ in range(40):
        clock = a_clock(dice)
        chip = slow_chip(a_clock(dice), access_ms, dice)
        sequence_to_write(clock).replay(chip)
        # start the timer, look at the mode and at the alarm: 13 accesses after the second began
        assert chip.snapshot() == clock.advance(13 * chip.access_ticks // TICKS_PER_S)
        assert chip.timer_enabled


def test_a_bus_that_is_too_slow_is_named() -> None:
    chip = slow_chip(a_clock(random.Random(1)), 5_000, random.Random(1))
    with pytest.raises(NotTaken) as caught:
        sequence_to_read("calendar").replay(chip)
    assert caught.value.what.startswith(
        "two reads of one register differ in each of 8 readings: the bus is slow, or noisy ("
    )
    assert caught.value.remedy.endswith("each access has to be done within 400 ms")


def test_a_bus_of_any_speed_gives_no_torn_reading() -> None:
    dice = random.Random(7)
    reading = sequence_to_read("calendar")
    failed = 0
    for _ in range(80):
        chip = slow_chip(a_clock(dice), dice.randrange(400, 6_000), dice)
        try:
            assert reading.clock(reading.replay(chip)) in chip.showed
        except NotTaken:
            failed += 1
    assert 0 < failed < 80


def test_every_digit_that_carries_is_compared() -> None:
    answers = sequence_to_read("calendar").replay(CalendarChip())
    again = {name for name in answers if name.endswith("_again")}
    assert again == {
        "seconds_10_again", "minutes_1_again", "minutes_10_again", "hours_1_again", "hours_10_again",
        "weekday_again", "day_1_again", "day_10_again", "month_1_again", "month_10_again",
        "year_1_again", "year_10_again", "leap_counter_again", "mode_again",
    }  # fmt: skip
    for name in again:
        with pytest.raises(NotTaken, match=r"two reads of one register differ.*read it again"):
            sequence_to_read("calendar").clock({**answers, name: answers[name] + 1})


def test_a_chip_that_does_not_start_is_found_out() -> None:
    class Stopped(CalendarChip):
        def write(self, address: int, value: int) -> None:
            super().write(address, value & 7 if address == 13 else value)

    with pytest.raises(NotTaken, match=r"access \d+, mode"):
        sequence_to_write(a_clock(random.Random(2))).replay(Stopped())
