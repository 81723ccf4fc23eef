"""What a clock read at an instant: from saves, and from logs that people keep."""

from __future__ import annotations

import csv
from dataclasses import dataclass

from rtcsave.errors import BadArgument, RtcSaveError, StampUnusable, shown
from rtcsave.savefile import SaveFile
from rtcsave.units import COUNTER_PERIOD_S, DAY_S
from rtcsave.when import (
    Instant,
    parse_instant,
    parse_reading_s,
    parse_time_of_day,
    rfc3339,
    unix_seconds,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Observation:
    """What a clock read at an instant: `reading_s` seconds, shown to `resolution_s`.

    `period_s` is after how long it reads the same again: 44,236,800 for the day counter, 86,400 for
    a time of day. `instant` is an aware datetime or whole Unix seconds; it is kept as the latter.
    """

    instant: Instant
    reading_s: int
    resolution_s: int = 1
    period_s: int = COUNTER_PERIOD_S

    def __post_init__(self) -> None:
        object.__setattr__(self, "instant", unix_seconds(self.instant))
        if rfc3339(self.unix_s) is None:
            raise BadArgument("no date can hold the instant", found=shown(self.instant))
        for name in ("reading_s", "resolution_s", "period_s"):
            value = getattr(self, name)
            if type(value) is not int or value < (0 if name == "reading_s" else 1):
                raise BadArgument(f"{name} is no whole number of seconds", found=shown(value))
        if self.reading_s >= self.period_s:
            raise BadArgument(
                "reading_s is not below the period",
                found=f"{self.reading_s} s",
                expected=f"0 to {self.period_s - 1} s",
            )

    @property
    def unix_s(self) -> int:
        """The instant in Unix seconds."""
        assert isinstance(self.instant, int)
        return self.instant


def observe(save: SaveFile) -> Observation:
    """The observation that a save is: its running clock read at its stamp.

    `StampUnusable` without a usable stamp; `BadArgument` for a halted clock, or one past its range;
    `DoesNotFit` where its words say what no clock can hold.
    """
    block = save.clock_block
    block.refuse_no_time()
    where = "" if save.origin is None else save.origin.path
    if block.usable_unix_s is None:
        raise StampUnusable(
            "the save has no usable stamp, so nobody knows when it read what it reads",
            where=where,
            found=str(block.stamp),
            remedy="repair it with `saved_at`, or leave it out",
        )
    running = block.running
    if running.halted:
        raise BadArgument("a halted clock has no rate", where=where, remedy="leave it out")
    return Observation(
        instant=block.usable_unix_s,
        reading_s=running.to_seconds(),
        resolution_s=running.resolution_s,
        period_s=running.period_s,
    )


def observations_in(text: str) -> tuple[Observation, ...]:
    """The observations in a CSV log: `instant, reading`, one a line; further columns are free.

    Columns are separated by commas, or by semicolons where there are no commas. A reading is
    `12d03:04:05`, or a time of day (`13:52`, `13:52:07`), whose period is then a day.
    A first line of column names, empty lines and lines that begin with # are passed over. A line
    that cannot be read raises `BadArgument` with its number.
    """
    found: list[Observation] = []
    lines = text.splitlines()
    first = next((one for one in lines if one.strip() and not one.startswith("#")), "")
    between = ";" if ";" in first and "," not in first else ","
    try:
        rows = list(csv.reader(lines, delimiter=between, skipinitialspace=True))
    except csv.Error as error:
        raise BadArgument("the log is not CSV", found=str(error)) from None
    for number, row in enumerate(rows, 1):
        if not row or not "".join(row).strip() or row[0].startswith("#"):
            continue
        if not found and row[0].strip().lower() in ("instant", "time", "date"):
            continue
        try:
            if len(row) < 2:
                raise BadArgument("a line needs an instant and a reading", found=repr(row[0]))
            found.append(_observation_in(row[0], row[1]))
        except RtcSaveError as error:
            error.where = f"line {number}"
            raise
    return tuple(found)


def _observation_in(instant: str, reading: str) -> Observation:
    unix_s = parse_instant(instant)
    if "d" in reading.lower():
        return Observation(instant=unix_s, reading_s=parse_reading_s(reading))
    weekday, second_of_day, resolution_s = parse_time_of_day(reading)
    if weekday is not None:
        raise BadArgument("a reading has no weekday", found=repr(reading))
    return Observation(
        instant=unix_s, reading_s=second_of_day, resolution_s=resolution_s, period_s=DAY_S
    )
