"""How fast a crystal runs: the rate from two or more observations, and how surely it is known."""

from __future__ import annotations

import math
import statistics
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import pairwise
from typing import Final

from rtcsave.clocks.arguments import check_rate
from rtcsave.drift.observations import Observation, observe
from rtcsave.errors import BadArgument, shown
from rtcsave.regress import (
    Window,
    least_squares,
    median_slope,
    slope_bounds,
    student_t_95,
)
from rtcsave.savefile import SaveFile

JUMP_S: Final = 60
"""A step between neighbours that is larger than this, and than `JUMP_SPREADS` times the usual
scatter, is somebody setting the clock: crystals do not step, and games show whole minutes."""

JUMP_SPREADS: Final = 10

TRUNCATION_SD: Final = 1 / math.sqrt(12)
"""Standard deviation of what is cut off, in units of the resolution (JCGM 100:2008, F.2.2.1)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class DriftSegment:
    """A stretch of observations between two settings of the clock, and the rate over it.

    Rates are None for a single observation, an open end for an interval without one.
    `instants` are those of its observations, `outliers` those of observations far from the line, both
    in Unix seconds; an outlier that was taken out is in the latter alone.
    """

    instants: tuple[int, ...]
    rate_ppm: float | None
    low_ppm: float | None
    high_ppm: float | None
    certain: bool
    offset_s: float
    residuals_s: tuple[float, ...]
    outliers: tuple[int, ...]

    @property
    def n_samples(self) -> int:
        """How many observations it rests on."""
        return len(self.instants)

    @property
    def first_unix_s(self) -> int:
        """The instant of its first observation."""
        return self.instants[0]

    @property
    def last_unix_s(self) -> int:
        """The instant of its last observation."""
        return self.instants[-1]

    @property
    def span_s(self) -> int:
        """Seconds from the first to the last observation."""
        return self.last_unix_s - self.first_unix_s


@dataclass(frozen=True, slots=True, kw_only=True)
class DriftEstimate:
    """The rate of a clock; positive = the cartridge clock runs fast.

    `low_ppm` to `high_ppm` holds the true rate: with certainty where `certain` (while the clock ran
    untouched and the stamps are true), else at 95 %. `rate_ppm` is the middle, `bound_ppm` half
    the width; an end that nothing bounds is None, and so are these. `offset_s` is the reading
    of the fitted line at the first instant. All are those of the segment with the longest span, which
    begins at `since_unix_s` (None for an estimate that somebody else made).
    """

    rate_ppm: float | None
    low_ppm: float | None
    high_ppm: float | None
    bound_ppm: float | None
    certain: bool
    offset_s: float
    span_s: int
    n_samples: int
    residuals_s: tuple[float, ...]
    segments: tuple[DriftSegment, ...]
    since_unix_s: int | None = None


def fit_drift(observations: Iterable[Observation | SaveFile]) -> DriftEstimate:
    """The rate of a clock from two or more observations or saves, in any order, mixed at will.

    Where one line passes through all of the windows that truncation leaves, the bound is certain;
    otherwise the series is split where somebody set the clock, and what scatters is fitted by least
    squares with a 95 % interval that is never narrower than truncation allows. Overflows are
    unwrapped on the way.

    `BadArgument` for fewer than two observations, different periods, or no two of them together
    between settings. It means something only for dumps of the cartridge itself: a save that a
    program counted on carries the rate of its host.
    """
    held = sorted(_observations(observations), key=lambda one: (one.unix_s, one.reading_s))
    if len(held) < 2:
        raise BadArgument(
            "a rate needs two observations", found=str(len(held)), expected="two or more"
        )
    periods = {one.period_s for one in held}
    if len(periods) > 1:
        raise BadArgument(
            "the observations have different periods",
            found=" and ".join(f"{period} s" for period in sorted(periods)),
            expected="readings of one kind",
        )
    windows = _unwrap(held)
    segments = _segments(windows)
    best = max(segments, key=lambda one: (one.low_ppm is not None, one.span_s))
    if best.low_ppm is None or not best.span_s:
        raise BadArgument(
            "no two observations lie between settings of the clock",
            found=f"{len(held)} observations; between any two the clock was set, or went back",
            remedy="observe it again without setting it in between",
        )
    return DriftEstimate(
        rate_ppm=best.rate_ppm,
        low_ppm=best.low_ppm,
        high_ppm=best.high_ppm,
        bound_ppm=_half(best.low_ppm, best.high_ppm),
        certain=best.certain,
        offset_s=best.offset_s,
        span_s=best.span_s,
        n_samples=best.n_samples,
        residuals_s=best.residuals_s,
        segments=segments,
        since_unix_s=best.first_unix_s,
    )


def _observations(given: Iterable[Observation | SaveFile]) -> list[Observation]:
    if not isinstance(given, Iterable):
        raise BadArgument("these are no observations", found=shown(given))
    found = []
    for one in given:
        if not isinstance(one, (Observation, SaveFile)):
            raise BadArgument("this is neither an observation nor a save", found=shown(one))
        found.append(observe(one) if isinstance(one, SaveFile) else one)
    return found


def _half(low: float | None, high: float | None) -> float | None:
    return None if low is None or high is None else (high - low) / 2


def _unwrap(held: Sequence[Observation]) -> list[Window]:
    """Readings made to go on past each overflow, by the whole number that fits the stamps best."""
    windows: list[Window] = []
    wraps_s = 0
    for before, one in zip((None, *held), held, strict=False):
        if before is not None:
            passed_s = one.unix_s - before.unix_s
            change_s = one.reading_s - before.reading_s
            wraps_s += round((passed_s - change_s) / one.period_s) * one.period_s
        windows.append(Window(one.unix_s, one.reading_s + wraps_s, one.resolution_s))
    return windows


def _segments(windows: list[Window]) -> tuple[DriftSegment, ...]:
    whole = _hard(windows)
    if whole is not None:
        return (whole,)
    parts, spikes = _split(windows)
    found = []
    for part in parts:
        first, last = part[0].x, part[-1].x
        outliers = tuple(one.x for one in spikes if first <= one.x <= last)
        segment = _hard(part) or _soft(part)
        found.append(replace(segment, outliers=tuple(sorted((*segment.outliers, *outliers)))))
    if spikes or not _one_crystal(found):
        found = [replace(one, certain=False) for one in found]
    return tuple(found)


def _one_crystal(segments: Sequence[DriftSegment]) -> bool:
    """Whether the segments hold a line each, all of one rate: then only the clock was set between.

    Where they do not, what was taken for settings may be scatter, and nothing is certain.
    """
    fitted = [one for one in segments if one.n_samples > 1]
    low = max((one.low_ppm for one in fitted if one.low_ppm is not None), default=0.0)
    high = min((one.high_ppm for one in fitted if one.high_ppm is not None), default=0.0)
    return all(one.certain for one in fitted) and low <= high


def _split(windows: list[Window]) -> tuple[list[list[Window]], list[Window]]:
    """The series cut at every jump: a step, the median slope removed, that no scatter explains.

    A single observation that jumps away and back is no setting of the clock but a slip: it is taken
    out, and given back beside the parts.
    """
    if windows[0].x == windows[-1].x:
        return [windows], []
    slope = median_slope(_middles_x(windows), _middles_y(windows))
    steps = [
        (b.y + b.width / 2) - (a.y + a.width / 2) - slope * (b.x - a.x)
        for a, b in pairwise(windows)
    ]
    middle = statistics.median(steps)
    spread = statistics.median(abs(step - middle) for step in steps)
    least = max(JUMP_S, JUMP_SPREADS * spread)
    parts = [[windows[0]]]
    spikes: list[Window] = []
    owed = 0.0
    for at, one in enumerate(windows[1:], 1):
        step = steps[at - 1] + owed
        after = steps[at] if at < len(steps) else None
        if abs(step) > least and after is not None and abs(step + after) <= least:
            spikes.append(one)
            owed = step
            continue
        owed = 0.0
        if abs(step) > least:
            parts.append([])
        parts[-1].append(one)
    return parts, spikes


def _middles_x(windows: Sequence[Window]) -> list[float]:
    return [one.x - windows[0].x + 0.5 for one in windows]


def _middles_y(windows: Sequence[Window]) -> list[float]:
    return [one.y - windows[0].y + one.width / 2 for one in windows]


def _ppm(slope: Fraction | None) -> float | None:
    return None if slope is None else float((slope - 1) * 1_000_000)


def _hard(windows: Sequence[Window]) -> DriftSegment | None:
    """The segment with a certain bound, if one line passes through all windows."""
    low, high = slope_bounds(windows)
    if low is not None and high is not None and low >= high:
        return None
    rate: float | None = None
    if low is not None and high is not None:
        rate = _ppm((low + high) / 2)
    return _segment(windows, rate, _ppm(low), _ppm(high), certain=True)


def _soft(windows: Sequence[Window]) -> DriftSegment:
    """The segment with a 95 % interval, for observations that scatter more than truncation does.

    Without a rate where two observations are all there is, and time or reading went back.
    """
    if len(windows) < 3 or windows[0].x == windows[-1].x:
        return _segment(windows, None, None, None, certain=False)
    line = least_squares(_middles_x(windows), _middles_y(windows))
    floor_sd = TRUNCATION_SD * math.sqrt(statistics.fmean(one.width**2 for one in windows) + 1)
    slope_sd = max(line.residual_sd, floor_sd) / math.sqrt(line.sxx)
    bound = student_t_95(len(windows) - 2) * slope_sd * 1e6
    rate = (line.slope - 1) * 1e6
    return _segment(windows, rate, rate - bound, rate + bound, certain=False)


def _segment(
    windows: Sequence[Window],
    rate_ppm: float | None,
    low_ppm: float | None,
    high_ppm: float | None,
    certain: bool,
) -> DriftSegment:
    xs, ys = _middles_x(windows), _middles_y(windows)
    slope = 1.0 if rate_ppm is None else 1 + rate_ppm * 1e-6
    at_first = statistics.fmean(y - slope * (x - xs[0]) for x, y in zip(xs, ys, strict=True))
    residuals = tuple(y - at_first - slope * (x - xs[0]) for x, y in zip(xs, ys, strict=True))
    middle = statistics.median(residuals)
    spread = statistics.median(abs(one - middle) for one in residuals)
    return DriftSegment(
        instants=tuple(one.x for one in windows),
        rate_ppm=rate_ppm,
        low_ppm=low_ppm,
        high_ppm=high_ppm,
        certain=certain and len(windows) > 1,
        offset_s=windows[0].y + at_first,
        residuals_s=residuals,
        outliers=tuple(
            window.x
            for window, rest in zip(windows, residuals, strict=True)
            if not certain and abs(rest - middle) > max(JUMP_SPREADS * spread, 2 * window.width)
        ),
    )


def assumed_drift(rate_ppm: float, bound_ppm: float = 0.0) -> DriftEstimate:
    """An estimate that somebody else made: a rate and the bound that he gives it."""
    check_rate(rate_ppm)
    if check_rate(bound_ppm) < 0:
        raise BadArgument("a bound is not negative", found=f"{bound_ppm} ppm")
    return DriftEstimate(
        rate_ppm=rate_ppm,
        low_ppm=rate_ppm - bound_ppm,
        high_ppm=rate_ppm + bound_ppm,
        bound_ppm=bound_ppm,
        certain=False,
        offset_s=0.0,
        span_s=0,
        n_samples=0,
        residuals_s=(),
        segments=(),
    )
