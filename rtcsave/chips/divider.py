"""The crystal's divider: 32,768 ticks to a second."""

from __future__ import annotations

from typing import Final

from rtcsave.errors import BadArgument, shown

TICKS_PER_S: Final = 32_768
"""A 32.768 kHz crystal and a divider by 2 to the 15th (Pan Docs)."""


def ticks_of(seconds: float | None, ticks: int | None) -> int:
    """The ticks that `run` was asked for, by seconds or by ticks; `BadArgument` if not by one.

    Seconds may have a fraction, which is cut off downward to a whole tick: a loop that must not
    lose any counts in ticks.
    """
    if (seconds is None) == (ticks is None):
        raise BadArgument("say either seconds or ticks")
    if ticks is not None:
        if type(ticks) is not int or ticks < 0:
            raise BadArgument("ticks are a whole number, 0 or more", found=shown(ticks))
        return ticks
    if isinstance(seconds, bool) or not isinstance(seconds, (int, float)):
        raise BadArgument("seconds are a number, 0 or more", found=shown(seconds))
    if not 0 <= seconds < float("inf"):
        raise BadArgument("seconds are a number, 0 or more", found=shown(seconds))
    return int(seconds * TICKS_PER_S)


def byte_of(value: int) -> int:
    """What of a value goes over an 8-bit bus."""
    return value & 0xFF
