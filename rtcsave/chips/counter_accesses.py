"""The accesses that write and read the day-counter clock.

Order and waits: Pan Docs, chapter on memory bank controllers.
"""

from __future__ import annotations

from typing import Final

from rtcsave.chips import counter_chip
from rtcsave.chips.accesses import AGAIN, Access, Plan, write
from rtcsave.clocks import Clock, CounterClock

SPACING_US: Final = 4
"""Leave 4 µs between accesses to the day-counter clock (Pan Docs)."""

_WINDOW = counter_chip.WINDOW_START
_OPEN = (write(0x0000, counter_chip.OPEN, "open memory and clock"),)
_CLOSE = (
    write(counter_chip.SELECT_START, 0x00, "select memory bank 0 again"),
    write(0x0000, counter_chip.CLOSE, "close"),
)
_LATCH = (
    write(counter_chip.LATCH_START, 0x00, "latch: first 00h"),
    write(counter_chip.LATCH_START, 0x01, "then 01h"),
)


def _select(at: int) -> Access:
    register = CounterClock.REGISTERS[at]
    return write(counter_chip.SELECT_START, register.address, f"select {register.name}")


def write_counter(clock: Clock) -> Plan:
    """Halt, write the registers, read them back while nothing counts, release.

    However slow the bus is, the clock does not tick between the write and the read-back.
    """
    values = clock.registers()
    high = values[4]
    is_halted = bool(high & counter_chip.HALT_BIT)
    steps = [*_OPEN, _select(4), write(_WINDOW, high | counter_chip.HALT_BIT, "halt first")]
    for at, register in enumerate(CounterClock.REGISTERS[:4]):
        steps += [_select(at), write(_WINDOW, values[at], register.name)]
    steps += _LATCH
    for at, register in enumerate(CounterClock.REGISTERS):
        value = values[at] if at < 4 else high | counter_chip.HALT_BIT
        steps += [_select(at), _expect(value, register.mask, register.name, "was taken")]
    last = "day_high: stays halted" if is_halted else "day_high: release"
    steps += [write(_WINDOW, high, last, due=True), *_LATCH]
    halt = high & counter_chip.HALT_BIT
    steps.append(_expect(halt, counter_chip.HALT_BIT, "halt", "is as it should be"))
    return Plan(CounterClock.kind, (*steps, *_CLOSE), _CLOSE, SPACING_US)


def _expect(value: int, mask: int, name: str, words: str) -> Access:
    return Access(
        kind="expect", address=_WINDOW, value=value, mask=mask, name=name, note=f"{name} {words}"
    )


def read_counter(twice: bool) -> Plan:
    """Latch, then read each register, twice if that is wanted: latched, it stays the same."""
    steps = [*_OPEN, *_LATCH]
    for at, register in enumerate(CounterClock.REGISTERS):
        steps += [_select(at), Access(kind="read", address=_WINDOW, name=register.name)]
        if twice:
            steps.append(Access(kind="read", address=_WINDOW, name=register.name + AGAIN))
    return Plan(CounterClock.kind, (*steps, *_CLOSE), _CLOSE, SPACING_US)
