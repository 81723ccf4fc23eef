"""The calendar clock where no source says what it does: invalid digits and dates, and times out of range."""

from __future__ import annotations

import pytest

from rtcsave import BadArgument, CalendarClock


def clock(year: int, month: int, day: int, leap: int, **more: int) -> CalendarClock:
    values = {"weekday": 0, "hours": 0, "minutes": 0, "seconds": 0, **more}
    return CalendarClock.from_values(
        {"year": year, "month": month, "day": day, "leap_counter": leap, **values}
    )


def test_invalid_digits_survive_and_say_no_time() -> None:
    """Assumed: such a clock is kept as it is, and not advanced."""
    raw = bytes.fromhex(
        "0a 04 07 05 03 02 04 01 03 02 01 08 09  00 00 00 00 00 00 00 00 00 00 01 02 00"
    )
    invalid = CalendarClock.from_registers(raw)
    assert invalid.registers() == raw
    assert invalid.illegal_digits() == (("seconds_1", 10),)
    assert not invalid.in_range
    with pytest.raises(BadArgument, match="seconds_1 holds an invalid digit"):
        invalid.advance(1)


def test_an_invalid_date_is_legal_and_does_not_count() -> None:
    """Assumed: days and months past the last are read as those that follow it."""
    invalid = clock(23, 2, 31, 3)
    assert invalid.out_of_range() == (("day", 31, 1, 28),)
    assert CalendarClock.from_registers(invalid.registers()) == invalid
    with pytest.raises(BadArgument, match="day is out of range"):
        invalid.advance(1)
    assert invalid.as_time()[0].reading() == "23-03-03 00:00:00"
    assert not invalid.says_a_time
    assert clock(24, 2, 30, 0).as_time()[0].reading() == "24-03-01 00:00:00"
    assert clock(23, 13, 1, 3).as_time()[0].reading() == "24-01-01 00:00:00"
    assert clock(23, 13, 1, 3).as_time()[0].leap_counter == 0


def test_a_time_of_day_out_of_range_says_one_time() -> None:
    """Assumed: hours, minutes and seconds out of range are read as the time that they add up to."""
    out_of_range = clock(23, 12, 31, 3, hours=24, minutes=75, seconds=61)
    assert out_of_range.says_a_time
    assert out_of_range.as_time()[0].reading() == "24-01-01 01:16:01"
    assert out_of_range.zeroed().reading() == "23-12-31 00:00:00"


def test_invalid_digits_count_by_their_value() -> None:
    """Assumed: a digit of Ah to Fh is read as 10 to 15."""

    def read(registers: str) -> tuple[str, int]:
        time, overflows = CalendarClock.from_registers(
            bytes.fromhex(registers), stray="drop"
        ).as_time()
        return time.reading(), overflows

    end = " 00 00 00 00 00 00 00 00 00 00 {mode} 00 00"
    day = end.format(mode="01")
    half = end.format(mode="00")
    # 7, Fh seconds are 85: a minute and 25 s
    assert read("0f 07 05 00 04 01 00 01 00 01 00 04 02" + day) == ("24-01-01 14:06:25", 0)
    # Ah, 0 years are 100: the next century's 00
    assert read("06 00 05 00 04 01 00 01 00 01 00 00 0a" + day) == ("00-01-01 14:05:06", 1)
    # 12-hour digits 0 pm and 13 pm: PM counts
    assert read("06 00 05 00 00 02 00 01 00 01 00 04 02" + half) == ("24-01-01 12:05:06", 0)
    assert read("06 00 05 00 03 03 00 01 00 01 00 04 02" + half) == ("24-01-02 01:05:06", 0)
