"""The accesses that write and read the minute-of-day clock.

Pan Docs, chapter on memory bank controllers.
"""

from __future__ import annotations

from rtcsave.chips import minute_chip
from rtcsave.chips.accesses import AGAIN, Access, AccessKind, Plan, write
from rtcsave.clocks import Clock, MinuteClock

_WINDOW = minute_chip.WINDOW_START
_CLOSE = (write(0x0000, 0x00, "close"),)


def _ready() -> list[Access]:
    return [
        write(0x0000, minute_chip.SEMAPHORE, "map the semaphore"),
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
        write(0x0000, minute_chip.COMMAND, "map the command"),
        write(_WINDOW, command << 4 | argument, note),
        write(0x0000, minute_chip.SEMAPHORE, "map the semaphore"),
        write(_WINDOW, minute_chip.RUN, f"run: {note}", due),
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
        write(0x0000, minute_chip.RESPONSE, "map the response"),
        Access(
            kind=kind,
            address=_WINDOW,
            value=value,
            mask=0xF,
            name=name,
            note=f"{name} was taken" if kind == "expect" else "",
        ),
    ]


def _status() -> list[Access]:
    """Ask for the status, to which the clock answers 1: proof that it is there."""
    return [
        *_command(6, 2, "ask for the status"),
        write(0x0000, minute_chip.RESPONSE, "map the response"),
        Access(
            kind="expect", address=_WINDOW, value=1, mask=0xF, name="status", note="it answers 1"
        ),
    ]


def write_minutes(clock: Clock) -> Plan:
    """Stage the time, set it, write the event, read all of it back."""
    nibbles = clock.registers()
    names = [register.name for register in MinuteClock.REGISTERS]
    steps = _status() + _point_at(minute_chip.STAGING)
    for name, nibble in zip(names[:6], nibbles[:6], strict=True):
        steps += _command(3, nibble, f"write {name} and step")
    steps += _command(6, 1, "set the time", due=True)
    steps += _point_at(minute_chip.EVENT)
    for name, nibble in zip(names[6:], nibbles[6:], strict=True):
        steps += _command(3, nibble, f"write {name} and step")
    steps += _command(6, 0, "copy the time to read it")
    steps += _point_at(minute_chip.STAGING)
    for name, nibble in zip(names[:6], nibbles[:6], strict=True):
        steps += _nibble_back("expect", name, nibble)
    steps += _point_at(minute_chip.EVENT)
    for name, nibble in zip(names[6:], nibbles[6:], strict=True):
        steps += _nibble_back("expect", name, nibble)
    return Plan(MinuteClock.kind, (*steps, *_CLOSE), _CLOSE)


def read_minutes(twice: bool) -> Plan:
    """Copy the time, then read its nibbles and those of the event, twice if that is wanted."""
    names = [register.name for register in MinuteClock.REGISTERS]
    steps = _status() + _command(6, 0, "copy the time to read it")
    for more in ("", AGAIN) if twice else ("",):
        steps += _point_at(minute_chip.STAGING)
        for name in names[:6]:
            steps += _nibble_back("read", name + more, None)
        steps += _point_at(minute_chip.EVENT)
        for name in names[6:]:
            steps += _nibble_back("read", name + more, None)
    return Plan(MinuteClock.kind, (*steps, *_CLOSE), _CLOSE)
