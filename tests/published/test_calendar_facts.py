"""The calendar clock against its published behaviour."""

from __future__ import annotations

import datetime

import pytest

from rtcsave.clocks import CalendarClock

DAY = 86_400


def clock(year: int, month: int, day: int, leap: int, **more: int) -> CalendarClock:
    values = {"weekday": 0, "hours": 0, "minutes": 0, "seconds": 0, **more}
    return CalendarClock.from_values(
        {"year": year, "month": month, "day": day, "leap_counter": leap, **values}
    )


def test_valid_bits() -> None:
    """MSX2 Technical Handbook, ASCII Corp., chapter 5 section 6, figures 5.26 to 5.32; the
    operating-system kernel's driver for the RP5C01 (bank 0)."""
    masks = [register.mask for register in CalendarClock.REGISTERS]
    assert masks[:13] == [0xF, 7, 0xF, 7, 0xF, 3, 7, 0xF, 3, 0xF, 1, 0xF, 0xF]
    assert masks[13:] == [0, 0, 0xF, 7, 0xF, 3, 7, 0xF, 3, 0, 1, 3, 0]


def test_registers_lie_as_documented() -> None:
    """MSX2 Technical Handbook, ASCII Corp., chapter 5 section 6: bank 0, the alarm, the hour mode (1 = 24
    h) and the leap counter of bank 1; the operating-system kernel's driver for the RP5C01."""
    calendar = CalendarClock(
        year=98, month=12, day=31, weekday=4, hours=23, minutes=57, seconds=46, leap_counter=2,
        alarm=0x2860715,  # day 28, weekday 6, 07:15
    )  # fmt: skip
    assert calendar.registers() == bytes.fromhex(
        "06 04 07 05 03 02 04 01 03 02 01 08 09  00 00 05 01 07 00 06 08 02 00 01 02 00"
    )
    assert CalendarClock.from_registers(calendar.registers()) == calendar


@pytest.mark.parametrize(
    ("hours", "minutes", "pair"),
    [(0, 0, "12"), (1, 30, "01"), (11, 59, "11"), (12, 0, "32"), (13, 30, "21"), (23, 59, "31")],
)
def test_twelve_hour_digits(hours: int, minutes: int, pair: str) -> None:
    """Ricoh RP/RF/RS5C62 manual, section 2.6: six pairs of digits; MSX2 Technical Handbook, ASCII Corp.,
    chapter 5 section 6: PM is bit 1 of the tens digit."""
    calendar = clock(24, 1, 1, 0, hours=hours, minutes=minutes, twelve_hour=1)
    registers = calendar.registers()
    assert f"{registers[5]}{registers[4]}" == pair
    assert registers[23] == 0
    assert CalendarClock.from_registers(registers) == calendar


@pytest.mark.parametrize("year", range(1980, 2100))
def test_day_by_day_against_the_standard_library(year: int) -> None:
    """MSX2 Technical Handbook, ASCII Corp., chapter 5 section 6: the leap counter and the weekday; the
    last second of every day, with the dates of Python's standard library."""
    today = datetime.date(year, 1, 1)
    while today.year == year:
        tomorrow = today + datetime.timedelta(days=1)
        calendar = clock(
            today.year % 100, today.month, today.day, today.year % 4,
            weekday=today.weekday(), hours=23, minutes=59, seconds=59,
        )  # fmt: skip
        found = calendar.advance(1)
        assert (found.year, found.month, found.day, found.weekday, found.leap_counter) == (
            tomorrow.year % 100,
            tomorrow.month,
            tomorrow.day,
            tomorrow.weekday(),
            tomorrow.year % 4,
        )
        assert (found.hours, found.minutes, found.seconds) == (0, 0, 0)
        today = tomorrow


@pytest.mark.parametrize("base", [1980, 2000])
def test_any_span_against_the_standard_library(base: int) -> None:
    """MSX2 Technical Handbook, ASCII Corp., chapter 5 section 6: the leap counter and the weekday; the
    dates are those of Python's standard library."""
    start = datetime.datetime(base, 1, 1)
    calendar = clock(base % 100, 1, 1, 0, weekday=start.weekday())
    for seconds in (1, 59 * DAY, 60 * DAY, 366 * DAY - 1, 20_000 * DAY + 12_345, 43_000 * DAY):
        then = start + datetime.timedelta(seconds=seconds)
        if then.year > 2099:
            continue
        found = calendar.advance(seconds)
        assert (found.year, found.month, found.day, found.hours, found.minutes, found.seconds) == (
            then.year % 100, then.month, then.day, then.hour, then.minute, then.second,
        )  # fmt: skip
        assert found.weekday == then.weekday()


def test_the_leap_counter_and_not_the_year_makes_29_february() -> None:
    """MSX2 Technical Handbook, ASCII Corp., chapter 5 section 6; the operating-system kernel's driver for
    the RP5C01: modulo 4 with the year, 0 is a leap year; the digits may disagree."""
    assert clock(23, 2, 28, 0).advance(DAY).reading() == "23-02-29 00:00:00"
    assert clock(24, 2, 28, 1).advance(DAY).reading() == "24-03-01 00:00:00"
    assert clock(23, 12, 31, 3).advance(DAY).leap_counter == 0
    assert clock(24, 12, 31, 0).advance(DAY).leap_counter == 1


@pytest.mark.parametrize("year", range(0, 100, 4))
def test_a_two_digit_part_calls_every_fourth_year_a_leap_year(year: int) -> None:
    """Epson RX8130CE application manual, ETM50E-07, p. 25: 00, 04 ... 96 are leap years; software must
    correct 2100, 2200 and 2300."""
    assert clock(year, 2, 28, 0).advance(DAY).day == 29


def test_the_weekday_counts_modulo_seven() -> None:
    """MSX2 Technical Handbook, ASCII Corp., chapter 5 section 6: which day 0 means is up to the
    software."""
    assert clock(24, 1, 1, 0, weekday=6).advance(DAY).weekday == 0
    assert clock(24, 1, 1, 0, weekday=2).advance(366 * DAY).weekday == 4


def test_the_year_digits_overflow() -> None:
    """MSX2 Technical Handbook, ASCII Corp., chapter 5 section 6; the operating-system kernel's driver for
    the RP5C01: 00 to 99, and the base is the software's business."""
    assert clock(99, 12, 31, 3, hours=23, minutes=59, seconds=59).advance(1).reading() == (
        "00-01-01 00:00:00"
    )
    for base, year in ((1900, 1945), (1980, 2025), (2000, 2045)):
        assert clock(45, 1, 1, 1).full_year(base) == year
    assert CalendarClock.period_s == 36_525 * DAY
    assert clock(99, 12, 31, 3, hours=23, minutes=59, seconds=59).seconds_to_overflow == 1
