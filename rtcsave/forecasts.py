"""When the counter next overflows, and when the cell is due."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from fractions import Fraction
from typing import Final

from rtcsave.clocks.arguments import check_rate
from rtcsave.drift import DriftEstimate
from rtcsave.errors import BadArgument, number_of, shown
from rtcsave.layouts import ClockBlock
from rtcsave.savefile import SaveFile, check_save
from rtcsave.units import DAY_S
from rtcsave.when import Instant, now_or, unix_seconds, utc_datetime

RATED_MAH: Final = {
    "CR1025": 30.0,  # Energizer Lithium Coin Handbook, form 12006-A, p. 2
    "CR1216": 34.0,  # the same
    "CR1616": 55.0,  # from memory, unconfirmed, as all below
    "CR1620": 75.0,
    "CR1632": 140.0,
    "CR2016": 90.0,
    "CR2025": 165.0,
    "CR2032": 225.0,
}
"""Rated capacity by IEC 60086 designation. The cell's own data sheet wins: give `capacity_mah`."""

FROM_MEMORY: Final = frozenset(RATED_MAH) - {"CR1025", "CR1216"}
"""Designations whose capacity here is from memory, unconfirmed."""

ASSUMED_UA: Final = (0.5, 2.5)
"""What such a clock draws, an assumption: no source gives the current of these clocks."""

SELF_DISCHARGE_PER_YEAR: Final = 0.01
"""About 1 % a year (Panasonic, Renata; quoted second hand)."""

LEAST: Final = 0.001
MOST: Final = 1_000_000.0
"""Capacities (mAh) and currents (µA) outside of these are slips of the pen."""

HOURS_PER_YEAR: Final = 8_760

CAUTIONS: Final = (
    "Lithium coin cells: a swallowing hazard (a swallowed cell burns within hours: get help at "
    "once). Never solder to the bare cell, never charge, short or heat one; check the polarity.",
    "Keep a backup of the save before touching the board. Follow local rules for disposal, and "
    "have a qualified person do work you are not trained for.",
)
"""Printed wherever the cell comes up."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Cell:
    """A coin cell: its designation (`CR2032`) or rated capacity, and what the clock draws.

    `current_ua` is the measured current in µA; None leaves it an assumption, and the life a range.
    `fitted_at` is when it was put in (None: at the forecast's present).
    """

    designation: str | None = None
    """Its IEC designation, as in `CR2032`; None where only the capacity is known."""
    capacity_mah: float | None = None
    """Its rated capacity in mAh; None takes the one of the designation."""
    current_ua: float | None = None
    self_discharge_per_year: float = SELF_DISCHARGE_PER_YEAR
    """The share of its capacity that it loses by itself in a year."""
    fitted_at: Instant | None = None

    def __post_init__(self) -> None:
        if not isinstance(self.designation, (str, type(None))):
            raise BadArgument("a designation is text", found=shown(self.designation))
        if self.capacity_mah is None and self.designation is None:
            raise BadArgument("a cell needs a designation or a capacity", remedy="as in CR2032")
        if self.capacity_mah is None and self.name not in RATED_MAH:
            raise BadArgument(
                "the rated capacity of this cell is not known here",
                found=shown(self.designation),
                expected="one of " + ", ".join(RATED_MAH),
                remedy="give the capacity in mAh from its data sheet",
            )
        for name in ("capacity_mah", "current_ua"):
            value = getattr(self, name)
            if value is not None and not _between(value, LEAST, MOST):
                raise BadArgument(
                    f"{name} is out of all range",
                    found=shown(value),
                    expected=f"{LEAST} to {MOST:,.0f}",
                )
        if not _between(self.self_discharge_per_year, 0, 0.99):
            raise BadArgument(
                "self-discharge is a share of the capacity a year",
                found=shown(self.self_discharge_per_year),
                expected="0 to 1",
            )

    @property
    def name(self) -> str:
        """The designation as it is written on the cell."""
        return (self.designation or "").strip().upper()

    @property
    def rated_mah(self) -> float:
        """The capacity: the one given, else the rated one of the designation."""
        return RATED_MAH[self.name] if self.capacity_mah is None else self.capacity_mah

    def life_years(self) -> tuple[float, float]:
        """The shortest and the longest life in years, over the currents that are possible."""
        low, high = ASSUMED_UA if self.current_ua is None else (self.current_ua, self.current_ua)
        rated, lost = self.rated_mah, self.self_discharge_per_year
        return life_years(rated, high, lost), life_years(rated, low, lost)


def _between(value: object, low: float, high: float) -> bool:
    number = isinstance(value, (int, float)) and not isinstance(value, bool)
    return number and low <= value <= high  # type: ignore[operator]  # a number by then


def life_years(
    capacity_mah: float, current_ua: float, self_discharge_per_year: float = 0.0
) -> float:
    """The years that a cell lasts: capacity over current (ST, serial real-time clock notes), with
    what it loses by itself, as a share of the capacity a year, added to the current."""
    used_mah = current_ua * HOURS_PER_YEAR / 1_000 + self_discharge_per_year * capacity_mah
    return capacity_mah / used_mah


@dataclass(frozen=True, slots=True, kw_only=True, repr=False)
class Forecast:
    """When the day counter overflows next, and by when to change the cell.

    `overflow_at` is by the rate that was given, or the clock's nominal one; `earliest` and `latest`
    hold it for a rate known within bounds (without one all three are equal). `days_left` counts
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
    reasons: tuple[str, ...]
    """What it rests on, in words."""

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
    reasons = _reasons(block, now_s)
    left_s, saved_s = running.seconds_to_overflow, block.usable_unix_s
    due: int | None = None
    early: int | None = None
    late: int | None = None
    if left_s is not None and saved_s is not None:
        rate, low, high = _rates(drift)
        counted_s = _still_to_come(left_s, saved_s, now_s, rate, running.period_s)
        due, early, late = (saved_s + _real_s(counted_s, ppm) for ppm in (rate, high, low))
        overflows = (counted_s - left_s) // running.period_s
        if overflows:
            reasons.append(
                f"since the stamp the counter has overflowed {number_of(overflows, 'time')} already"
            )
    if due is not None and _date(due) is None:
        reasons.append("no date can hold the instant at which it overflows")
    years = None if cell is None else cell.life_years()
    fitted_s = now_s
    if cell is not None and cell.fitted_at is not None:
        fitted_s = unix_seconds(cell.fitted_at, "fitted_at")
    return Forecast(
        overflow_at=_date(due),
        earliest=_date(early),
        latest=_date(late),
        days_left=None if due is None else (due - now_s) // DAY_S,
        running_s=left_s,
        halted=running.halted,
        carry=running.carried,
        cell_by=None if years is None else _date(fitted_s + round(years[0] * 365 * DAY_S)),
        cell_latest=None if years is None else _date(fitted_s + round(years[1] * 365 * DAY_S)),
        cell_years=years,
        reasons=tuple(reasons),
    )


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


def _rates(drift: DriftEstimate | None) -> tuple[float, float, float]:
    """The rate in ppm and its bounds; 0 where none is known."""
    rate = 0.0 if drift is None or drift.rate_ppm is None else drift.rate_ppm
    low = rate if drift is None or drift.low_ppm is None else drift.low_ppm
    high = rate if drift is None or drift.high_ppm is None else drift.high_ppm
    return check_rate(rate), check_rate(low), check_rate(high)


def _still_to_come(left_s: int, saved_s: int, now_s: int, rate: float, period_s: int) -> int:
    """The seconds that the clock counts from its stamp to the first overflow after now."""
    counted_s = left_s
    while saved_s + _real_s(counted_s, rate) <= now_s:
        short = (now_s - saved_s - _real_s(counted_s, rate)) // period_s
        counted_s += max(1, short) * period_s
    return counted_s


def _real_s(counted_s: int, rate_ppm: float) -> int:
    """Real seconds in which a clock of that rate counts so many."""
    return int(Fraction(counted_s) / (1 + Fraction(rate_ppm) / 1_000_000))


def _date(unix_s: int | None) -> datetime | None:
    """The date of a Unix second, None for None and for what no date can hold."""
    try:
        return None if unix_s is None else utc_datetime(unix_s)
    except OverflowError:
        return None
