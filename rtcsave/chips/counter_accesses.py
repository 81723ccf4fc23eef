"""The accesses that write and read the day-counter clock.

Order and waits: Pan Docs, chapter on memory bank controllers.
"""

from __future__ import annotations

from rtcsave.chips import counter_chip
from rtcsave.chips.accesses import Access, spaced, write
from rtcsave.clocks import Clock, CounterClock

_WINDOW = counter_chip.WINDOW_START


def _open_counter() -> list[Access]:
    return [write(0x0000, counter_chip.OPEN, "open memory and clock")]


def _close_counter() -> list[Access]:
    return [
        write(counter_chip.SELECT_START, 0x00, "select memory bank 0 again"),
        write(0x0000, counter_chip.CLOSE, "close"),
    ]


def _latch_counter() -> list[Access]:
    return [
        write(counter_chip.LATCH_START, 0x00, "latch: first 00h"),
        write(counter_chip.LATCH_START, 0x01, "then 01h"),
    ]


def write_counter(clock: Clock) -> list[Access]:
    """Halt, write the registers, release, read back."""
    held = clock.registers()
    high = held[4]
    steps = _open_counter()

    def put(at: int, value: int, note: str, due: bool = False) -> None:
        register = CounterClock.REGISTERS[at]
        steps.append(write(counter_chip.SELECT_START, register.address, f"select {register.name}"))
        steps.append(write(_WINDOW, value, note, due))

    put(4, high | counter_chip.HALT_BIT, "halt first")
    for at, register in enumerate(CounterClock.REGISTERS[:4]):
        put(at, held[at], register.name)
    last = "day_high: stays halted" if high & counter_chip.HALT_BIT else "day_high: release"
    put(4, high, last, due=True)
    steps += _latch_counter()
    for at, register in enumerate(CounterClock.REGISTERS):
        steps.append(write(counter_chip.SELECT_START, register.address, f"select {register.name}"))
        steps.append(
            Access(
                kind="expect",
                address=_WINDOW,
                value=held[at],
                mask=register.mask,
                name=register.name,
                note=f"{register.name} was taken",
            )
        )
    return spaced(steps + _close_counter())


def read_counter() -> list[Access]:
    """Latch, then read each register."""
    steps = _open_counter() + _latch_counter()
    for register in CounterClock.REGISTERS:
        steps.append(write(counter_chip.SELECT_START, register.address, f"select {register.name}"))
        steps.append(Access(kind="read", address=_WINDOW, mask=register.mask, name=register.name))
    return spaced(steps + _close_counter())
