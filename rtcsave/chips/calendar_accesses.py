"""The accesses that write and read the calendar clock, by its own register numbers.

The handbook of this part (its title: README, Sources), chapter 5 section 6.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Final

from rtcsave.chips import calendar_chip
from rtcsave.chips.accesses import AGAIN, Access, Plan, write
from rtcsave.clocks import CalendarClock, Clock
from rtcsave.clocks.fields import Register

_MODE: Final = "mode"
_BANKS: Final = (CalendarClock.REGISTERS[:13], CalendarClock.REGISTERS[13:])
_LEAP_COUNTER: Final = "leap_counter"
_ALARM: Final = "alarm_"


def _read_mode() -> tuple[Access, Access]:
    """The mode, twice: it is written back, and a wrong bit would stop the clock."""
    address = calendar_chip.MODE
    first = Access(kind="read", address=address, mask=0xF, name=_MODE, note="mode as it is")
    note = "mode once more: if it is another, stop"
    return first, replace(first, name=_MODE + AGAIN, keep=_MODE, note=note)


def _mode(value: int, mask: int, note: str) -> tuple[Access, Access]:
    """A write of some bits of the mode register, and a look at all: the others stay as they were read."""
    put = Access(
        kind="write", address=calendar_chip.MODE, value=value, mask=mask, note=note, name=_MODE, keep=_MODE
    )  # fmt: skip
    return put, replace(put, kind="expect", note=f"mode was taken: {note}")


def _bank(bank: int) -> tuple[Access, Access]:
    return _mode(bank, calendar_chip.BANK_BITS, f"bank {bank}")


def _registers(bank: int) -> list[tuple[int, Register]]:
    """The registers of a bank that have a bit, each with its index in the clock."""
    first = len(_BANKS[0]) * bank
    return [(at, register) for at, register in enumerate(_BANKS[bank], first) if register.mask]


def _put(bank: int, nibbles: bytes) -> list[Access]:
    """Write a bank."""
    return [
        write(register.address, nibbles[at], register.name, name=register.name)
        for at, register in _registers(bank)
    ]


def _read_back(bank: int, nibbles: bytes) -> list[Access]:
    """Expect what was written to a bank."""
    return [
        Access(
            kind="expect",
            address=register.address,
            value=nibbles[at],
            mask=register.mask,
            name=register.name,
            note=f"{register.name} was taken",
        )
        for at, register in _registers(bank)
    ]


def write_calendar(clock: Clock) -> Plan:
    """Stop the timer, write both banks, read back, start it; the alarm bit stays as it was.

    The clock is read back while it is stopped: no digit changes then, however slow the bus is. The alarm is
    read back once more at the end, since the register that begins a second can clear it too.
    The start has to follow within a second of the step that is due, or the clock is a second late.
    """
    nibbles = clock.registers()
    timer, both = calendar_chip.TIMER_ENABLE, calendar_chip.BANK_BITS | calendar_chip.TIMER_ENABLE
    steps = [*_read_mode()]
    for bank in (1, 0):  # the hour mode before the hours
        steps += _mode(bank, both, f"stop the timer, bank {bank}")
        steps += _put(bank, nibbles)
    steps += _read_back(0, nibbles)
    steps += _mode(1, both, "bank 1, the timer stays stopped")
    steps += _read_back(1, nibbles)
    reset, fresh = calendar_chip.RESET, calendar_chip.RESET_FRACTION
    steps.append(
        write(reset, fresh, "begin a second; the next three steps follow at once", due=True)
    )
    steps.append(write(reset, fresh, "begin it once more"))
    steps += _mode(timer, both, "start the timer, bank 0")
    steps += _mode(timer | 1, both, "bank 1, the timer runs")
    steps += [step for step in _read_back(1, nibbles) if step.name.startswith(_ALARM)]
    runs = _mode(timer, both, "bank 0, the timer runs")
    return Plan(CalendarClock.kind, (*steps, *runs), runs)


def _read(register: Register, again: bool = False) -> Access:
    """A read of a register, the first or the second."""
    return Access(
        kind="read",
        address=register.address,
        mask=0xF,
        name=register.name + (AGAIN if again else ""),
        keep=register.name if again else "",
        note=f"{register.name} once more: if it is another, read it all again" if again else "",
    )


def read_calendar(twice: bool) -> Plan:
    """Read both banks so that a carry is found out, and leave the mode as it was.

    From the slowest digit to the seconds, and back: every digit is read before and after all faster ones.
    Where both reads are the same, no carry went into it meanwhile, so all digits are those of the instant
    when `seconds_1`, in the middle, was read. With `twice` that one and bank 1 are read again too.
    """
    time, other = (tuple(register for _, register in _registers(bank)) for bank in (0, 1))
    steps = [*_read_mode(), *_bank(1)]
    steps += [_read(register) for register in other]
    steps += _bank(0)
    steps += [_read(register) for register in reversed(time)]
    steps += [_read(register, again=True) for register in (time if twice else time[1:])]
    steps += _bank(1)
    steps += [
        _read(register, again=True) for register in other if twice or register.name == _LEAP_COUNTER
    ]
    return Plan(CalendarClock.kind, (*steps, *_AS_IT_WAS), _AS_IT_WAS)


_AS_IT_WAS: Final = _mode(0, 0, "the mode as it was")
