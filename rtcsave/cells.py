"""Coin cells: what they are rated at, how long they last, and on what assumptions."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Final, NamedTuple

from rtcsave.errors import BadArgument, shown
from rtcsave.when import Instant


class Rating(NamedTuple):
    """What a cell holds by its designation, and whether that figure is unconfirmed."""

    mah: float
    from_memory: bool
    """Whether the capacity is from memory, unconfirmed; a row with a source says False."""


RATED: Final = {
    # a maker's handbook of coin cells (README, Sources)
    "CR1025": Rating(30.0, from_memory=False),
    "CR1216": Rating(34.0, from_memory=False),
    "CR1616": Rating(55.0, from_memory=True),
    "CR1620": Rating(75.0, from_memory=True),
    "CR1632": Rating(140.0, from_memory=True),
    "CR2016": Rating(90.0, from_memory=True),
    "CR2025": Rating(165.0, from_memory=True),
    "CR2032": Rating(225.0, from_memory=True),
}
"""Rated capacity by IEC 60086 designation. The cell's own data sheet wins: give `capacity_mah`."""

ASSUMED_UA: Final = (0.5, 2.5)
"""What such a clock draws, an assumption: no source gives the current of these clocks."""

SELF_DISCHARGE_PER_YEAR: Final = 0.01
"""About 1 % a year (two makers, quoted second hand)."""

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
        if self.capacity_mah is None and self.name not in RATED:
            raise BadArgument(
                "the rated capacity of this cell is not known here",
                found=shown(self.designation),
                expected="one of " + ", ".join(RATED),
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
        return RATED[self.name].mah if self.capacity_mah is None else self.capacity_mah

    def life_years(self) -> tuple[float, float]:
        """The shortest and the longest life in years, over the currents that are possible."""
        low, high = ASSUMED_UA if self.current_ua is None else (self.current_ua, self.current_ua)
        rated, lost = self.rated_mah, self.self_discharge_per_year
        return life_years(rated, high, lost), life_years(rated, low, lost)

    def assumptions(self) -> tuple[str, ...]:
        """What the figures of its life assume, in words."""
        words = [f"self-discharge of {100 * self.self_discharge_per_year:g} % a year"]
        if self.current_ua is None:
            low, high = ASSUMED_UA
            words.append(
                f"a current of {low:g} to {high:g} µA, an assumption: measure it to know more"
            )
        if self.capacity_mah is None and RATED[self.name].from_memory:
            words.append(
                f"{self.rated_mah:g} mAh from memory, unconfirmed: the cell's data sheet wins"
            )
        if self.fitted_at is None:
            words.append("the cell was put in now")
        return tuple(words)


_CAPACITY: Final = re.compile(r"(\d+(?:\.\d+)?) ?mAh", re.IGNORECASE)


def parse_cell(
    text: str, current_ua: float | None = None, fitted_at: Instant | None = None
) -> Cell:
    """The cell that a person typed: its designation (`CR2032`) or its rated capacity (`230mAh`)."""
    capacity = _CAPACITY.fullmatch(text.strip())
    return Cell(
        designation=None if capacity else text,
        capacity_mah=float(capacity[1]) if capacity else None,
        current_ua=current_ua,
        fitted_at=fitted_at,
    )


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
