"""The accesses that write and read each kind of clock, step by step.

Order and waits: Pan Docs, chapter on memory bank controllers; MSX2 Technical Handbook, chapter 5
section 6.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal

from rtcsave.chips import calendar_chip, counter_chip, minute_chip
from rtcsave.clocks import CalendarClock, Clock, CounterClock, MinuteClock

AccessKind = Literal["write", "read", "expect", "wait", "poll"]

ACCESS_WAIT_US: Final = 4
"""Leave 4 µs between accesses to the day-counter clock (Pan Docs)."""

_WINDOW: Final = counter_chip.WINDOW_START


@dataclass(frozen=True, slots=True, kw_only=True)
class Access:
    """One step: write a byte, read one under a name, expect one, wait, or poll until it is there.

    `mask` says which bits of a read, an expectation or a poll count. `wait_us` is for a wait. A step
    with `due` is the one that sets the clock going: it belongs at the sequence's instant. A write that
    keeps the bits outside its mask takes them from what was read under the name in `keep`.
    """

    kind: AccessKind
    address: int | None = None
    value: int | None = None
    mask: int = 0xFF
    name: str = ""
    wait_us: int = 0
    note: str = ""
    due: bool = False
    keep: str = ""


def _write(address: int, value: int, note: str, due: bool = False) -> Access:
    return Access(kind="write", address=address, value=value, note=note, due=due)


def _spaced(steps: list[Access]) -> list[Access]:
    """The accesses with the wait between every two of them."""
    spaced: list[Access] = []
    for step in steps:
        if spaced:
            spaced.append(Access(kind="wait", wait_us=ACCESS_WAIT_US, note="between accesses"))
        spaced.append(step)
    return spaced


def _open_counter() -> list[Access]:
    return [_write(0x0000, counter_chip.OPEN, "open memory and clock")]


def _close_counter() -> list[Access]:
    return [
        _write(counter_chip.SELECT_START, 0x00, "select memory bank 0 again"),
        _write(0x0000, counter_chip.CLOSE, "close"),
    ]


def _latch_counter() -> list[Access]:
    return [
        _write(counter_chip.LATCH_START, 0x00, "latch: first 00h"),
        _write(counter_chip.LATCH_START, 0x01, "then 01h"),
    ]


def write_counter(clock: Clock) -> list[Access]:
    """Halt, write the registers, release, read back."""
    held = clock.registers()
    high = held[4]
    steps = _open_counter()

    def put(at: int, value: int, note: str, due: bool = False) -> None:
        register = CounterClock.REGISTERS[at]
        steps.append(_write(counter_chip.SELECT_START, register.address, f"select {register.name}"))
        steps.append(_write(_WINDOW, value, note, due))

    put(4, high | counter_chip.HALT_BIT, "halt first")
    for at, register in enumerate(CounterClock.REGISTERS[:4]):
        put(at, held[at], register.name)
    last = "day_high: stays halted" if high & counter_chip.HALT_BIT else "day_high: release"
    put(4, high, last, due=True)
    steps += _latch_counter()
    for at, register in enumerate(CounterClock.REGISTERS):
        steps.append(_write(counter_chip.SELECT_START, register.address, f"select {register.name}"))
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
    return _spaced(steps + _close_counter())


def read_counter() -> list[Access]:
    """Latch, then read each register."""
    steps = _open_counter() + _latch_counter()
    for register in CounterClock.REGISTERS:
        steps.append(_write(counter_chip.SELECT_START, register.address, f"select {register.name}"))
        steps.append(Access(kind="read", address=_WINDOW, mask=register.mask, name=register.name))
    return _spaced(steps + _close_counter())


def _ready() -> list[Access]:
    return [
        _write(0x0000, minute_chip.SEMAPHORE, "map the semaphore"),
        Access(
            kind="poll",
            address=_WINDOW,
            value=minute_chip.READY,
            mask=minute_chip.READY,
            note="until it is ready",
        ),
    ]


def _command(command: int, argument: int, note: str, due: bool = False) -> list[Access]:
    return [
        *_ready(),
        _write(0x0000, minute_chip.COMMAND, "map the command"),
        _write(_WINDOW, command << 4 | argument, note),
        _write(0x0000, minute_chip.SEMAPHORE, "map the semaphore"),
        _write(_WINDOW, minute_chip.RUN, f"run: {note}", due),
        _ready()[1],
    ]


def _point_at(location: int) -> list[Access]:
    return [
        *_command(4, location & 0xF, f"address {location:02X}h, low nibble"),
        *_command(5, location >> 4, f"address {location:02X}h, high nibble"),
    ]


def _nibble_back(kind: AccessKind, name: str, value: int | None) -> list[Access]:
    return [
        *_command(1, 0, f"read {name} and step"),
        _write(0x0000, minute_chip.RESPONSE, "map the response"),
        Access(
            kind=kind, address=_WINDOW, value=value, mask=0xF, name=name, note=f"{name} was taken"
        ),
    ]


def _status() -> list[Access]:
    """Ask for the status, to which the clock answers 1: proof that it is there."""
    return [
        *_command(6, 2, "ask for the status"),
        _write(0x0000, minute_chip.RESPONSE, "map the response"),
        Access(
            kind="expect", address=_WINDOW, value=1, mask=0xF, name="status", note="it answers 1"
        ),
    ]


def write_minutes(clock: Clock) -> list[Access]:
    """Stage the time, set it, write the event, read all of it back."""
    held = clock.registers()
    names = [register.name for register in MinuteClock.REGISTERS]
    steps = _status() + _point_at(minute_chip.STAGING)
    for name, nibble in zip(names[:6], held[:6], strict=True):
        steps += _command(3, nibble, f"write {name} and step")
    steps += _command(6, 1, "set the time", due=True)
    steps += _point_at(minute_chip.EVENT)
    for name, nibble in zip(names[6:], held[6:], strict=True):
        steps += _command(3, nibble, f"write {name} and step")
    steps += _command(6, 0, "copy the time to read it")
    steps += _point_at(minute_chip.STAGING)
    for name, nibble in zip(names[:6], held[:6], strict=True):
        steps += _nibble_back("expect", name, nibble)
    steps += _point_at(minute_chip.EVENT)
    for name, nibble in zip(names[6:], held[6:], strict=True):
        steps += _nibble_back("expect", name, nibble)
    return [*steps, _write(0x0000, 0x00, "close")]


def read_minutes() -> list[Access]:
    """Copy the time, then read its nibbles and those of the event."""
    names = [register.name for register in MinuteClock.REGISTERS]
    steps = _status() + _command(6, 0, "copy the time to read it") + _point_at(minute_chip.STAGING)
    for name in names[:6]:
        steps += _nibble_back("read", name, None)
    steps += _point_at(minute_chip.EVENT)
    for name in names[6:]:
        steps += _nibble_back("read", name, None)
    return [*steps, _write(0x0000, 0x00, "close")]


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
                steps.append(_write(register.address, nibble, register.name))
    fresh = calendar_chip.RESET_FRACTION
    steps.append(_write(calendar_chip.RESET, fresh, "begin a second; at once:", due=True))
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
