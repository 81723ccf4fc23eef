"""The minute-of-day clock against its published behaviour (Pan Docs, memory bank controllers)."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rtcsave import BadArgument
from rtcsave.clocks import MinuteClock


def clock(minute: int, day: int, **more: int) -> MinuteClock:
    return MinuteClock(minute_of_day=minute, day_counter=day, **more)


def test_nibbles_lie_least_significant_first() -> None:
    # Pan Docs: 10h-12h minute of day, 13h-15h day counter, 58h-5Ah event minutes, 5Bh-5Dh days
    held = clock(0x59F, 0xABC, event_minutes=0x123, event_days=0x456)
    assert held.registers() == bytes.fromhex("0f 09 05 0c 0b 0a 03 02 01 06 05 04")
    assert MinuteClock.from_registers(held.registers()) == held
    assert [one.address for one in MinuteClock.REGISTERS] == [
        0x10, 0x11, 0x12, 0x13, 0x14, 0x15, 0x58, 0x59, 0x5A, 0x5B, 0x5C, 0x5D,
    ]  # fmt: skip


def test_the_minute_rolls_over_at_1440() -> None:
    # Pan Docs
    assert clock(1_439, 7).advance(60) == clock(0, 8)


def test_the_ends_as_assumed() -> None:
    # assumed: the source does not speak of the day after 4095, nor of minutes past 1439
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


@given(minute=st.integers(0, 4_095), day=st.integers(0, 4_095), minutes=st.integers(0, 9_000))
def test_counting_is_counting_one_minute_at_a_time(minute: int, day: int, minutes: int) -> None:
    m, d = minute, day
    for _ in range(minutes):
        m = (m + 1) % 4_096
        if m == 1_440:
            m, d = 0, (d + 1) % 4_096
    assert clock(minute, day).advance(60 * minutes) == clock(m, d)


def test_readings() -> None:
    held = clock(1_500, 7)
    assert held.as_time() == (clock(60, 8), 0)
    assert clock(1_500, 4_095).as_time() == (clock(60, 0), 1)
    assert held.reading() == "7d+1500min"
    assert clock(843, 7).reading() == "7d14:03"
    assert clock(843, 7, event_days=3).shifted(-86_400) == (clock(843, 6, event_days=3), 0)
    assert clock(843, 0).shifted(-86_400) == (clock(843, 4_095), -1)
    with pytest.raises(BadArgument):
        held.to_seconds()
    with pytest.raises(BadArgument):
        MinuteClock.from_seconds(61)
