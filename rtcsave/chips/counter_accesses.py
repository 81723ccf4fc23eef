"""The accesses that write and read the day-counter clock.

Order and waits: Pan Docs, chapter on memory bank controllers. What is done twice is done so that one access
that is lost, or one wrong bit in it, gives no wrong clock without an error.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Final

from rtcsave.chips import counter_chip
from rtcsave.chips.accesses import AGAIN, BEFORE, Access, Plan, write
from rtcsave.clocks import Clock, CounterClock

SPACING_US: Final = 4
"""Leave 4 µs between accesses to the day-counter clock (Pan Docs)."""

_DAY_HIGH: Final = len(CounterClock.REGISTERS) - 1
_UNUSED: Final = 0xFF ^ CounterClock.REGISTERS[_DAY_HIGH].mask

_WINDOW = counter_chip.WINDOW_START
_OPEN = write(0x0000, counter_chip.OPEN, "open memory and clock")
_CLOSE = (
    write(0x0000, counter_chip.CLOSE, "close"),
    write(counter_chip.SELECT_START, 0x00, "select memory bank 0 again"),
    write(0x0000, counter_chip.CLOSE, "close once more"),
)
_LATCH = (
    write(counter_chip.LATCH_START, 0x00, "latch: first 00h"),
    write(counter_chip.LATCH_START, 0x01, "then 01h"),
)


def _select(at: int) -> Access:
    register = CounterClock.REGISTERS[at]
    return write(counter_chip.SELECT_START, register.address, f"select {register.name}")


def _read_all(ending: str = "") -> list[Access]:
    """Select and read each register, under its name with an ending; those read again must be as before."""
    steps: list[Access] = []
    for at, register in enumerate(CounterClock.REGISTERS):
        kept = register.name if ending == AGAIN else ""
        steps += [_select(at), _read(register.name + ending, kept)]
    return steps


def _read(name: str, keep: str = "", note: str = "") -> Access:
    return Access(kind="read", address=_WINDOW, name=name, keep=keep, note=note)


def _is_there() -> Sequence[Access]:
    """Select the flags, whose other bits read 0: memory, or a bus on which nothing answers, shows others."""
    note = "its unused bits are 0"
    expect = Access(
        kind="expect", address=_WINDOW, value=0, mask=_UNUSED, name="day_high_unused", note=note
    )
    return _select(_DAY_HIGH), expect


def _put(at: int, value: int, note: str) -> Sequence[Access]:
    """Select a register and write it, after a look that it is this register and not the memory: that
    the window shows what the register was latched with."""
    name = CounterClock.REGISTERS[at].name
    before = name + BEFORE
    again = _read(before + AGAIN, before, f"{name} as before: if it is another, stop")
    return (_select(at), again, write(_WINDOW, value, note, name=name))


def _expect(at: int, value: int, words: str) -> Access:
    # every bit counts, since unused ones read 0: hardware measurements, public domain
    name = CounterClock.REGISTERS[at].name
    note = f"{name} {words}"
    return Access(kind="expect", address=_WINDOW, value=value, name=name, note=note)


def write_counter(clock: Clock) -> Plan:
    """Halt, write the registers, read them back while nothing counts, release.

    However slow the bus is, the clock does not tick between the write and the read-back.
    """
    values = clock.registers()
    high = values[_DAY_HIGH]
    high_halted = high | counter_chip.HALT_BIT
    steps = [_OPEN, *_LATCH, *_LATCH, *_is_there(), *_read_all(BEFORE)]
    steps += _put(_DAY_HIGH, high_halted, "halt first")
    for at, register in enumerate(CounterClock.REGISTERS[:_DAY_HIGH]):
        steps += _put(at, values[at], register.name)
        if at == 0:  # it begins a second: where the one write is lost, the other does
            steps.append(replace(steps[-1], note="seconds once more"))
    steps += [*_LATCH, *_LATCH]
    for at in range(_DAY_HIGH):
        steps += [_select(at), _expect(at, values[at], "was taken")]
    once_more = replace(_select(_DAY_HIGH), note="select day_high once more: it is written next")
    steps += [_select(_DAY_HIGH), once_more, _expect(_DAY_HIGH, high_halted, "was taken")]
    last = "day_high: stays halted" if clock.halted else "day_high: release"
    steps += [write(_WINDOW, high, last, name="day_high", due=True), *_LATCH]
    steps += [_select(_DAY_HIGH), _expect(_DAY_HIGH, high, "is as it should be")]
    return Plan(CounterClock.kind, (*steps, *_CLOSE), _CLOSE, SPACING_US)


def read_counter(twice: bool) -> Plan:
    """Latch, then read each register; twice, selected anew, if that is wanted: latched, it stays the same."""
    steps = [_OPEN, *_LATCH, *_LATCH, *_read_all()]
    if twice:
        steps += _read_all(AGAIN)
    return Plan(CounterClock.kind, (*steps, *_CLOSE), _CLOSE, SPACING_US)
