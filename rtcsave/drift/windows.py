"""Observations as windows: where the true instant and the true reading of each must lie."""

from __future__ import annotations

import math
import statistics
from collections.abc import Sequence
from itertools import pairwise
from typing import Final

from rtcsave.drift.observations import Observation
from rtcsave.regress import Window

LOSES_PPM: Final = 250
"""How fast a clock may lose or gain before its overflows are counted wrongly.

No crystal exceeds 200 ppm. With 250 the overflows of a broken clock of up to 300 ppm are also
right, or the rate that follows from a wrong number lies past 200 ppm: (200 + 300) / 2."""


def windows_of(observations: Sequence[Observation]) -> list[Window]:
    """The windows of observations in order of time, their readings unwrapped past each overflow.

    A stamp S with a slack s is an instant in [S - s, S + 1 + s), a reading R shown to r seconds a
    time in [R, R + r). The number of overflows is the whole number that fits the stamps best.
    """
    windows: list[Window] = []
    wraps_s = 0
    for before, observation in zip((None, *observations), observations, strict=False):
        if before is not None:
            passed_s = observation.unix_s - before.unix_s
            change_s = observation.reading_s - before.reading_s
            period_s = observation.period_s
            wraps_s += round((passed_s - change_s) / period_s) * period_s
        windows.append(
            Window(
                observation.unix_s - observation.slack_s,
                observation.reading_s + wraps_s,
                1 + 2 * observation.slack_s,
                observation.resolution_s,
            )
        )
    return windows


def loses_count(observations: Sequence[Observation]) -> bool:
    """Whether a clock could have lost half a period between two observations that follow.

    Then the number of overflows between them is a guess.
    """
    return any(
        LOSES_PPM * (after.unix_s - before.unix_s) / 1_000_000
        + before.slack_s
        + after.slack_s
        + after.resolution_s
        >= after.period_s / 2
        for before, after in pairwise(observations)
    )


def instant_of(window: Window) -> int:
    """The instant as it was given, in Unix seconds: the second in the middle of the window."""
    return window.x + window.x_width // 2


def times_of(windows: Sequence[Window]) -> list[float]:
    """The middles of the windows' instants, in seconds since the first window's given instant."""
    first = instant_of(windows[0])
    return [window.x - first + window.x_width / 2 for window in windows]


def leads_of(windows: Sequence[Window]) -> list[float]:
    """How far each reading is ahead of its instant, in seconds, less that of the first window.

    From middle to middle: the slope of a lead over time is the rate itself, with its sign.
    """
    first = windows[0].y - instant_of(windows[0])
    return [
        (window.y + window.y_width / 2) - (window.x + window.x_width / 2) - first
        for window in windows
    ]


def explained_sd(windows: Sequence[Window]) -> float:
    """The standard deviation of the leads that truncation and slack explain, in seconds.

    Each is a rectangular error, of its width over the root of 12 (JCGM 100:2008, F.2.2.1): a
    second of the stamp, twice the slack, the resolution of the reading.
    """
    return math.sqrt(
        statistics.fmean(
            (1 + (window.x_width - 1) ** 2 + window.y_width**2) / 12 for window in windows
        )
    )
