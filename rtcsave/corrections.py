"""Setting a clock right: shifts, a recount from an earlier save, and what a shift should be."""

from __future__ import annotations

from fractions import Fraction
from typing import Final

from rtcsave.clocks.arguments import check_rate
from rtcsave.elapsed_time import refuse_different_memory
from rtcsave.errors import BadArgument, StampUnusable, WouldOverflow
from rtcsave.savefile import SaveFile, check_save
from rtcsave.units import DAY_S
from rtcsave.when import (
    Instant,
    Seconds,
    Zone,
    dated,
    now_or,
    parse_time_of_day,
    say_span,
    span_seconds,
    unix_seconds,
    zone_offset_s,
)

_WEEK_S: Final = 7 * DAY_S


def correct(save: SaveFile, by_s: Seconds, *, allow_overflow: bool = False) -> SaveFile:
    """The save with its running clock shifted by whole seconds, forward or (negative) back.

    Nothing else changes: the stamp stays, so that advancing later does not undo the shift, and a
    game shows a time moved by exactly it, since games add a fixed offset to the registers. Halted
    clocks are shifted too. A shift past either end raises `WouldOverflow`, unless `allow_overflow`:
    forward then sets carry, backward does not change it. Registers out of range, and
    seconds that the clock cannot show, raise `BadArgument`.
    """
    block = check_save(save).clock_block
    block.refuse_misfits()
    clock = block.running
    by_s = span_seconds(by_s, "by_s")
    shifted, overflows = clock.shifted(by_s)
    if overflows and not allow_overflow:
        raise WouldOverflow(
            f"the shift would carry the clock past {'the end' if overflows > 0 else 'day 0'}",
            found=f"{clock.reading()} and {say_span(by_s)}",
            expected=f"to stay within its {clock.period_s // DAY_S} days",
            remedy="allow it (`allow_overflow`): the counter then overflows",
        )
    return save.with_clock(shifted.with_overflow_mark() if overflows > 0 else shifted)


def recount(
    save: SaveFile, since: SaveFile, to: Instant | None = None, *, different_memory: bool = False
) -> SaveFile:
    """The save with an earlier save's clock, advanced by true time, and stamped `to`.

    For a clock that stopped or was reset in between: `since` is a save from before, whose stamp is
    true. `to` is the instant for which it is to be right, if None the save's own usable stamp.
    `Refused` where the memory images have nothing in common, unless `different_memory`;
    `StampUnusable` where a stamp that is needed is unusable, or later than the instant.
    """
    if not different_memory:
        refuse_different_memory(check_save(save).memory, check_save(since).memory)
    if check_save(since).clock_block.running.halted:
        raise BadArgument(
            "the earlier clock was halted: it does not say the time since",
            remedy="choose a save from when it ran",
        )
    if to is None:
        block = check_save(save).clock_block
        if block.usable_unix_s is None:
            raise StampUnusable(
                "the save's own stamp does not say for which instant the clock is to be right",
                found=str(block.stamp),
                remedy="say it (`to`)",
            )
        to_s = block.usable_unix_s
    else:
        to_s = unix_seconds(to, "to")
    counted = since.advance_to(to_s).clock_block
    after = save.with_clock(counted.running)
    if after.clock_block.layout.stamp is None:
        return after
    return after.with_stamp(to_s if counted.saved_unix_s is None else counted.saved_unix_s)


def shift_between(shown: str, true: str) -> int:
    """The shortest shift, in seconds, that makes a game that shows one time show another.

    Both times as a game shows them: `13:52`, `13:52:07`, `1:52 pm`, with a weekday (`Tue 23:50`) or
    both without. Without weekdays the shift is at most half a day, with them half a week.
    `BadArgument` where forward and back are equally far.

    >>> shift_between("13:52", "14:05"), shift_between("Tue 23:50", "Wed 00:10")
    (780, 1200)
    """
    shown_day, shown_s, _ = parse_time_of_day(shown)
    true_day, true_s, _ = parse_time_of_day(true)
    if (shown_day is None) != (true_day is None):
        raise BadArgument(
            "one time has a weekday and the other has none",
            found=f"{shown!r} and {true!r}",
            expected="both or neither",
        )
    period_s = DAY_S
    difference = true_s - shown_s
    if shown_day is not None and true_day is not None:
        period_s = _WEEK_S
        difference += (true_day - shown_day) * DAY_S
    shift = (difference + period_s // 2) % period_s - period_s // 2
    if shift == -(period_s // 2):
        raise BadArgument(
            "forward and back are equally far",
            found=f"{shown!r} and {true!r}",
            remedy=("add weekdays, or " if shown_day is None else "")
            + f"say the shift itself (`by_s`): {say_span(-shift)} forward or back",
        )
    return shift


def zone_shift(from_zone: Zone, to_zone: Zone, at: Instant | None = None) -> int:
    """The seconds by which a clock set in one IANA zone is to be shifted to show another's time.

    The offset of `to_zone` less that of `from_zone`, at `at` (None: the present), from the zone
    database; `BadArgument` for an unknown zone.

    >>> zone_shift("Europe/Lisbon", "Asia/Tokyo", 1_705_320_000)
    32400
    """
    at_s = now_or(at)
    return zone_offset_s(to_zone, at_s) - zone_offset_s(from_zone, at_s)


def rate_shift(save: SaveFile, rate_ppm: float, since: Instant) -> int:
    """The seconds that undo a known rate since an instant, up to the save's usable stamp.

    Minus rate times span, rounded to what the clock can show; positive rate = runs fast, so the
    shift is then backward. `StampUnusable` without a usable stamp.
    """
    block = check_save(save).clock_block
    saved_s = block.usable_unix_s
    if saved_s is None:
        raise StampUnusable(
            "the save has no usable stamp, so nobody knows how long the clock has run",
            found=str(block.stamp),
            remedy="repair it with `saved_at`, or say the shift itself (`by_s`)",
        )
    since_s = unix_seconds(since, "since")
    check_rate(rate_ppm)
    span_s = saved_s - since_s
    if span_s < 0:
        raise BadArgument(
            "the rate begins after the save was written",
            found=f"from {dated(since_s)}, saved {dated(saved_s)}",
        )
    resolution_s = block.running.resolution_s
    return -round(Fraction(str(rate_ppm)) * span_s / 1_000_000 / resolution_s) * resolution_s
