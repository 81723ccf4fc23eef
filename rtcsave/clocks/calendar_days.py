"""The calendar clock's own calendar: days since its year 00 began, by a leap counter of any phase."""

from __future__ import annotations

from typing import Final

YEARS: Final = 100
CENTURY_DAYS: Final = 36_525
"""Days in which the two digits of the year return to 00: the leap counter steps with the year and
counts modulo 4, so a hundred years always hold 25 leap years."""

_MONTH_DAYS: Final = (31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31)
_FOUR_YEARS_DAYS: Final = 1_461


def month_days(month: int, leap: bool) -> int:
    """The days of a month, 1 to 12."""
    return 29 if month == 2 and leap else _MONTH_DAYS[month - 1]


def day_of_century(year: int, month: int, day: int, phase: int) -> int:
    """Days from the beginning of the year 00 to a date; `phase` is the leap counter of that year."""
    leap = (phase + year) % 4 == 0
    before = sum(month_days(earlier, leap) for earlier in range(1, month))
    return day - 1 + before + 365 * year + _leap_years_before(year, phase)


def date_of_century(days: int, phase: int) -> tuple[int, int, int]:
    """The year, month and day that many days after the year 00 began; below `CENTURY_DAYS`."""
    year = min(YEARS - 1, days * 4 // _FOUR_YEARS_DAYS)
    while 365 * year + _leap_years_before(year, phase) > days:
        year -= 1
    while 365 * (year + 1) + _leap_years_before(year + 1, phase) <= days:
        year += 1
    days -= 365 * year + _leap_years_before(year, phase)
    leap, month = (phase + year) % 4 == 0, 1
    while days >= month_days(month, leap):
        days -= month_days(month, leap)
        month += 1
    return year, month, days + 1


def _leap_years_before(year: int, phase: int) -> int:
    """Leap years among the years 0 to `year` - 1, where the counter was `phase` in year 0."""
    first = -phase % 4
    return 0 if year <= first else (year - first + 3) // 4
