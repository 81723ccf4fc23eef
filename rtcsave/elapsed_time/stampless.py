"""What is known of the time between two saves where a stamp is unusable: what the registers allow,
the other stamp, and the present."""

from __future__ import annotations

from typing import Final, NamedTuple

from rtcsave.clocks import Clock
from rtcsave.elapsed_time.stamp_reading import StampedAt
from rtcsave.stamps import EARLIEST_USABLE_S
from rtcsave.when import say_instant, say_span

MOST_CANDIDATES: Final = 32
"""How many possibilities are listed at most: 32 periods of 512 days are 44 years."""

CRYSTAL_PART: Final = 50e-6
"""By what part of a time a crystal may have counted past the limit."""


class Unknown(NamedTuple):
    """The times that registers of an untouched clock allow, the most that is possible (None: no
    limit), and all of it in sentences."""

    candidates_s: tuple[int, ...]
    high_s: int | None
    text: str


def _limit(start: StampedAt, end: StampedAt, now_s: int) -> tuple[int, str] | None:
    """The most time that the usable stamp and the present leave, and why; None: no limit."""
    if end.unix_s is not None:
        return end.unix_s - EARLIEST_USABLE_S, "no such save is older than 1995"
    if start.unix_s is None:
        limit_s, why = now_s - EARLIEST_USABLE_S, "no such save is older than 1995"
    else:
        limit_s = now_s - start.unix_s
        why = f"the earlier save was written on {say_instant(start.unix_s)}"
    return (limit_s, why) if limit_s >= 0 else None


def _flags(first: Clock, second: Clock, change_s: int) -> list[str]:
    """What halt and carry say about the registers' account."""
    lines = []
    if first.halted or second.halted:
        both = first.halted and second.halted
        where = "both saves" if both else f"the {'earlier' if first.halted else 'later'} save"
        lines.append(f"Halt is set in {where}, so the clock may not have run.")
    if second.carried and not first.carried:
        lines.append("Carry is newly set: the day counter passed day 511 at least once.")
    elif change_s < 0 and not second.carried:
        lines.append("The later reading is smaller: an overflow, or the clock was set.")
    return lines


def _possible(candidates_s: tuple[int, ...]) -> str:
    if not candidates_s:
        return "No time that the registers count fits: the clock was set or restarted."
    said = ", ".join(say_span(time_s) for time_s in candidates_s[:3])
    if len(candidates_s) == 1:
        return f"If the clock ran untouched, {said} passed."
    more = len(candidates_s) - 3
    tail = f", or {more} more" if more > 0 else ""
    return f"If the clock ran untouched, these are possible: {said}{tail}."


def without_stamps(
    first: Clock, second: Clock, change_s: int, start: StampedAt, end: StampedAt, now_s: int
) -> Unknown:
    """The times that are possible between two clocks whose readings differ by `change_s`."""
    period_s = second.period_s
    limit = _limit(start, end, now_s)
    new_carry = second.carried and not first.carried
    fewest_s = change_s % period_s + (period_s if new_carry and change_s >= 0 else 0)
    candidates_s = tuple(
        time_s
        for time_s in range(fewest_s, fewest_s + period_s * MOST_CANDIDATES, period_s)
        if limit is None or time_s * (1 - CRYSTAL_PART) <= limit[0] + second.resolution_s
    )
    lines = [instant.note for instant in (start, end) if instant.note]
    lines.append("Only the registers count the time between the saves.")
    lines += _flags(first, second, change_s)
    if limit is not None:
        lines.append(f"At most {say_span(limit[0])} passed: {limit[1]}.")
    lines.append(_possible(candidates_s))
    return Unknown(candidates_s, None if limit is None else limit[0], " ".join(lines))
