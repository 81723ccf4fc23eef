"""The day-counter clock's rules, each as a check: the bus, counting, halt and fraction.

Sources: named in each check. Waits stay ten milliseconds away from a tick: a clock may count in cycles.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

from rtcsave.chips import Bus
from rtcsave.chips.counter_chip import (
    CLOSE,
    HALT_BIT,
    LATCH_END,
    LATCH_START,
    OPEN,
    SELECT_START,
    WINDOW_END,
    WINDOW_START,
)
from rtcsave.clocks import CounterClock
from rtcsave.conformance.checking import MARGIN_US, PAN_DOCS, SECOND_US, Checks, expect

MEASURED: Final = "hardware measurements, public domain"
_BOTH: Final = f"{PAN_DOCS}; {MEASURED}"

_SELECTS: Final = tuple(register.address for register in CounterClock.REGISTERS)
SECONDS, MINUTES, HOURS, DAY_LOW, DAY_HIGH = _SELECTS


class _Bus:
    """The accesses of a game, one word each."""

    def __init__(self, bus: Bus) -> None:
        self.bus = bus

    def open(self) -> None:
        self.bus.write(0x0000, OPEN)

    def put(self, select: int, value: int) -> None:
        self.bus.write(SELECT_START, select)
        self.bus.write(WINDOW_START, value)

    def put_all(self, registers: tuple[int, ...]) -> None:
        """Write every register, the seconds last: they begin a second."""
        for select, value in reversed(tuple(zip(_SELECTS, registers, strict=True))):
            self.put(select, value)

    def latch(self) -> None:
        self.bus.write(LATCH_START, 0x00)
        self.bus.write(LATCH_START, 0x01)

    def get(self, select: int) -> int | None:
        self.bus.write(SELECT_START, select)
        return self.bus.read(WINDOW_START)

    def registers(self) -> list[int | None]:
        self.latch()
        return [self.get(select) for select in _SELECTS]

    def wait_s(self, seconds: float) -> None:
        self.bus.wait(round(seconds * SECOND_US))

    def tick(self) -> None:
        """Wait for a tick after a second began, and a little longer."""
        self.bus.wait(SECOND_US + MARGIN_US)


_check: Final = Checks(_Bus)


@_check("valid-bits", MEASURED)
def _valid_bits(clock: _Bus) -> None:
    clock.open()
    clock.put_all((0xFF,) * 5)
    expect("every register was written FFh", [0x3F, 0x3F, 0x1F, 0xFF, 0xC1], clock.registers())


@_check("registers-are-kept", PAN_DOCS, "halt")
def _kept(clock: _Bus) -> None:
    clock.open()
    values = (7, 40, 13, 44, 1 | HALT_BIT)
    clock.put_all(values)
    expect("13:40:07 on day 300 was written, halted", list(values), clock.registers())


@_check("closed-at-first", PAN_DOCS, "open")
def _closed_at_first(clock: _Bus) -> None:
    clock.put(MINUTES, 33)
    clock.open()
    expect("33 minutes were written before it was opened", 0, clock.registers()[1])


@_check("closed-drops-writes", PAN_DOCS, "open")
def _closed(clock: _Bus) -> None:
    clock.open()
    clock.put(MINUTES, 5)
    clock.bus.write(0x1FFF, CLOSE)
    clock.put(MINUTES, 33)
    clock.bus.write(0x1000, OPEN)
    expect("5 minutes were written, then 33 while it was closed", 5, clock.registers()[1])


@_check("a-memory-bank-is-no-register", PAN_DOCS)
def _bank(clock: _Bus) -> None:
    clock.open()
    clock.put_all((5, 6, 7, 8, 0))
    for bank in range(8):
        clock.put(bank, 33)
    expect("33 was written to memory banks 0 to 7", [5, 6, 7, 8, 0], clock.registers())


@_check("any-address-of-the-window", PAN_DOCS)
def _window(clock: _Bus) -> None:
    clock.open()
    clock.bus.write(SELECT_START, MINUTES)
    clock.bus.write(0xBEEF, 33)
    clock.latch()
    clock.bus.write(0x5FFF, MINUTES)
    seen = [clock.bus.read(address) for address in (WINDOW_START, 0xABCD, WINDOW_END)]
    expect("33 minutes were written at BEEFh, read at A000h, ABCDh, BFFFh", [33] * 3, seen)


@_check("latch-copies-the-time", PAN_DOCS, "latch")
def _latch(clock: _Bus) -> None:
    clock.open()
    clock.put_all((5, 6, 7, 8, 0))
    clock.bus.write(LATCH_START, 0x00)
    clock.bus.write(LATCH_START, 0x01)
    expect("00h, then 01h was written to the latch", 5, clock.get(SECONDS))


@_check("latched-registers-stay", PAN_DOCS, "latch")
def _latched_stay(clock: _Bus) -> None:
    clock.open()
    clock.put_all((5, 6, 7, 8, 0))
    clock.latch()
    clock.tick()
    expect("a second passed after the latch", 5, clock.get(SECONDS))
    clock.put(MINUTES, 33)
    expect("the minutes were written after the latch", 6, clock.get(MINUTES))


@_check("latch-needs-00-then-01", PAN_DOCS, "latch")
def _latch_order(clock: _Bus) -> None:
    clock.open()
    clock.put_all((5, 0, 0, 0, 0))
    clock.latch()
    clock.put(SECONDS, 9)
    clock.bus.write(LATCH_END, 0x01)
    expect("01h was written to the latch once more", 5, clock.get(SECONDS))
    clock.bus.write(LATCH_END, 0x00)
    expect("00h alone was written to the latch", 5, clock.get(SECONDS))
    clock.bus.write(LATCH_END, 0x01)
    expect("01h followed 00h", 9, clock.get(SECONDS))


@_check("a-second-is-a-tick", MEASURED)
def _tick(clock: _Bus) -> None:
    clock.open()
    clock.put_all((10, 0, 0, 0, 0))
    clock.tick()
    expect("a second passed", [11, 0, 0, 0, 0], clock.registers())
    clock.wait_s(40)
    expect("40 seconds more passed", [51, 0, 0, 0, 0], clock.registers())


@_check("halted-no-tick", MEASURED, "halt")
def _halted(clock: _Bus) -> None:
    clock.open()
    clock.put_all((10, 0, 0, 0, HALT_BIT))
    clock.wait_s(100)
    expect("100 seconds passed while halted", [10, 0, 0, 0, HALT_BIT], clock.registers())


_COUNTING: Final = (
    ("seconds-carry-into-minutes", _BOTH, (59, 0, 0, 0, 0), [0, 1, 0, 0, 0]),
    ("minutes-carry-into-hours", _BOTH, (59, 59, 0, 0, 0), [0, 0, 1, 0, 0]),
    ("hours-carry-into-days", _BOTH, (59, 59, 23, 0, 0), [0, 0, 0, 1, 0]),
    ("day-255-carries-into-bit-8", _BOTH, (59, 59, 23, 255, 0), [0, 0, 0, 0, 1]),
    ("overflow-sets-carry", _BOTH, (59, 59, 23, 255, 1), [0, 0, 0, 0, 0x80]),
    ("carry-stays-set", _BOTH, (59, 59, 23, 255, 0x81), [0, 0, 0, 0, 0x80]),
    ("past-range-counts", MEASURED, (60, 63, 28, 5, 0), [61, 63, 28, 5, 0]),
    ("seconds-63-to-0-no-carry", MEASURED, (63, 10, 5, 5, 0), [0, 10, 5, 5, 0]),
    ("minutes-63-to-0-no-carry", MEASURED, (59, 63, 5, 5, 0), [0, 0, 5, 5, 0]),
    ("hours-31-to-0-no-carry", MEASURED, (59, 59, 31, 5, 0), [0, 0, 0, 5, 0]),
    ("minutes-past-range-step", MEASURED, (59, 60, 5, 5, 0), [0, 61, 5, 5, 0]),
    ("minutes-62-step", MEASURED, (59, 62, 5, 5, 0), [0, 63, 5, 5, 0]),
    ("hours-past-range-step", MEASURED, (59, 59, 24, 5, 0), [0, 0, 25, 5, 0]),
    ("hours-30-step", MEASURED, (59, 59, 30, 5, 0), [0, 0, 31, 5, 0]),
)


def _counts(before: tuple[int, ...], after: list[int]) -> Callable[[_Bus], None]:
    def rule(clock: _Bus) -> None:
        clock.open()
        clock.put_all(before)
        clock.tick()
        written = " ".join(f"{value:02X}h" for value in before)
        expect(f"{written} was written and a second passed", after, clock.registers())

    return rule


for _name, _source, _before, _after in _COUNTING:
    _check(_name, _source)(_counts(_before, _after))


@_check("software-clears-carry", _BOTH)
def _clear_carry(clock: _Bus) -> None:
    clock.open()
    clock.put_all((59, 59, 23, 255, 1))
    clock.tick()
    clock.put(DAY_HIGH, 0x00)
    expect("the counter overflowed, then day_high was written 00h", 0, clock.registers()[4])


@_check("writing-seconds-begins-a-second", MEASURED, "fraction")
def _seconds_restart(clock: _Bus) -> None:
    clock.open()
    clock.put_all((0, 0, 0, 0, 0))
    clock.wait_s(0.4)
    clock.put(SECONDS, 7)
    clock.bus.wait(SECOND_US - MARGIN_US)
    expect("990 ms passed since the seconds were written", 7, clock.registers()[0])
    clock.bus.wait(2 * MARGIN_US)
    expect("1,010 ms passed since the seconds were written", 8, clock.registers()[0])


def _does_not_restart(select: int, name: str) -> Callable[[_Bus], None]:
    def rule(clock: _Bus) -> None:
        clock.open()
        clock.put_all((0, 0, 0, 0, 0))
        clock.wait_s(0.4)
        clock.put(select, 1)
        clock.bus.wait(600_000 - MARGIN_US)
        expect(f"{name} was written 600 ms before the tick; 590 ms passed", 0, clock.registers()[0])
        clock.bus.wait(2 * MARGIN_US)
        expect(f"{name} was written 600 ms before the tick; 610 ms passed", 1, clock.registers()[0])

    return rule


for _select, _name in zip(_SELECTS[1:], ("minutes", "hours", "day-low", "day-high"), strict=True):
    _check(f"writing-{_name}-keeps-the-fraction", MEASURED, "fraction")(
        _does_not_restart(_select, _name.replace("-", "_"))
    )


@_check("halt-freezes-the-fraction", MEASURED, "fraction", "halt")
def _halt_freezes(clock: _Bus) -> None:
    clock.open()
    clock.put_all((0, 0, 0, 0, 0))
    clock.wait_s(0.6)
    clock.put(DAY_HIGH, HALT_BIT)
    clock.wait_s(1_000)
    clock.put(DAY_HIGH, 0x00)
    clock.bus.wait(400_000 - MARGIN_US)
    expect("halted 400 ms before a tick and released 390 ms ago", 0, clock.registers()[0])
    clock.bus.wait(2 * MARGIN_US)
    expect("halted 400 ms before a tick and released 410 ms ago", 1, clock.registers()[0])


COUNTER_CHECKS: Final = _check.all
