"""Instants and durations against the standards that define them."""

from __future__ import annotations

import pytest

from rtcsave.when import parse_duration, parse_instant, rfc3339, unix_seconds, utc_datetime


@pytest.mark.parametrize(
    ("unix_s", "text"),
    [
        (0, "1970-01-01T00:00:00Z"),
        (536_457_599, "1986-12-31T23:59:59Z"),
        # arithmetic: the last signed and the last unsigned 32-bit second
        (2_147_483_647, "2038-01-19T03:14:07Z"),
        (4_294_967_295, "2106-02-07T06:28:15Z"),
    ],
)
def test_unix_time(unix_s: int, text: str) -> None:
    """POSIX.1 "Seconds Since the Epoch"; IANA time zone database, localtime.c, a comment:
    536457599."""
    assert rfc3339(unix_s) == text
    assert parse_instant(text) == unix_s
    assert unix_seconds(utc_datetime(unix_s)) == unix_s


def posix_seconds(y: int, yday: int, hour: int, minute: int, sec: int) -> int:
    """POSIX.1 "Seconds Since the Epoch"; `y` is the year less 1900."""
    return (
        sec
        + minute * 60
        + hour * 3600
        + yday * 86400
        + (y - 70) * 31536000
        + ((y - 69) // 4) * 86400
        - ((y - 1) // 100) * 86400
        + ((y + 299) // 400) * 86400
    )


@pytest.mark.parametrize("year", [1970, 1999, 2000, 2001, 2024, 2100, 2101, 2400, 9999])
def test_posix_formula(year: int) -> None:
    """POSIX.1 "Seconds Since the Epoch": the first and the 60th day (29 February or 1 March) of a
    year."""
    assert parse_instant(f"{year:04d}-01-01T12:30:15Z") == posix_seconds(year - 1900, 0, 12, 30, 15)
    leap = year % 4 == 0 and (year % 100 != 0 or year % 400 == 0)
    day = "02-29" if leap else "03-01"
    assert parse_instant(f"{year:04d}-{day}T12:00:00Z") == posix_seconds(year - 1900, 59, 12, 0, 0)


def test_rfc3339_examples() -> None:
    """RFC 3339, section 5.8: its examples; POSIX.1 counts a leap second as the second after it."""
    assert parse_instant("1996-12-19T16:39:57-08:00") == parse_instant("1996-12-20T00:39:57Z")
    assert rfc3339(parse_instant("1985-04-12T23:20:50.52Z")) == "1985-04-12T23:20:50Z"
    # before 1970 a fraction is cut off downward as well: the second it lies in
    assert rfc3339(parse_instant("1937-01-01T12:00:27.87+00:20")) == "1937-01-01T11:40:27Z"
    # the two leap seconds
    assert rfc3339(parse_instant("1990-12-31T23:59:60Z")) == "1991-01-01T00:00:00Z"
    assert rfc3339(parse_instant("1990-12-31T15:59:60-08:00")) == "1991-01-01T00:00:00Z"


def test_rfc5545_durations() -> None:
    """RFC 5545, section 3.3.6."""
    assert parse_duration("P15DT5H0M20S") == 15 * 86_400 + 5 * 3_600 + 20
    assert parse_duration("P7W") == 49 * 86_400
