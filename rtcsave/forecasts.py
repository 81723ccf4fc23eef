"""When the counter next overflows, and when the cell is due."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from fractions import Fraction
from typing import NamedTuple

from rtcsave.cells import Cell
from rtcsave.clocks.arguments import check_rate
from rtcsave.drift import DriftEstimate
from rtcsave.elapsed_time import CRYSTAL_PPM
from rtcsave.errors import BadArgument, number_of, shown
from rtcsave.layouts import ClockBlock
from rtcsave.savefile import SaveFile, check_save
from rtcsave.units import DAY_S
from rtcsave.when import Instant, now_or, unix_seconds, utc_datetime


@dataclass(frozen=True, slots=True, kw_only=True, repr=False)
class Forecast:
    """When the day counter overflows next, and by when to change the cell.

    `overflow_at` is by the rate that was given, or the clock's nominal one. `earliest` and `latest`
    hold it for every rate within the bounds, and for what the reading and the stamp cut off.
    Without a measured rate the bounds are ±20 ppm, and `assumptions` says so. `days_left` counts
    whole days from now. All are None for a halted clock, and where no usable stamp says when it was
    saved; `running_s` is then what is left to run (None if halted). `cell_by` and `cell_latest` are
    the ends of the cell's life.
    """

    overflow_at: datetime | None
    earliest: datetime | None
    latest: datetime | None
    days_left: int | None
    running_s: int | None
    halted: bool
    """Whether the halt bit is set."""
    carry: bool
    """Whether the carry bit is set."""
    cell_by: datetime | None
    cell_latest: datetime | None
    cell_years: tuple[float, float] | None
    """The shortest and the longest life of the cell in years; None without a cell."""
    cell_overdue: bool
    """Whether now is past `cell_by`."""
    reasons: tuple[str, ...]
    """What it rests on, in words."""
    assumptions: tuple[str, ...]
    """What it rests on and nobody measured, in words: of the rate, then of the cell."""

    def __repr__(self) -> str:
        when = self.overflow_at or "at no known instant"
        return f"<Forecast: overflows {when}, days left {self.days_left}>"


def forecast(
    save: SaveFile,
    now: Instant | None = None,
    drift: DriftEstimate | None = None,
    cell: Cell | None = None,
) -> Forecast:
    """When the counter of a save overflows next after now, and how long its cell lasts.

    `drift` (from `fit_drift`) gives the interval of the overflow its width. `NoClock` without a
    clock block, `DoesNotFit` where its words say what no clock can hold.
    """
    now_s = now_or(now)
    if drift is not None and not isinstance(drift, DriftEstimate):
        raise BadArgument("this is no estimate of a drift", found=shown(drift))
    if cell is not None and not isinstance(cell, Cell):
        raise BadArgument("this is no cell", found=shown(cell))
    block = check_save(save).clock_block
    block.refuse_no_time()
    running = block.running
    overflow = _next_overflow(block, now_s, drift)
    cell_by, cell_latest = (None, None) if cell is None else _cell_ends(cell, now_s)
    of_cell = () if cell is None else cell.assumptions()
    return Forecast(
        overflow_at=_date(overflow.due),
        earliest=_date(overflow.early),
        latest=_date(overflow.late),
        days_left=None if overflow.due is None else (overflow.due - now_s) // DAY_S,
        running_s=running.seconds_to_overflow,
        halted=running.halted,
        carry=running.carried,
        cell_by=_date(cell_by),
        cell_latest=_date(cell_latest),
        cell_years=None if cell is None else cell.life_years(),
        cell_overdue=cell_by is not None and cell_by < now_s,
        reasons=overflow.reasons,
        assumptions=overflow.assumptions + of_cell,
    )


class _Overflow(NamedTuple):
    """An overflow: its Unix second, the ends that hold it, and what is to be said of it."""

    reasons: tuple[str, ...]
    due: int | None = None
    early: int | None = None
    late: int | None = None
    assumptions: tuple[str, ...] = ()


def _next_overflow(block: ClockBlock, now_s: int, drift: DriftEstimate | None) -> _Overflow:
    """The first overflow after now; without instants where none is known."""
    running, saved_s = block.running, block.usable_unix_s
    reasons, left_s = _reasons(block, now_s), running.seconds_to_overflow
    if left_s is None or saved_s is None:
        return _Overflow(tuple(reasons))
    rates = _rates(drift)
    counted_s = _still_to_come(left_s, saved_s, now_s, rates.rate, running.period_s)
    due = saved_s + _real_s(counted_s, rates.rate)
    early, late = _ends(saved_s, counted_s, rates, running.resolution_s)
    reasons += _overflowed(block, counted_s - left_s, rates, now_s)
    if early <= now_s:
        reasons.append("now is not before the earliest: it may have overflowed just now")
    if _date(due) is None:
        reasons.append("no date can hold the instant at which it overflows")
    return _Overflow(tuple(reasons), due, early, late, rates.assumptions)


def _cell_ends(cell: Cell, now_s: int) -> tuple[int, int]:
    """The Unix seconds at which the shortest and the longest life of a cell end."""
    fitted_s = now_s if cell.fitted_at is None else unix_seconds(cell.fitted_at, "fitted_at")
    shortest, longest = (round(years * 365 * DAY_S) for years in cell.life_years())
    return fitted_s + shortest, fitted_s + longest


def _reasons(block: ClockBlock, now_s: int) -> list[str]:
    """What is to be known of the clock before anything is forecast."""
    running, saved_s = block.running, block.usable_unix_s
    reasons = []
    if running.carried:
        reasons.append("carry is set already: the counter has overflowed before")
    if running.halted:
        reasons.append("the clock is halted: it never overflows")
    elif saved_s is None:
        reasons.append(
            "no usable stamp says when it was saved: only the running time left is known"
        )
    elif saved_s > now_s:
        reasons.append("the stamp is in the future: the date is counted from there")
    return reasons


class _Rates(NamedTuple):
    """A rate and its bounds in ppm, and what of them nobody measured."""

    rate: float
    low: float
    high: float
    assumptions: tuple[str, ...]


def _rates(drift: DriftEstimate | None) -> _Rates:
    """The rate and its bounds: ±20 ppm where nothing bounds it."""
    low = None if drift is None else drift.low_ppm
    high = None if drift is None else drift.high_ppm
    assumptions: tuple[str, ...] = ()
    if low is None or high is None:
        words = f"no measured rate: earliest and latest are those of ±{CRYSTAL_PPM} ppm"
        assumptions = (f"{words}, what a clock crystal may be off at 25 °C",)
        known = [end for end in (low, high) if end is not None]
        low = min([-CRYSTAL_PPM, *known]) if low is None else low
        high = max([CRYSTAL_PPM, *known]) if high is None else high
    rate = None if drift is None else drift.rate_ppm
    rate = min(max(0.0, low), high) if rate is None else rate
    return _Rates(check_rate(rate), check_rate(low), check_rate(high), assumptions)


def _ends(saved_s: int, counted_s: int, rates: _Rates, resolution_s: int) -> tuple[int, int]:
    """The first and the last second at which a clock has counted so many seconds.

    Its reading may have been up to `resolution_s` further, and its stamp up to a second.
    """
    early = saved_s + _real_s(counted_s - resolution_s, rates.high)
    return early, saved_s + 1 - _real_s(-counted_s, rates.low)


def _overflowed(block: ClockBlock, past_s: int, rates: _Rates, now_s: int) -> list[str]:
    """What to say of the overflows since the stamp; `past_s` are the periods that they took."""
    running, saved_s, left_s = block.running, block.usable_unix_s, block.running.seconds_to_overflow
    overflows = past_s // running.period_s
    if not overflows or saved_s is None or left_s is None:
        return []
    last_s = left_s + past_s - running.period_s
    words = f"since the stamp the counter has overflowed {number_of(overflows, 'time')} already"
    is_sure = _ends(saved_s, last_s, rates, running.resolution_s)[1] <= now_s
    return [words if is_sure else f"{words}, the last of them perhaps not yet"]


def _still_to_come(left_s: int, saved_s: int, now_s: int, rate: float, period_s: int) -> int:
    """The seconds that the clock counts from its stamp to the first overflow after now."""
    counted_s = left_s
    while saved_s + _real_s(counted_s, rate) <= now_s:
        short = (now_s - saved_s - _real_s(counted_s, rate)) // period_s
        counted_s += max(1, short) * period_s
    return counted_s


def _real_s(counted_s: int, rate_ppm: float) -> int:
    """Real seconds in which a clock of that rate counts so many, cut off downward."""
    return Fraction(counted_s) // (1 + Fraction(rate_ppm) / 1_000_000)


def _date(unix_s: int | None) -> datetime | None:
    """The date of a Unix second, None for None and for what no date can hold."""
    try:
        return None if unix_s is None else utc_datetime(unix_s)
    except OverflowError:
        return None
