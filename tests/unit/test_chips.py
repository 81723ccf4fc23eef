"""The three chips where no source says what they do, to and from saves, and calls that are wrong."""

from __future__ import annotations

import pytest

from rtcsave import (
    BadArgument,
    CalendarChip,
    CalendarClock,
    CounterChip,
    CounterClock,
    MinuteChip,
    loads,
)

WINDOW = 0xA000


class TestCounterChip:
    def test_everything_starts_at_0(self) -> None:
        """Assumed: a new chip is closed, and its registers are 0."""
        chip = CounterChip()
        assert chip.is_open is False
        chip.write(0x0000, 0x0A)
        assert chip.snapshot() == CounterClock(seconds=0, minutes=0, hours=0, day_counter=0)
        assert chip.latched == chip.snapshot()
        assert chip.divider_ticks == 0

    @pytest.mark.parametrize(
        "wrong",
        [{}, {"seconds": 1, "ticks": 1}, {"ticks": -1}, {"ticks": 1.5}, {"seconds": -1},
         {"seconds": float("nan")}, {"seconds": 1e308}, {"seconds": True}, {"seconds": "1"}],
    )  # fmt: skip
    def test_a_time_that_cannot_pass(self, wrong: dict[str, float]) -> None:
        with pytest.raises(BadArgument):
            CounterChip().run(**wrong)  # type: ignore[arg-type]


class TestMinuteChip:
    def test_memory_answers_elsewhere(self) -> None:
        """Assumed: what is read where no register answers, and from the command register."""
        chip = MinuteChip()
        assert chip.memory_bank == 0
        assert chip.read(WINDOW) is None
        chip.write(0x0000, 0x0C)
        assert chip.memory_bank is None
        assert chip.read(0x4000) is None
        chip.write(0x0000, 0x0B)
        assert chip.read(WINDOW) == 0xFF

    def test_straight_to_and_from_a_save(self) -> None:
        raw = bytes.fromhex("0f 09 05 0c 0b 0a 03 02 01 06 05 04")
        block = loads(raw).clock_block
        assert MinuteChip.from_block(block).to_block(None).raw == raw
        with pytest.raises(BadArgument, match="another kind"):
            MinuteChip.from_block(loads(bytes(5)).clock_block)


class TestCalendarChip:
    clock = CalendarClock(
        year=24, month=2, day=28, weekday=3, hours=23, minutes=59, seconds=59, leap_counter=0
    )

    @pytest.mark.parametrize("alarm", [0, 0xF, 0x3F73F7F])
    def test_no_alarm_stops_the_time(self, alarm: int) -> None:
        """Assumed: an alarm of zeros is none in 12-hour mode, and Fh is no digit; the time counts."""
        clock = CalendarClock(
            year=24, month=2, day=28, weekday=3, hours=14, minutes=5, seconds=6,
            twelve_hour=True, alarm=alarm,
        )  # fmt: skip
        chip = CalendarChip(clock)
        chip.run(seconds=10)
        assert chip.snapshot() == clock.with_values(seconds=16)

    def test_a_weekday_that_is_none_does_not_stop_the_time(self) -> None:
        """Assumed: the source says only that it counts modulo 7."""
        chip = CalendarChip(self.clock.with_values(weekday=7))
        chip.run(seconds=1)
        assert chip.snapshot().reading() == "24-02-29 00:00:00"

    def test_straight_to_and_from_a_save(self) -> None:
        chip = CalendarChip(self.clock)
        block = chip.to_block(None)
        assert CalendarChip.from_block(block).snapshot() == chip.snapshot()
        with pytest.raises(BadArgument, match="another kind"):
            CalendarChip.from_block(loads(bytes(5)).clock_block)
