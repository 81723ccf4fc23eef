"""The minute-of-day clock against its published behaviour."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from rtcsave.clocks import MinuteClock


def clock(minute: int, day: int, **more: int) -> MinuteClock:
    return MinuteClock(minute_of_day=minute, day_counter=day, **more)


def test_nibbles_lie_least_significant_first() -> None:
    """Pan Docs, chapter on memory bank controllers: 10h-12h minute of day, 13h-15h day counter, 58h-5Ah
    event minutes, 5Bh-5Dh event days."""
    minute_clock = clock(0x59F, 0xABC, event_minutes=0x123, event_days=0x456)
    assert minute_clock.registers() == bytes.fromhex("0f 09 05 0c 0b 0a 03 02 01 06 05 04")
    assert MinuteClock.from_registers(minute_clock.registers()) == minute_clock
    assert [register.address for register in MinuteClock.REGISTERS] == [
        0x10, 0x11, 0x12, 0x13, 0x14, 0x15, 0x58, 0x59, 0x5A, 0x5B, 0x5C, 0x5D,
    ]  # fmt: skip


def test_the_minute_rolls_over_at_1440() -> None:
    """Pan Docs, chapter on memory bank controllers: minute of day 0 to 1439."""
    assert clock(1_439, 7).advance(60) == clock(0, 8)


@given(minute=st.integers(0, 4_095), day=st.integers(0, 4_095), minutes=st.integers(0, 9_000))
def test_counting_is_counting_one_minute_at_a_time(minute: int, day: int, minutes: int) -> None:
    """Pan Docs, chapter on memory bank controllers: the minute rolls over at 1440; the ends of the days
    and of minutes past 1439 are assumed."""
    m, d = minute, day
    for _ in range(minutes):
        m = (m + 1) % 4_096
        if m == 1_440:
            m, d = 0, (d + 1) % 4_096
    assert clock(minute, day).advance(60 * minutes) == clock(m, d)
