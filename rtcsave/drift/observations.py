"""What a clock read at an instant: from saves, and from logs that people keep."""

from __future__ import annotations

import csv
from dataclasses import dataclass
from typing import Final

from rtcsave.errors import BadArgument, RtcSaveError, StampUnusable, shown
from rtcsave.savefile import SaveFile
from rtcsave.units import COUNTER_PERIOD_S, DAY_S
from rtcsave.when import (
    Instant,
    Seconds,
    parse_duration,
    parse_instant,
    parse_reading_s,
    parse_time_of_day,
    rfc3339,
    span_seconds,
    unix_seconds,
)

WRITTEN_SLACK_S: Final = 1
"""How far off an instant may be that a person wrote down, in seconds either way."""

SAVE_SLACK_S: Final = 5
"""Half of how long after its clock was read a file may be stamped: ten seconds. An assumption."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Observation:
    """What a clock read at an instant: `reading_s` seconds, shown to `resolution_s`.

    `instant` is an aware datetime or whole Unix seconds; it is kept as the latter. `slack_s` is how
    many seconds it may be off either way, beside its own truncation: 1 for what a person wrote
    down, 0 only if it is the very second at which the clock was read. `period_s` is after how long
    the clock reads the same again: 44,236,800 for the day counter, 86,400 for a time of day.
    """

    instant: Instant
    reading_s: int
    resolution_s: int = 1
    period_s: int = COUNTER_PERIOD_S
    slack_s: int = WRITTEN_SLACK_S

    def __post_init__(self) -> None:
        object.__setattr__(self, "instant", unix_seconds(self.instant))
        if rfc3339(self.unix_s) is None:
            raise BadArgument("no date can hold the instant", found=shown(self.instant))
        for name, least in _LEAST.items():
            value = getattr(self, name)
            if type(value) is not int or value < least:
                raise BadArgument(
                    f"{name} is not a whole number of seconds",
                    found=shown(value),
                    expected=f"{least} or more",
                )
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


_LEAST: Final = {"reading_s": 0, "resolution_s": 1, "period_s": 1, "slack_s": 0}


def check_slack(slack_s: Seconds) -> int:
    """A slack in whole seconds; `BadArgument` if it is negative."""
    slack = span_seconds(slack_s, "slack_s")
    if slack < 0:
        raise BadArgument(
            "`slack_s` must not be negative", found=f"{slack} s", expected="0 or more"
        )
    return slack


def observe(save: SaveFile, *, slack_s: Seconds | None = None) -> Observation:
    """The observation that a save is: its running clock read at its stamp, or a little earlier.

    A stamp says when the file was written. Up to twice the slack may have passed since the clock
    was read, so the instant is the stamp less the slack: 5 s unless given, 0 for a file stamped in
    the second at which its clock was read.

    `StampUnusable` without a usable stamp; `BadArgument` for a halted clock, or one out of range;
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
    slack = SAVE_SLACK_S if slack_s is None else check_slack(slack_s)
    return Observation(
        instant=block.usable_unix_s - slack,
        reading_s=running.to_seconds(),
        resolution_s=running.resolution_s,
        period_s=running.period_s,
        slack_s=slack,
    )


def observations_in(text: str) -> tuple[Observation, ...]:
    """The observations in a CSV log: `instant, reading`, one a line; further columns are free.

    Columns are separated by commas, or by semicolons where there are no commas. A reading is
    `12d03:04:05`, or a time of day (`13:52`, `13:52:07`), whose period is then a day. A column that
    a first line of names calls `slack` is a duration (`2s`, `1m`), or empty for the usual 1 s.
    That first line, empty lines and lines that begin with # are passed over. A line that cannot be
    read raises `BadArgument` with its number.
    """
    observations: list[Observation] = []
    slack_at: int | None = None
    for number, row in enumerate(_rows(text), 1):
        if not row or not "".join(row).strip() or row[0].startswith("#"):
            continue
        names = [cell.strip().lower() for cell in row]
        if not observations and names[0] in ("instant", "time", "date"):
            slack_at = names.index("slack") if "slack" in names[2:] else None
            continue
        try:
            if len(row) < 2:
                raise BadArgument("a line needs an instant and a reading", found=repr(row[0]))
            slack = row[slack_at] if slack_at is not None and slack_at < len(row) else ""
            observations.append(_observation_in(row[0], row[1], slack))
        except RtcSaveError as error:
            error.where = f"line {number}"
            raise
    return tuple(observations)


def _rows(text: str) -> list[list[str]]:
    lines = text.splitlines()
    first = next((line for line in lines if line.strip() and not line.startswith("#")), "")
    between = ";" if ";" in first and "," not in first else ","
    try:
        return list(csv.reader(lines, delimiter=between, skipinitialspace=True))
    except csv.Error as error:
        raise BadArgument("the log is not CSV", found=str(error)) from None


def _observation_in(instant: str, reading: str, slack: str) -> Observation:
    unix_s = parse_instant(instant)
    slack_s = parse_duration(slack) if slack.strip() else WRITTEN_SLACK_S
    if slack_s < 0:
        raise BadArgument("a slack is not negative", found=repr(slack))
    if "d" in reading.lower():
        return Observation(instant=unix_s, reading_s=parse_reading_s(reading), slack_s=slack_s)
    weekday, second_of_day, resolution_s = parse_time_of_day(reading)
    if weekday is not None:
        raise BadArgument("a reading has no weekday", found=repr(reading))
    return Observation(
        instant=unix_s,
        reading_s=second_of_day,
        resolution_s=resolution_s,
        period_s=DAY_S,
        slack_s=slack_s,
    )
