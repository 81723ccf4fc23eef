"""The accesses that write and read the calendar clock, by its own register numbers.

MSX2 Technical Handbook, ASCII Corp., chapter 5 section 6.
"""

from __future__ import annotations

from typing import Final

from rtcsave.chips import calendar_chip
from rtcsave.chips.accesses import AGAIN, Access, Plan, write
from rtcsave.clocks import CalendarClock, Clock
from rtcsave.clocks.fields import Register

_MODE: Final = "mode"
_BANKS: Final = (CalendarClock.REGISTERS[:13], CalendarClock.REGISTERS[13:])
_LEAP_COUNTER: Final = "leap_counter"
_BANK_AND_TIMER: Final = calendar_chip.BANK_BITS | calendar_chip.TIMER_ENABLE


def _read_mode() -> Access:
    return Access(
        kind="read", address=calendar_chip.MODE, mask=0xF, name=_MODE, note="mode as it is"
    )


def _mode(value: int, mask: int, note: str) -> Access:
    """A write of some bits of the mode register; the others stay as they were read."""
    return Access(
        kind="write", address=calendar_chip.MODE, value=value, mask=mask, note=note, keep=_MODE
    )


def _read_back(bank: int, nibbles: bytes) -> list[Access]:
    """Expect what was written to a bank."""
    return [
        Access(
            kind="expect",
            address=register.address,
            value=nibble,
            mask=register.mask,
            name=register.name,
            note=f"{register.name} was taken",
        )
        for register, nibble in zip(_BANKS[bank], nibbles, strict=True)
        if register.mask
    ]


def write_calendar(clock: Clock) -> Plan:
    """Stop the timer, write both banks, read back, start it; the alarm bit stays as it was.

    The clock is read back while it is stopped: no digit changes then, however slow the bus is.
    The start has to follow within a second of the step that is due, or the clock is a second late.
    """
    held = clock.registers()
    banks = (held[:13], held[13:])
    steps: list[Access] = [_read_mode()]
    for bank in (1, 0):  # the hour mode before the hours
        steps.append(_mode(bank, _BANK_AND_TIMER, f"stop the timer, bank {bank}"))
        for register, nibble in zip(_BANKS[bank], banks[bank], strict=True):
            if register.mask:
                steps.append(write(register.address, nibble, register.name))
    steps += _read_back(0, banks[0])
    steps.append(_mode(1, _BANK_AND_TIMER, "bank 1, the timer stays stopped"))
    steps += _read_back(1, banks[1])
    fresh = calendar_chip.RESET_FRACTION
    steps.append(write(calendar_chip.RESET, fresh, "begin a second; at once:", due=True))
    timer = calendar_chip.TIMER_ENABLE
    steps.append(_mode(timer, _BANK_AND_TIMER, "start the timer, bank 0"))
    started = Access(
        kind="expect",
        address=calendar_chip.MODE,
        value=timer,
        mask=_BANK_AND_TIMER,
        name=_MODE,
        note="the timer was started",
    )
    return Plan(CalendarClock.kind, (*steps, started), (_mode(0, 0, "the mode as it was"),))


def _read(register: Register, again: bool = False) -> Access:
    """A read of a register, the first or the second."""
    return Access(
        kind="read",
        address=register.address,
        mask=0xF,
        name=register.name + (AGAIN if again else ""),
        note=f"{register.name} once more: if it is another, read it all again" if again else "",
    )


def read_calendar(twice: bool) -> Plan:
    """Read both banks so that a carry is found out, and leave the mode as it was.

    From the slowest digit to the seconds, and back: every digit is read before and after all faster ones.
    Where both reads are the same, no carry went into it meanwhile, so all digits are those of the instant
    when `seconds_1`, in the middle, was read. With `twice` the digits of bank 1 are read again too.
    """
    time, other = _BANKS
    steps = [_read_mode(), _mode(1, calendar_chip.BANK_BITS, "bank 1")]
    steps += [_read(register) for register in other if register.mask]
    steps.append(_mode(0, calendar_chip.BANK_BITS, "bank 0"))
    steps += [_read(register) for register in reversed(time)]
    steps += [_read(register, again=True) for register in time[1:]]
    steps.append(_mode(1, calendar_chip.BANK_BITS, "bank 1"))
    steps += [
        _read(register, again=True)
        for register in other
        if register.name == _LEAP_COUNTER or (twice and register.mask)
    ]
    as_it_was = _mode(0, 0, "the mode as it was")
    return Plan(CalendarClock.kind, (*steps, as_it_was), (as_it_was,))
