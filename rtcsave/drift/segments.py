"""A segment of observations that one line holds, or that scatter about one."""

from __future__ import annotations

import math
import statistics
from collections.abc import Sequence
from fractions import Fraction
from typing import Final

from rtcsave.drift.estimate import DriftSegment
from rtcsave.drift.windows import explained_sd, instant_of, leads_of, times_of
from rtcsave.regress import Window, least_squares, slope_bounds, student_t

FEW: Final = 4
"""From this number of observations on, their scatter tells something of how good they are."""

SCATTER_RATIO: Final = 1.25
"""Up to this many times what truncation and slack explain, a scatter is taken for these."""

SPREAD_RATIO: Final = 1.5
"""What the true spread may be, in the same unit, where a scatter passes by luck: stamps that are
off by a normal 1 s, at a slack of 1 s, have 1.53, and one series of 30 in ten passes."""

OUTLIER_SPREADS: Final = 10


def bounded(windows: Sequence[Window]) -> DriftSegment | None:
    """The segment whose line passes through every window; None where no line does.

    Its interval is the hard one; from four observations on the hull with the 99 % interval of
    least squares, since windows that hold by luck have a hard interval that is too narrow.
    """
    bounds = slope_bounds(windows)
    if bounds is None:
        return None
    low, high = _ppm(bounds.low), None if bounds.high is None else _ppm(bounds.high)
    if len(windows) >= FEW:
        middle, half = _interval(windows, 0.99, SPREAD_RATIO)
        low = min(low, middle - half)
        high = None if high is None else max(high, middle + half)
    rate = None if high is None else (low + high) / 2
    return segment_of(windows, rate, low, high)


def scattered(windows: Sequence[Window]) -> DriftSegment:
    """The segment with a 95 % interval, for observations that no line holds.

    The interval is never narrower than truncation and slack allow. Without a rate where two
    observations are all there is, or all are of one instant.
    """
    if len(windows) < 3 or windows[0].x == windows[-1].x:
        return segment_of(windows, None, None, None)
    middle, half = _interval(windows, 0.95, 1.0)
    return segment_of(windows, middle, middle - half, middle + half, look_for_outliers=True)


def scatters(windows: Sequence[Window]) -> bool:
    """Whether four observations or more scatter more than truncation and slack explain."""
    if len(windows) < FEW:
        return False
    line = least_squares(times_of(windows), leads_of(windows))
    return line.residual_sd > SCATTER_RATIO * explained_sd(windows)


def _ppm(slope: Fraction) -> float:
    return float((slope - 1) * 1_000_000)


def _interval(windows: Sequence[Window], inside: float, least: float) -> tuple[float, float]:
    """The rate of the least-squares line and half the width of its interval, in ppm.

    By Student's t with the scatter that is seen, or what truncation and slack explain if that is
    more; and no narrower than the normal interval with a spread of `least` times the latter.
    """
    line = least_squares(times_of(windows), leads_of(windows))
    explained = explained_sd(windows)
    normal = statistics.NormalDist().inv_cdf((1 + inside) / 2)
    seen = student_t(len(windows) - 2, inside) * max(line.residual_sd, explained)
    half = max(seen, normal * least * explained) / math.sqrt(line.sxx)
    return line.slope * 1e6, half * 1e6


def segment_of(
    windows: Sequence[Window],
    rate_ppm: float | None,
    low_ppm: float | None,
    high_ppm: float | None,
    *,
    look_for_outliers: bool = False,
) -> DriftSegment:
    """The segment of these windows with a rate and its bounds, its line fitted at that rate."""
    times, leads = times_of(windows), leads_of(windows)
    slope = 0.0 if rate_ppm is None else rate_ppm * 1e-6
    at_first = statistics.fmean(
        lead - slope * (time - times[0]) for time, lead in zip(times, leads, strict=True)
    )
    residuals = tuple(
        lead - at_first - slope * (time - times[0]) for time, lead in zip(times, leads, strict=True)
    )
    return DriftSegment(
        instants=tuple(instant_of(window) for window in windows),
        rate_ppm=rate_ppm,
        low_ppm=low_ppm,
        high_ppm=high_ppm,
        certain=False,
        offset_s=windows[0].y + at_first + 0.5,
        residuals_s=residuals,
        outliers=_outliers(windows, residuals) if look_for_outliers else (),
    )


def _outliers(windows: Sequence[Window], residuals: Sequence[float]) -> tuple[int, ...]:
    middle = statistics.median(residuals)
    spread = statistics.median(abs(residual - middle) for residual in residuals)
    return tuple(
        instant_of(window)
        for window, residual in zip(windows, residuals, strict=True)
        if abs(residual - middle) > max(OUTLIER_SPREADS * spread, 2 * window.y_width)
    )
