"""The accesses that write and read the calendar clock, by its own register numbers.

MSX2 Technical Handbook, ASCII Corp., chapter 5 section 6.
"""

from __future__ import annotations

from typing import Final

from rtcsave.chips import calendar_chip
from rtcsave.chips.accesses import Access, write
from rtcsave.clocks import CalendarClock, Clock

SECONDS_AGAIN: Final = "seconds_1_again"
_MODE: Final = "mode"
_BANKS: Final = (CalendarClock.REGISTERS[:13], CalendarClock.REGISTERS[13:])


def _read_mode() -> Access:
    return Access(
        kind="read", address=calendar_chip.MODE, mask=0xF, name=_MODE, note="mode as it is"
    )


def _mode(value: int, mask: int, note: str) -> Access:
    """A write of some bits of the mode register; the others stay as they were read."""
    return Access(
        kind="write", address=calendar_chip.MODE, value=value, mask=mask, note=note, keep=_MODE
    )


def write_calendar(clock: Clock) -> list[Access]:
    """Stop the timer, write both banks, start it, read back; the alarm bit stays as it was."""
    held = clock.registers()
    banks = (held[:13], held[13:])
    bank_and_timer = calendar_chip.BANK_BITS | calendar_chip.TIMER_ENABLE
    steps: list[Access] = [_read_mode()]
    for bank in (1, 0):  # the hour mode before the hours
        steps.append(_mode(bank, bank_and_timer, f"stop the timer, bank {bank}"))
        for register, nibble in zip(_BANKS[bank], banks[bank], strict=True):
            if register.mask:
                steps.append(write(register.address, nibble, register.name))
    fresh = calendar_chip.RESET_FRACTION
    steps.append(write(calendar_chip.RESET, fresh, "begin a second; at once:", due=True))
    timer = calendar_chip.TIMER_ENABLE
    steps.append(_mode(timer, bank_and_timer, "start the timer, bank 0"))
    for bank in (0, 1):
        if bank:
            steps.append(_mode(timer | bank, bank_and_timer, f"bank {bank}"))
        for register, nibble in zip(_BANKS[bank], banks[bank], strict=True):
            if register.mask:
                steps.append(
                    Access(
                        kind="expect",
                        address=register.address,
                        value=nibble,
                        mask=register.mask,
                        name=register.name,
                        note=f"{register.name} was taken",
                    )
                )
    return [*steps, _mode(timer, bank_and_timer, "bank 0 again")]


def read_calendar() -> list[Access]:
    """Read both banks, the time between two looks at its seconds, and leave the mode as it was."""
    steps: list[Access] = [_read_mode()]
    for bank in (0, 1):
        steps.append(_mode(bank, calendar_chip.BANK_BITS, f"bank {bank}"))
        for register in _BANKS[bank]:
            if register.mask:
                steps.append(
                    Access(
                        kind="read",
                        address=register.address,
                        mask=register.mask,
                        name=register.name,
                    )
                )
    first = _BANKS[0][0]
    steps.append(_mode(0, calendar_chip.BANK_BITS, "bank 0"))
    steps.append(
        Access(
            kind="read",
            address=first.address,
            mask=first.mask,
            name=SECONDS_AGAIN,
            note="the seconds once more: if they went on, read it all again",
        )
    )
    return [*steps, _mode(0, 0, "the mode as it was")]
