"""The accesses that write and read the minute-of-day clock.

Pan Docs, chapter on memory bank controllers.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from rtcsave.chips import minute_chip
from rtcsave.chips.accesses import AGAIN, BEFORE, Access, AccessKind, Plan, write
from rtcsave.clocks import Clock, MinuteClock

_WINDOW = minute_chip.WINDOW_START
_CLOSE = (write(0x0000, 0x00, "close"), write(0x0000, 0x00, "close once more"))
_NAMES: Final = tuple(register.name for register in MinuteClock.REGISTERS)
_TIME: Final = _NAMES[:6]
_EVENT: Final = _NAMES[6:]


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


def _command(
    command: int, argument: int, note: str, *, name: str = "", due: bool = False
) -> list[Access]:
    return [
        *_ready(),
        write(0x0000, minute_chip.COMMAND, "map the command"),
        write(_WINDOW, command << 4 | argument, note),
        write(0x0000, minute_chip.SEMAPHORE, "map the semaphore"),
        write(_WINDOW, minute_chip.RUN, f"run: {note}", name=name, due=due),
        _ready()[1],
    ]


def _point_at(location: int) -> list[Access]:
    return [
        *_command(4, location & 0xF, f"address {location:02X}h, low nibble"),
        *_command(5, location >> 4, f"address {location:02X}h, high nibble"),
    ]


def _write_nibbles(location: int, names: Sequence[str], nibbles: bytes) -> list[Access]:
    steps = _point_at(location)
    for name, nibble in zip(names, nibbles, strict=True):
        changes = name if location == minute_chip.EVENT else ""
        steps += _command(3, nibble, f"write {name} and step", name=changes)
    return steps


def _nibble_back(
    kind: AccessKind, name: str, value: int | None = None, keep: str = ""
) -> list[Access]:
    return [
        *_command(1, 0, f"read {name} and step"),
        write(0x0000, minute_chip.RESPONSE, "map the response"),
        Access(
            kind=kind,
            address=_WINDOW,
            value=value,
            mask=0xF,
            name=name,
            keep=keep,
            note=f"{name} was taken" if kind == "expect" else "",
        ),
    ]


def _expect_nibbles(location: int, names: Sequence[str], nibbles: bytes) -> list[Access]:
    steps = _point_at(location)
    for name, nibble in zip(names, nibbles, strict=True):
        steps += _nibble_back("expect", name, nibble)
    return steps


def _read_nibbles(
    location: int, names: Sequence[str], ending: str = "", *, each_after: Sequence[Access] = ()
) -> list[Access]:
    """Point at nibbles and read them; those that end in `_again` must be as those without."""
    steps = _point_at(location)
    for name in names:
        keep = name if ending == AGAIN else ""
        steps += [*each_after, *_nibble_back("read", name + ending, keep=keep)]
    return steps


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
    """Set another time, stage the right one and read that back, set it, write the event, read all of it back.

    The other time, 8 minutes off, shows where the right one was not set. The first staged nibble is made
    wrong before the time is copied back: it must come from the clock.
    """
    nibbles = clock.registers()
    time, event = nibbles[:6], nibbles[6:]
    other = bytes((time[0] ^ 0x8, *time[1:]))
    steps = _status() + _write_nibbles(minute_chip.STAGING, _TIME, other)
    steps += _command(6, 1, "set another time first", name=_TIME[0])
    steps += _write_nibbles(minute_chip.STAGING, _TIME, time)
    steps += _expect_nibbles(minute_chip.STAGING, _TIME, time)
    steps += _command(6, 1, "set the time", due=True)
    steps += _write_nibbles(minute_chip.EVENT, _EVENT, event)
    steps += _point_at(minute_chip.STAGING)
    steps += _command(3, time[0] ^ 0xF, "write another nibble, for the copy to replace")
    steps += _command(6, 0, "copy the time to read it")
    steps += _expect_nibbles(minute_chip.STAGING, _TIME, time)
    steps += _expect_nibbles(minute_chip.EVENT, _EVENT, event)
    return Plan(MinuteClock.kind, (*steps, *_CLOSE), _CLOSE)


def read_minutes(twice: bool) -> Plan:
    """Read what is staged, copy the time, then read its nibbles and those of the event, twice if that is
    wanted.

    Where the time is what was staged before, the copy may be missing: the caller has to say so. With `twice`
    the first read of each nibble comes after the status, a 1. One wrong bit makes of that read a write of 0:
    it then shows 1, and the second read 0.
    """
    steps = _status() + _read_nibbles(minute_chip.STAGING, _TIME, BEFORE)
    steps += _command(6, 0, "copy the time to read it")
    status = _command(6, 2, "ask for the status") if twice else ()
    steps += _read_nibbles(minute_chip.STAGING, _TIME, each_after=status)
    steps += _read_nibbles(minute_chip.EVENT, _EVENT, each_after=status)
    if twice:
        steps += _read_nibbles(minute_chip.STAGING, _TIME, AGAIN)
        steps += _read_nibbles(minute_chip.EVENT, _EVENT, AGAIN)
    return Plan(MinuteClock.kind, (*steps, *_CLOSE), _CLOSE)
