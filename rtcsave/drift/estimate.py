"""What is known of a rate: an estimate, and the segments that it rests on."""

from __future__ import annotations

from dataclasses import dataclass

from rtcsave.clocks.arguments import check_rate
from rtcsave.errors import BadArgument


@dataclass(frozen=True, slots=True, kw_only=True)
class DriftSegment:
    """A stretch of observations between two settings of the clock, and the rate over it.

    `rate_ppm` lies in the middle of `low_ppm` to `high_ppm`; positive = the cartridge clock runs
    fast. `certain` is that of the whole estimate. Rates are None for observations that
    give none: a single one, or those of which nobody can say on which side of a setting they lie.
    `offset_s` is the reading of the fitted line at the first instant, `residuals_s` are readings
    less that line, in seconds. `instants` are those of its observations, `outliers` those of
    observations far from the line, both in Unix seconds; an outlier that was taken out is in the
    latter alone.
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

    `low_ppm` to `high_ppm` holds the true rate, in ppm: where `certain`, if every instant is the
    second at which the clock was read, give or take the slack, and nobody set the clock. Where it
    is not, `doubts` says why, in words. `rate_ppm` is the middle, `bound_ppm` half the width; an
    end that nothing bounds is None, and so are these.

    The interval rests on all `segments` that share a rate, so it may be narrower than that of any
    one. `offset_s`, `span_s`, `n_samples` and `residuals_s` are those of the longest segment, with
    its own line; it begins at `since_unix_s` (None for an estimate that somebody else made).
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
    doubts: tuple[str, ...] = ()


def assumed_drift(rate_ppm: float, bound_ppm: float = 0.0) -> DriftEstimate:
    """An estimate that somebody else made: a rate and the bound that he gives it, both in ppm."""
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
