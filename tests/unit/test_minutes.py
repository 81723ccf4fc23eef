"""`MinuteClock`: where no source says what it does, refusals, readings."""

from __future__ import annotations

import pytest

from rtcsave import BadArgument, MinuteClock


def clock(minute: int, day: int, **more: int) -> MinuteClock:
    return MinuteClock(minute_of_day=minute, day_counter=day, **more)


def test_the_ends() -> None:
    """Assumed: the source does not speak of the day after 4095, nor of minutes past 1439."""
    assert clock(1_439, 4_095).advance(60) == clock(0, 0)
    assert clock(4_095, 7).advance(60) == clock(0, 7)
    assert clock(1_440, 7).advance(60) == clock(1_441, 7)
    assert clock(1_439, 4_095).seconds_to_overflow == 60
    assert clock(0, 0).seconds_to_overflow == MinuteClock.period_s == 4_096 * 86_400


def test_whole_minutes_only() -> None:
    for wrong in (1, 59, 61, -60, 60.0, True):
        with pytest.raises(BadArgument):
            clock(0, 0).advance(wrong)  # type: ignore[arg-type]
    for field in ("minute_of_day", "day_counter", "event_minutes", "event_days"):
        with pytest.raises(BadArgument):
            MinuteClock(**{"minute_of_day": 0, "day_counter": 0, field: 4_096})


def test_readings() -> None:
    """Assumed: minutes past 1439 are read as those of the day that follows."""
    out_of_range = clock(1_500, 7)
    assert out_of_range.as_time() == (clock(60, 8), 0)
    assert clock(1_500, 4_095).as_time() == (clock(60, 0), 1)
    assert out_of_range.reading() == "7d+1500min"
    assert clock(843, 7).reading() == "7d14:03"
    assert clock(843, 7, event_days=3).shifted(-86_400) == (clock(843, 6, event_days=3), 0)
    assert clock(843, 0).shifted(-86_400) == (clock(843, 4_095), -1)
    with pytest.raises(BadArgument):
        out_of_range.to_seconds()
    with pytest.raises(BadArgument):
        MinuteClock.from_seconds(61)
