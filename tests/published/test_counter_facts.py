"""The day-counter clock against its published behaviour."""

from __future__ import annotations

import pytest

from rtcsave import BadArgument, CounterClock
from rtcsave.units import COUNTER_PERIOD_S


def clock(day: int, hour: int, minute: int, second: int, **flags: bool) -> CounterClock:
    return CounterClock(seconds=second, minutes=minute, hours=hour, day_counter=day, **flags)


def test_registers_lie_as_documented() -> None:
    """Pan Docs, chapter on memory bank controllers: 08h seconds, 09h minutes, 0Ah hours, 0Bh day low, 0Ch
    bit 0 day bit 8, bit 6 halt, bit 7 carry."""
    counter = clock(0x1A5, 23, 59, 58, halt=True, carry=True)
    assert counter.registers() == bytes.fromhex("3a 3b 17 a5 c1")
    assert [register.address for register in CounterClock.REGISTERS] == [8, 9, 10, 11, 12]


def test_masks() -> None:
    """Hardware measurements, public domain: valid bits 3Fh, 3Fh, 1Fh, FFh, C1h; others read back 0."""
    assert [register.mask for register in CounterClock.REGISTERS] == [0x3F, 0x3F, 0x1F, 0xFF, 0xC1]
    dropped = CounterClock.from_registers(b"\xff" * 5, stray="drop")
    assert dropped.registers() == bytes.fromhex("3f 3f 1f ff c1")


@pytest.mark.parametrize(
    ("before", "after"),
    [
        # proper rollovers: both sources
        (clock(0, 0, 0, 59), clock(0, 0, 1, 0)),
        (clock(0, 0, 59, 59), clock(0, 1, 0, 0)),
        (clock(0, 23, 59, 59), clock(1, 0, 0, 0)),
        (clock(255, 23, 59, 59), clock(256, 0, 0, 0)),
        # 511 days 23:59:59 + 1 s is day 0 with carry: both sources
        (clock(511, 23, 59, 59), clock(0, 0, 0, 0, carry=True)),
        # carry is sticky through further overflows: both sources
        (clock(511, 23, 59, 59, carry=True), clock(0, 0, 0, 0, carry=True)),
        # a value out of range counts: 28:63:60 + 1 s is 28:63:61, same day
        (clock(7, 28, 63, 60), clock(7, 28, 63, 61)),
        # past its bit width it returns to 0 without carrying
        (clock(7, 5, 10, 63), clock(7, 5, 10, 0)),
        (clock(7, 5, 63, 59), clock(7, 5, 0, 0)),
        (clock(7, 31, 59, 59), clock(7, 0, 0, 0)),
        # a minute register of 60 to 62 still increments when seconds go 59 to 0
        (clock(7, 5, 60, 59), clock(7, 5, 61, 0)),
        (clock(7, 5, 62, 59), clock(7, 5, 63, 0)),
        # an hour register of 24 to 30 still increments at 59:59
        (clock(7, 24, 59, 59), clock(7, 25, 0, 0)),
        (clock(7, 30, 59, 59), clock(7, 31, 0, 0)),
        # none while halt is 1
        (clock(7, 5, 4, 3, halt=True), clock(7, 5, 4, 3, halt=True)),
    ],
)
def test_one_second(before: CounterClock, after: CounterClock) -> None:
    """Hardware measurements, public domain: each line is a situation, a second later; Pan Docs, chapter
    on memory bank controllers: rollovers, carry at the overflow."""
    assert before.advance(1) == after


def test_carry_stays_through_many_overflows() -> None:
    """Hardware measurements, public domain; Pan Docs, chapter on memory bank controllers: sticky until
    software clears it."""
    assert clock(0, 0, 0, 0, carry=True).advance(10**15).carry is True


def test_period_is_512_days() -> None:
    """Pan Docs, chapter on memory bank controllers: nine bits of days; 512 x 86,400 s is arithmetic."""
    assert CounterClock.period_s == COUNTER_PERIOD_S == 44_236_800
    assert clock(0, 0, 0, 0).advance(44_236_799) == clock(511, 23, 59, 59)
    assert clock(0, 0, 0, 0).advance(44_236_800) == clock(0, 0, 0, 0, carry=True)


@pytest.mark.parametrize(
    "data", ["40 00 00 00 00", "00 40 00 00 00", "00 00 20 00 00", "00 00 00 00 02"]
)
def test_a_bit_past_its_register_is_refused_unless_dropped(data: str) -> None:
    """Hardware measurements, public domain: such bits always read back 0; that they are refused is
    assumed (a caller who has one has something else in hand)."""
    with pytest.raises(BadArgument, match="bits past the width of register"):
        CounterClock.from_registers(bytes.fromhex(data))
    assert CounterClock.from_registers(bytes.fromhex(data), stray="drop") == clock(0, 0, 0, 0)
