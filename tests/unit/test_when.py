"""Instants, durations and readings as people type and read them."""

from __future__ import annotations

import time
import zoneinfo
from datetime import datetime, timedelta, timezone
from typing import Any
from zoneinfo import ZoneInfo

import pendulum
import pytest

from rtcsave import BadArgument, SystemFailed, zone_shift
from rtcsave.when import (
    check_zone,
    compact_utc,
    local_wall_to_unix,
    now_or,
    parse_clock_time,
    parse_duration,
    parse_instant,
    parse_reading_s,
    rfc3339,
    say_instant,
    say_span,
    span_seconds,
    unix_seconds,
)

MARCH = 1_773_152_100  # 2026-03-10T14:15:00Z


@pytest.mark.parametrize(
    "text",
    [
        "2026-03-10T14:15:00Z",
        "2026-03-10t14:15:00z",
        "2026-03-10 14:15:00Z",
        "2026-03-10 14:15Z",
        "2026-03-10 14:15 UTC",
        "2026-03-10T15:15:00+01:00",
        "2026-03-10T08:45:00-05:30",
        "2026-03-10T14:15:00.999Z",
        "@1773152100",
        "@1773152100.9",
        " @1773152100 ",
    ],
)
def test_an_instant_that_a_person_types(text: str) -> None:
    assert parse_instant(text) == MARCH


def test_now_is_the_one_given() -> None:
    assert parse_instant("now", MARCH) == MARCH
    assert parse_instant("NOW", MARCH) == MARCH
    assert abs(parse_instant("now") - time.time()) < 5
    assert now_or(MARCH) == MARCH


def test_fractions_are_cut_off_downward_before_1970_too() -> None:
    assert parse_instant("@-1.5") == -2
    assert parse_instant("@-1.0") == -1
    assert unix_seconds(datetime(1969, 12, 31, 23, 59, 58, 500_000, timezone.utc)) == -2


@pytest.mark.parametrize(
    ("text", "hint"),
    [
        ("2026-03-10T14:15:00", "add Z for UTC or an offset"),
        ("2026-03-10", "give the time of day and the zone too"),
        ("1773152100", "write Unix seconds as @1773152100"),
        ("12:30", "write it as"),
        ("yesterday", "write it as"),
        ("", "write it as"),
        ("2026-13-01T00:00:00Z", "there is no such instant"),
        ("2026-02-30T00:00:00Z", "there is no such instant"),
        ("2026-03-10T24:15:00Z", "there is no such instant"),
        ("2026-03-10T14:15:60Z", "a leap second only at 23:59:60"),
        ("2026-03-10T14:15:00+25:00", "there is no such instant"),
        ("P3D", "write it as"),
    ],
)
def test_an_instant_that_is_none_says_how_to_write_one(text: str, hint: str) -> None:
    with pytest.raises(BadArgument) as caught:
        parse_instant(text)
    assert hint in str(caught.value)
    assert repr(text) in str(caught.value) or text in str(caught.value)


@pytest.mark.parametrize(
    ("text", "seconds"),
    [
        ("PT90M", 5_400),
        ("P3DT4H", 273_600),
        ("p3dt4h", 273_600),
        ("P1W", 604_800),
        ("90m", 5_400),
        ("90min", 5_400),
        ("3d4h", 273_600),
        ("3d 4h", 273_600),
        ("2w", 1_209_600),
        ("45s", 45),
        ("0s", 0),
        ("-5m", -300),
        ("\N{MINUS SIGN}5m", -300),
        ("+5m", 300),
        ("-PT5M", -300),
    ],
)
def test_a_duration_that_a_person_types(text: str, seconds: int) -> None:
    assert parse_duration(text) == seconds


@pytest.mark.parametrize(
    ("text", "hint"),
    [
        ("90", "say the unit: 90s, 90m, 90h or 90d"),
        ("P1Y", "no fixed length"),
        ("P2M", "no fixed length"),
        ("1.5h", "whole numbers"),
        ("PT0.5S", "whole numbers"),
        ("P", "write it as"),
        ("PT", "write it as"),
        ("", "write it as"),
        ("--5m", "write it as"),
        ("4h3d", "write it as"),
    ],
)
def test_a_duration_that_is_none_says_how_to_write_one(text: str, hint: str) -> None:
    with pytest.raises(BadArgument) as caught:
        parse_duration(text)
    assert hint in str(caught.value)


def test_a_reading() -> None:
    assert parse_reading_s("12d03:04:05") == 12 * 86_400 + 11_045
    assert parse_reading_s("12d03:04") == 12 * 86_400 + 11_040
    assert parse_clock_time("2026-03-10 14:15:46") == {
        "year": 2026, "month": 3, "day": 10, "hour": 14, "minute": 15, "second": 46,
    }  # fmt: skip
    for wrong in (
        "12d24:00:00",
        "12d03:60:00",
        "12d03:04:60",
        "03:04:05",
        "12d3",
        "26-03-10 14:15",
    ):
        with pytest.raises(BadArgument):
            parse_reading_s(wrong)


@pytest.mark.parametrize(
    "wrong", [float("nan"), float("inf"), True, None, "now", datetime(2026, 3, 10)]
)
def test_what_is_no_instant_is_refused(wrong: Any) -> None:
    with pytest.raises(BadArgument):
        unix_seconds(wrong)


@pytest.mark.parametrize(
    ("given", "whole"), [(1.5, 1), (-0.5, -1), (1_773_152_100.999, 1_773_152_100)]
)
def test_a_fraction_of_unix_seconds_is_cut_off_downward(given: float, whole: int) -> None:
    assert unix_seconds(given) == whole


def test_spans_may_be_timedeltas_of_whole_seconds() -> None:
    assert span_seconds(timedelta(days=2, seconds=5)) == 172_805
    assert span_seconds(timedelta(seconds=-90)) == -90
    assert span_seconds(pendulum.duration(days=1)) == 86_400
    for wrong in (
        timedelta(microseconds=1),
        pendulum.duration(months=1),
        pendulum.duration(years=1),
        1.0,
    ):
        with pytest.raises(BadArgument):
            span_seconds(wrong)


def test_zones_are_taken_as_names_and_as_zones() -> None:
    winter = 1_705_320_000  # 2024-01-15
    for tokyo in ("Asia/Tokyo", ZoneInfo("Asia/Tokyo"), pendulum.timezone("Asia/Tokyo")):
        assert zone_shift("UTC", tokyo, winter) == 32_400
    with pytest.raises(BadArgument, match="this is no zone"):
        zone_shift("UTC", timezone(timedelta(hours=9)), winter)


def test_a_missing_zone_database_is_said_as_that(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(zoneinfo, "ZoneInfo", lambda name: (_ for _ in ()).throw(OSError("none")))
    monkeypatch.setattr(zoneinfo, "available_timezones", set)
    with pytest.raises(SystemFailed, match="no zone database"):
        check_zone("Asia/Tokyo")


def test_a_naive_datetime_is_refused_with_the_reason() -> None:
    with pytest.raises(BadArgument, match="has no zone"):
        unix_seconds(datetime(2026, 3, 10, 14, 15))


def test_an_aware_datetime_of_any_zone() -> None:
    east = timezone(timedelta(hours=5, minutes=45))
    assert unix_seconds(datetime(2026, 3, 10, 20, 0, 0, 999_999, east)) == MARCH


def test_what_is_shown() -> None:
    assert rfc3339(MARCH) == "2026-03-10T14:15:00Z"
    assert rfc3339(None) is None
    assert rfc3339(253_402_300_800) is None
    assert compact_utc(MARCH) == "20260310T141500Z"
    assert say_instant(MARCH) == "2026-03-10 14:15:00 UTC"
    assert say_instant(10**15) == "Unix second 1000000000000000"
    assert say_instant(10**15, "Asia/Kathmandu") == "Unix second 1000000000000000"
    # IANA tz 2025b: Kathmandu has been +05:45 since 1986
    assert say_instant(MARCH, "Asia/Kathmandu") == "2026-03-10 20:00:00 +05:45 Asia/Kathmandu"
    # the last hours of the year 9999 have no local time east of Greenwich
    assert say_instant(253_402_300_799, "Asia/Kathmandu").endswith("UTC")


def test_a_span_for_people() -> None:
    assert say_span(0) == "0 s"
    assert say_span(86_401) == "1 day 1 s"
    assert say_span(-(2 * 86_400 + 3_660)) == "-(2 days 1 h 1 min)"
    assert say_span(-25 * 3_600) == "-(1 day 1 h)"
    assert (say_span(-60), say_span(60, signed=True)) == ("-1 min", "+1 min")
    assert say_span(0, signed=True) == "0 s"
    assert say_span(1_234 * 86_400) == "1,234 days"


def test_a_zone_is_an_iana_name() -> None:
    assert check_zone("Europe/London") == "Europe/London"
    with pytest.raises(BadArgument, match="did you mean Europe/London"):
        check_zone("europe/londn")
    with pytest.raises(BadArgument, match="write it as"):
        check_zone("???")


@pytest.mark.skipif(not hasattr(time, "tzset"), reason="this system sets no zone by environment")
def test_a_wall_time_of_this_computer(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("TZ", "EAST-03:00")
    time.tzset()
    try:
        assert local_wall_to_unix(MARCH) == MARCH - 3 * 3_600
        assert local_wall_to_unix(10**15) is None
    finally:
        monkeypatch.delenv("TZ")
        time.tzset()


@pytest.mark.parametrize(
    ("windows", "iana"),
    [("GMT Standard Time", "Europe/London"), ("W. Europe Standard Time", "Europe/Berlin")],
)
def test_a_zone_by_its_name_on_windows_is_answered_with_the_iana_name(
    windows: str, iana: str
) -> None:
    """Unicode CLDR, windowsZones, as the tzlocal package has it."""
    with pytest.raises(BadArgument, match=f"on Windows: write it as {iana}"):
        check_zone(windows)
