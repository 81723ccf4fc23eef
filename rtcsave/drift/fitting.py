"""How fast a crystal runs: the rate from two or more observations, and how sure it is."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from itertools import pairwise
from typing import Final, NamedTuple

from rtcsave.clocks.arguments import LARGEST_PPM
from rtcsave.drift.estimate import DriftEstimate, DriftSegment
from rtcsave.drift.observations import Observation, check_slack, observe
from rtcsave.drift.scatter import cut_at_jumps, settings_explain
from rtcsave.drift.segments import FEW, bounded, scattered, scatters, segment_of
from rtcsave.drift.settings import Cut, cut_at_settings
from rtcsave.drift.windows import instant_of, loses_count, windows_of
from rtcsave.elapsed_time import ANY_CRYSTAL_PPM
from rtcsave.errors import BadArgument, number_of, shown
from rtcsave.regress import Window
from rtcsave.savefile import SaveFile
from rtcsave.when import Seconds, say_instant

SCATTER: Final = "the observations scatter more than truncation and slack explain"

WAS_SET: Final = "the clock was set between two observations"


class Series(NamedTuple):
    """What a series of windows tells: its segments, the ends of the rate in ppm, the doubts."""

    segments: tuple[DriftSegment, ...]
    low_ppm: float | None
    high_ppm: float | None
    doubts: tuple[str, ...]


def fit_drift(
    observations: Iterable[Observation | SaveFile], *, slack_s: Seconds | None = None
) -> DriftEstimate:
    """The rate of a clock from two or more observations or saves, in any order, mixed at will.

    `slack_s`, not negative, overrides the slack of every observation: 0 says that
    each instant is the very second at which the clock was read. The instant of a save is its stamp
    less the slack, since a file is stamped after its clock was read.

    Where one line passes through all windows that truncation and slack leave, the bound follows
    from them. Otherwise the series is cut where somebody set the clock; what scatters is fitted by
    least squares with a 95 % interval. Overflows are unwrapped on the way. A setting smaller than
    about 10 s is not seen.

    `BadArgument` for fewer than two observations, different periods, all of them in one second,
    no two of them together between settings, or a rate that no clock has. A rate means something
    only for dumps of the cartridge itself: a save that an emulator advanced carries the rate of its
    host.
    """
    slack = None if slack_s is None else check_slack(slack_s)
    series = sorted(_observations(observations, slack), key=lambda o: (o.unix_s, o.reading_s))
    _check(series)
    fit = _read(windows_of(series))
    longest = max(fit.segments, key=lambda s: (s.low_ppm is not None, s.span_s))
    if longest.low_ppm is None or not longest.span_s:
        raise BadArgument(
            "no two observations lie between settings of the clock",
            found=f"{number_of(len(series), 'observation')}; between any two the clock was set, "
            "or went back",
            remedy="observe it again without setting it in between",
        )
    estimate = _estimate(fit, longest, [*fit.doubts, *_doubts(series, fit)])
    _refuse_impossible(estimate)
    return estimate


def _refuse_impossible(estimate: DriftEstimate) -> None:
    """Refuse a rate that no clock has: then the readings or the instants are wrong."""
    low, high = estimate.low_ppm, estimate.high_ppm
    too_fast = low is not None and low >= LARGEST_PPM
    too_slow = high is not None and high <= -LARGEST_PPM
    if too_fast or too_slow:
        raise BadArgument(
            "no clock runs at this rate",
            found=f"{estimate.rate_ppm:+,.0f} ppm",
            expected=f"less than ±{LARGEST_PPM:,} ppm",
            remedy="the clock stopped, or an instant or a reading is wrong: look at them again",
        )


def _observations(
    given: Iterable[Observation | SaveFile], slack_s: int | None
) -> list[Observation]:
    if not isinstance(given, Iterable):
        raise BadArgument("these are no observations", found=shown(given))
    observations = []
    for item in given:
        if isinstance(item, SaveFile):
            observations.append(observe(item, slack_s=slack_s))
        elif isinstance(item, Observation):
            observations.append(item if slack_s is None else replace(item, slack_s=slack_s))
        else:
            raise BadArgument("this is neither an observation nor a save", found=shown(item))
    return observations


def _check(series: Sequence[Observation]) -> None:
    """Refuse what no rate can follow from, whatever the readings are."""
    if len(series) < 2:
        raise BadArgument(
            "a rate needs two observations", found=str(len(series)), expected="two or more"
        )
    periods = {observation.period_s for observation in series}
    if len(periods) > 1:
        raise BadArgument(
            "the observations have different periods",
            found=" and ".join(f"{period} s" for period in sorted(periods)),
            expected="readings of one kind",
        )
    if series[0].unix_s == series[-1].unix_s:
        raise BadArgument(
            "all observations are of one second, so they give no rate",
            found=f"{number_of(len(series), 'observation')} at {say_instant(series[0].unix_s)}",
            remedy="observe the clock again, a week later or more",
        )


def _estimate(fit: Series, longest: DriftSegment, doubts: Sequence[str]) -> DriftEstimate:
    low, high = fit.low_ppm, fit.high_ppm
    return DriftEstimate(
        rate_ppm=(low + high) / 2 if low is not None and high is not None else None,
        low_ppm=low,
        high_ppm=high,
        bound_ppm=(high - low) / 2 if low is not None and high is not None else None,
        certain=not doubts,
        offset_s=longest.offset_s,
        span_s=longest.span_s,
        n_samples=longest.n_samples,
        residuals_s=longest.residuals_s,
        segments=tuple(replace(s, certain=not doubts) for s in fit.segments),
        since_unix_s=longest.first_unix_s,
        doubts=tuple(doubts),
    )


def _doubts(series: Sequence[Observation], fit: Series) -> list[str]:
    """Why a rate is not certain, whatever the scatter and the settings."""
    doubts = []
    low, high = fit.low_ppm, fit.high_ppm
    if (low is not None and low > ANY_CRYSTAL_PPM) or (
        high is not None and high < -ANY_CRYSTAL_PPM
    ):
        doubts.append(f"no crystal is off by more than {ANY_CRYSTAL_PPM} ppm")
    if loses_count(series):
        doubts.append("between two observations the clock may have lost or gained half a period")
    gap = max(after.unix_s - before.unix_s for before, after in pairwise(series))
    if len(series) >= FEW and 2 * gap > series[-1].unix_s - series[0].unix_s:
        doubts.append("a setting inside the longest gap would not be seen")
    return doubts


def _read(windows: Sequence[Window]) -> Series:
    """One segment if one line holds all, else those between settings, else what scatter leaves.

    Where settings explain the series, but not much better than scatter, the bound is the hull.
    """
    whole = bounded(windows)
    if whole is not None:
        doubts = (SCATTER,) if scatters(windows) else ()
        return Series((whole,), whole.low_ppm, whole.high_ppm, doubts)
    cut = cut_at_settings(windows)
    between = _between_settings(cut, len(windows))
    if between is not None and settings_explain(cut, windows):
        return between
    scatter = _scatter(windows)
    if between is None or scatter.low_ppm is None:
        return scatter
    return scatter._replace(
        low_ppm=_least(scatter.low_ppm, between.low_ppm),
        high_ppm=_most(scatter.high_ppm, between.high_ppm),
        doubts=(SCATTER, "the clock may have been set"),
    )


def _least(first: float | None, second: float | None) -> float | None:
    return None if first is None or second is None else min(first, second)


def _most(first: float | None, second: float | None) -> float | None:
    return None if first is None or second is None else max(first, second)


def _between_settings(cut: Cut, n: int) -> Series | None:
    """The segments between settings, their bounds intersected; None where it is scatter."""
    if 2 * (cut.pieces + 2 * len(cut.slips)) > n - 1:
        return None
    segments = []
    for part in cut.parts:
        core = bounded(part.windows) if part.core and len(part.windows) > 1 else None
        segments.append(core or segment_of(part.windows, None, None, None))
    lows = [s.low_ppm for s in segments if s.low_ppm is not None]
    highs = [s.high_ppm for s in segments if s.high_ppm is not None]
    if not lows or (highs and max(lows) >= min(highs)):
        return None
    slips = tuple(instant_of(window) for window in cut.slips)
    return Series(
        tuple(
            replace(
                segment,
                outliers=tuple(
                    t for t in slips if segment.first_unix_s <= t <= segment.last_unix_s
                ),
            )
            for segment in segments
        ),
        max(lows),
        min(highs, default=None),
        (WAS_SET,) if cut.pieces > 1 else ("an observation was left out",),
    )


def _scatter(windows: Sequence[Window]) -> Series:
    """Segments by least squares, cut only where a step is far larger than the scatter."""
    segments = []
    parts, slips = cut_at_jumps(windows)
    for part in parts:
        outliers = tuple(instant_of(slip) for slip in slips if part[0].x <= slip.x <= part[-1].x)
        segment = bounded(part) or scattered(part)
        segments.append(replace(segment, outliers=tuple(sorted((*segment.outliers, *outliers)))))
    longest = max(segments, key=lambda s: (s.low_ppm is not None, s.span_s))
    doubts = (f"a 95 % interval: {SCATTER}", *((WAS_SET,) if len(parts) > 1 else ()))
    return Series(tuple(segments), longest.low_ppm, longest.high_ppm, doubts)
