"""The calendar clock's rules, each as a check, by its own register numbers.

The handbook of this part, chapter 5 section 6; an operating-system kernel's driver for it; the digits of the
12-hour mode: the manual of a sibling part, section 2.6 (titles: README, Sources).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Final

from rtcsave.chips import Bus
from rtcsave.chips.calendar_chip import (
    BANK_BITS,
    MODE,
    RESET,
    RESET_ALARM,
    RESET_FRACTION,
    TIMER_ENABLE,
)
from rtcsave.clocks import CalendarClock
from rtcsave.conformance.checking import MARGIN_US, SECOND_US, Checks, expect

_HANDBOOK: Final = "handbook of the calendar part, chapter 5 section 6"
_BOTH: Final = f"{_HANDBOOK}; an operating-system kernel's driver for it"
_TWELVE: Final = f"{_HANDBOOK}; manual of a sibling part, section 2.6"

_PER_BANK: Final = 13
_LEAP_COUNTER: Final = 11
_HOUR_MODE: Final = 10
_MASKS: Final = tuple(register.mask for register in CalendarClock.REGISTERS)


class _Bus:
    """The accesses of a driver, one word each."""

    def __init__(self, bus: Bus) -> None:
        self.bus = bus

    def mode(self, bank: int, timer: bool = True) -> None:
        self.bus.write(MODE, (TIMER_ENABLE if timer else 0) | bank)

    def put(self, bank: int, values: Sequence[int], first: int = 0, timer: bool = True) -> None:
        self.mode(bank, timer)
        for at, value in enumerate(values, first):
            self.bus.write(at, value)

    def get(self, bank: int, count: int = _PER_BANK, first: int = 0) -> list[int | None]:
        """Nibbles of a bank, the timer as it is."""
        mode = self.bus.read(MODE) or 0
        self.bus.write(MODE, mode & ~BANK_BITS | bank)
        values = [self.bus.read(at) for at in range(first, first + count)]
        return [None if value is None else value & 0xF for value in values]

    def set(self, digits: str, leap_counter: int, twelve_hour: bool = False) -> None:
        """Set a time, `YYMMDD W hhmmss` in digits as the registers hold them, and begin a second."""
        date, weekday, time = digits.split()
        nibbles = [int(digit) for digit in time[::-1]] + [int(weekday)]
        nibbles += [int(digit) for pair in (date[4:], date[2:4], date[:2]) for digit in pair[::-1]]
        self.put(1, (0 if twelve_hour else 1, leap_counter), _HOUR_MODE, timer=False)
        self.put(0, nibbles, timer=False)
        self.bus.write(RESET, RESET_FRACTION)
        self.mode(0)

    def digits(self) -> str:
        """The time, as `set` takes it."""
        n = ["?" if value is None else f"{value:X}" for value in self.get(0)]
        date = n[12] + n[11] + n[10] + n[9] + n[8] + n[7]
        return f"{date} {n[6]} {''.join(n[5::-1])}"

    def tick(self) -> None:
        self.bus.wait(SECOND_US + MARGIN_US)


_check: Final = Checks(_Bus)


@_check("valid-bits", _HANDBOOK)
def _valid_bits(clock: _Bus) -> None:
    for bank in (0, 1):
        clock.put(bank, (0xF,) * _PER_BANK, timer=False)
        masks = list(_MASKS[bank * _PER_BANK : (bank + 1) * _PER_BANK])
        expect(f"Fh was written to all registers of bank {bank}", masks, clock.get(bank))


@_check("the-mode-shows-in-every-bank", _HANDBOOK)
def _mode_everywhere(clock: _Bus) -> None:
    for bank in range(4):
        clock.mode(bank)
        value = clock.bus.read(MODE)
        expect(
            f"bank {bank} was chosen", TIMER_ENABLE | bank, None if value is None else value & 0xF
        )


@_check("banks-2-and-3-are-memory", _BOTH)
def _memory(clock: _Bus) -> None:
    for bank in (2, 3):
        clock.put(bank, [(at + bank) & 0xF for at in range(_PER_BANK)])
    for bank in (2, 3):
        expect(
            f"nibbles were written to bank {bank}",
            [(at + bank) & 0xF for at in range(_PER_BANK)],
            clock.get(bank),
        )


@_check("the-time-is-kept", _BOTH)
def _kept(clock: _Bus) -> None:
    clock.set("260310 2 141500", 2)
    expect("a time was set", "260310 2 141500", clock.digits())


_COUNTING: Final = (
    # name, source, before, leap counter, 12-hour mode, after, leap counter after
    ("a-second-is-a-tick", _BOTH, "260310 2 141507", 2, False, "260310 2 141508", 2),
    ("seconds-carry-into-minutes", _BOTH, "260310 2 141459", 2, False, "260310 2 141500", 2),
    ("minutes-carry-into-hours", _BOTH, "260310 2 145959", 2, False, "260310 2 150000", 2),
    ("hours-carry-into-days", _BOTH, "260310 2 235959", 2, False, "260311 3 000000", 2),
    ("weekday-6-to-0", _HANDBOOK, "260310 6 235959", 2, False, "260311 0 000000", 2),
    ("a-month-of-30-days", _BOTH, "260430 4 235959", 2, False, "260501 5 000000", 2),
    ("a-month-of-31-days", _BOTH, "260731 5 235959", 2, False, "260801 6 000000", 2),
    ("leap-counter-0-has-february-29", _BOTH, "240228 3 235959", 0, False, "240229 4 000000", 0),
    ("after-february-29", _BOTH, "240229 4 235959", 0, False, "240301 5 000000", 0),
    ("leap-counter-1-has-none", _BOTH, "240228 3 235959", 1, False, "240301 4 000000", 1),
    ("the-leap-counter-steps-with-the-year", _BOTH, "261231 4 235959", 2, False, "270101 5 000000", 3),
    ("leap-counter-3-to-0", _BOTH, "271231 5 235959", 3, False, "280101 6 000000", 0),
    ("year-99-to-00", _BOTH, "991231 5 235959", 3, False, "000101 6 000000", 0),
    ("twelve-hour-noon", _TWELVE, "260310 2 115959", 2, True, "260310 2 320000", 2),
    ("twelve-hour-midnight", _TWELVE, "260310 2 315959", 2, True, "260311 3 120000", 2),
    ("twelve-hour-one-in-the-morning", _TWELVE, "260310 2 125959", 2, True, "260310 2 010000", 2),
    ("twelve-hour-one-in-the-afternoon", _TWELVE, "260310 2 325959", 2, True, "260310 2 210000", 2),
)  # fmt: skip


def _counts(
    before: str, leap_before: int, twelve_hour: bool, after: str, leap_after: int
) -> Callable[[_Bus], None]:
    def rule(clock: _Bus) -> None:
        clock.set(before, leap_before, twelve_hour)
        clock.tick()
        situation = f"{before} was set, leap counter {leap_before}, and a second passed"
        expect(situation, after, clock.digits())
        leap = clock.get(1, 1, _LEAP_COUNTER)
        expect(f"{situation}: the leap counter", [leap_after], leap)

    return rule


for _name, _source, _before, _leap_before, _is_twelve, _after, _leap_after in _COUNTING:
    _check(_name, _source)(_counts(_before, _leap_before, _is_twelve, _after, _leap_after))


@_check("timer-off-no-tick", _BOTH)
def _timer_off(clock: _Bus) -> None:
    clock.set("260310 2 141507", 2)
    clock.mode(0, timer=False)
    clock.bus.wait(100 * SECOND_US)
    expect("100 s passed with the timer off", "260310 2 141507", clock.digits())


@_check("the-fraction-runs-on-while-the-timer-is-off", _BOTH, "fraction")
def _divider_runs(clock: _Bus) -> None:
    clock.set("260310 2 141507", 2)
    clock.bus.wait(300_000)
    clock.mode(0, timer=False)
    clock.bus.wait(5_400_000)
    clock.mode(0)
    clock.bus.wait(300_000 - MARGIN_US)
    off = "s after a second began, the timer off for 5.4 of them"
    expect(f"5.99 {off}", "260310 2 141507", clock.digits())
    clock.bus.wait(2 * MARGIN_US)
    expect(f"6.01 {off}", "260310 2 141508", clock.digits())


@_check("reset-begins-a-second", _BOTH, "fraction")
def _reset_fraction(clock: _Bus) -> None:
    clock.set("260310 2 141507", 2)
    clock.bus.wait(900_000)
    clock.bus.write(RESET, RESET_FRACTION)
    clock.bus.wait(SECOND_US - MARGIN_US)
    expect("990 ms passed since the reset", "260310 2 141507", clock.digits())
    clock.bus.wait(2 * MARGIN_US)
    expect("1,010 ms passed since the reset", "260310 2 141508", clock.digits())


@_check("reset-clears-the-alarm", _BOTH)
def _reset_alarm(clock: _Bus) -> None:
    clock.put(1, (1,) * 7, 2)
    clock.bus.write(RESET, RESET_ALARM)
    expect("1 was written to the alarm's registers, then the reset", [0] * 7, clock.get(1, 7, 2))


CALENDAR_CHECKS: Final = _check.all
