"""Counting in one stride against counting one second at a time."""

from __future__ import annotations

from dataclasses import replace

from hypothesis import given
from hypothesis import strategies as st

from rtcsave import Clock, CounterClock, strategies


def as_counter(clock: Clock) -> CounterClock:
    assert isinstance(clock, CounterClock)
    return clock


clocks = strategies.clocks("counter", in_range=False).map(as_counter)
spans = st.one_of(st.integers(0, 10_000), st.integers(0, 10**15))


def tick(registers: list[int]) -> None:
    """One second as the chip counts it (hardware measurements, public domain)."""
    second, minute, hour, low, high = registers
    if high & 0x40:
        return
    day = low + 256 * (high & 1)
    second = (second + 1) % 64
    if second == 60:
        second = 0
        minute = (minute + 1) % 64
        if minute == 60:
            minute = 0
            hour = (hour + 1) % 32
            if hour == 24:
                hour = 0
                day += 1
                if day == 512:
                    day = 0
                    high |= 0x80
    registers[:] = [second, minute, hour, day % 256, high & 0xC0 | day // 256]


@given(clock=clocks, seconds=st.integers(0, 9_000))
def test_advance_is_counting_one_second_at_a_time(clock: CounterClock, seconds: int) -> None:
    registers = list(clock.registers())
    for _ in range(seconds):
        tick(registers)
    assert clock.advance(seconds).registers() == bytes(registers)


@given(
    clock=st.builds(
        CounterClock,
        seconds=st.integers(58, 63),
        minutes=st.integers(58, 63),
        hours=st.integers(22, 31),
        day_counter=st.sampled_from([0, 254, 255, 256, 510, 511]),
    ),
    seconds=st.integers(0, 40_000),
)
def test_advance_near_every_edge(clock: CounterClock, seconds: int) -> None:
    registers = list(clock.registers())
    for _ in range(seconds):
        tick(registers)
    assert clock.advance(seconds).registers() == bytes(registers)


@given(clock=clocks, a=spans, b=spans)
def test_two_strides_are_one(clock: CounterClock, a: int, b: int) -> None:
    assert clock.advance(a).advance(b) == clock.advance(a + b)


@given(clock=clocks, seconds=spans)
def test_halt_and_carry(clock: CounterClock, seconds: int) -> None:
    halted = replace(clock, halt=True)
    assert halted.advance(seconds) == halted
    assert replace(clock, carry=True).advance(seconds).carry
    assert clock.advance(seconds).halt == clock.halt


@given(clock=clocks.filter(lambda clock: not clock.halt))
def test_overflow_comes_exactly_when_it_is_said(clock: CounterClock) -> None:
    clear = replace(clock, carry=False)
    due_s = clear.seconds_to_overflow
    assert due_s is not None
    assert not clear.advance(due_s - 1).carry
    assert clear.advance(due_s).carry


@given(clock=clocks)
def test_registers_round_trip(clock: CounterClock) -> None:
    assert CounterClock.from_registers(clock.registers()) == clock


@given(clock=clocks)
def test_the_quick_way_in_agrees_with_the_table(clock: CounterClock) -> None:
    values = dict.fromkeys(clock.values(), 0)
    for byte, register in zip(clock.registers(), CounterClock.REGISTERS, strict=True):
        for bits in register.bits:
            values[bits.field] |= (byte & bits.mask) >> bits.at << bits.onto
    assert CounterClock.from_values(values) == clock


@given(n=st.integers(0, 44_236_799), halt=st.booleans(), carry=st.booleans())
def test_seconds_round_trip(n: int, halt: bool, carry: bool) -> None:
    clock = CounterClock.from_seconds(n, halt=halt, carry=carry)
    assert (clock.to_seconds(), clock.halt, clock.carry) == (n, halt, carry)
    assert clock.as_time() == (clock, 0)
