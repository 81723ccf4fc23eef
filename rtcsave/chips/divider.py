"""The crystal's divider: 32,768 ticks to a second."""

from __future__ import annotations

from typing import Final, TypeVar

from rtcsave.clocks import Clock
from rtcsave.errors import BadArgument, shown

TICKS_PER_S: Final = 32_768
"""A 32.768 kHz crystal and a divider by 2 to the 15th (Pan Docs)."""


MOST_SECONDS: Final = 1e15


def checked_seconds(seconds: object) -> float:
    """A number of seconds, 0 or more, with a fraction or without; `BadArgument` if it is none."""
    number = isinstance(seconds, (int, float)) and not isinstance(seconds, bool)
    if number and 0 <= seconds <= MOST_SECONDS:  # type: ignore[operator]  # a number by then
        return seconds  # type: ignore[return-value]
    raise BadArgument("seconds are a number, 0 to 1e15, and no timedelta", found=shown(seconds))


def ticks_of(seconds: float | None, ticks: int | None) -> int:
    """The ticks that `run` was asked for, by seconds or by ticks; `BadArgument` if not by one."""
    if (seconds is None) == (ticks is None):
        raise BadArgument("say either seconds or ticks")
    if ticks is not None:
        if type(ticks) is not int or ticks < 0:
            raise BadArgument("ticks are a whole number, 0 or more", found=shown(ticks))
        return ticks
    return int(checked_seconds(seconds) * TICKS_PER_S)


def byte_of(value: int) -> int:
    """What of a value an 8-bit bus carries."""
    if isinstance(value, int):
        return value & 0xFF
    raise BadArgument("a bus carries whole numbers", found=shown(value))


def no_address(address: object) -> BadArgument:
    """The error for an address that no bus has."""
    return BadArgument("an address is a whole number", found=shown(address))


_C = TypeVar("_C", bound=Clock)


def clock_of_kind(clock: object, kind: type[_C]) -> _C:
    """Return a clock if it is of that kind; `BadArgument` if not."""
    if isinstance(clock, kind):
        return clock
    found = clock.kind if isinstance(clock, Clock) else shown(clock)
    remedy = "`CounterChip`, `MinuteChip` and `CalendarChip` take one kind each"
    if not isinstance(clock, Clock):
        remedy = "a clock makes a chip; a save's block does with from_block"
    raise BadArgument(
        "this is another kind of clock, or none",
        found=found,
        expected=f"a {kind.kind} clock",
        remedy=remedy,
    )
