"""A picture of a drift: observations, fit, bound and residuals."""

from __future__ import annotations

import io
from typing import Any

from rtcsave.drift import DriftEstimate, DriftSegment
from rtcsave.errors import BadArgument, SystemFailed
from rtcsave.units import DAY_S
from rtcsave.when import dated, utc_datetime


def _library() -> Any:
    try:
        import matplotlib

        matplotlib.use("Agg")
        from matplotlib import pyplot
    except ImportError:
        raise SystemFailed(
            "pictures need the matplotlib package",
            remedy='install it: python -m pip install "rtcsave[plot]"',
        ) from None
    return pyplot


def draw_drift(estimate: DriftEstimate, title: str, kind: str = "png") -> bytes:
    """The picture as the bytes of a PNG or SVG file.

    Above, how far the clock is ahead of true time, segment by segment, with the fitted line and the
    cone of its bound, outliers marked on the axis; below, the residuals. `SystemFailed` if
    matplotlib is missing.
    """
    if kind not in ("png", "svg"):
        raise BadArgument(
            "unknown kind of picture", found=repr(kind), expected="a name ending in .png or .svg"
        )
    pyplot = _library()
    try:
        return _drawn(pyplot, estimate, title, kind)
    except (
        ValueError,
        OverflowError,
    ):  # matplotlib's dates end a little inside the years 1 and 9999
        raise BadArgument(
            "no picture can show these instants",
            found=f"a series that begins at {dated(estimate.since_unix_s)}",
            expected="years from 2 to 9998",
        ) from None
    finally:
        pyplot.close("all")


def _drawn(pyplot: Any, estimate: DriftEstimate, title: str, kind: str) -> bytes:
    figure, (above, below) = pyplot.subplots(
        2, 1, figsize=(9, 6.5), sharex=True, height_ratios=(2, 1), layout="constrained"
    )
    for number, segment in enumerate(estimate.segments):
        _draw_segment(above, below, segment, first=not number)
    outliers = [
        utc_datetime(instant) for segment in estimate.segments for instant in segment.outliers
    ]
    if outliers:
        above.plot(outliers, [0.0] * len(outliers), "x", color="#a31515", label="outlier (instant)")
    above.set_ylabel("ahead of true time (s)\nsince the segment began")
    above.set_title(title)
    above.legend(loc="best", frameon=False)
    below.axhline(0, color="0.6", linewidth=0.8)
    below.set_ylabel("residual (s)")
    below.set_xlabel("observed (UTC)")
    figure.autofmt_xdate()
    picture = io.BytesIO()
    figure.savefig(
        picture, format=kind, dpi=120, metadata={"Date": None} if kind == "svg" else None
    )
    return picture.getvalue()


def _draw_segment(above: Any, below: Any, segment: DriftSegment, first: bool) -> None:
    instants = segment.instants
    dates = [utc_datetime(instant) for instant in instants]
    rate = segment.rate_ppm or 0.0
    days = [(instant - instants[0]) / DAY_S for instant in instants]
    per_day = DAY_S * 1e-6
    line = [rate * per_day * day for day in days]
    seen = [a + b for a, b in zip(line, segment.residuals_s, strict=True)]
    above.plot(dates, seen, "o", color="#1b6ca8", markersize=4, label="observed" if first else None)
    if segment.rate_ppm is not None:
        above.plot(dates, line, color="#c2571a", label="fit" if first else None)
    if segment.low_ppm is not None and segment.high_ppm is not None:
        above.fill_between(
            dates,
            [segment.low_ppm * per_day * day for day in days],
            [segment.high_ppm * per_day * day for day in days],
            color="#c2571a",
            alpha=0.2,
            linewidth=0,
            label=("bound" if segment.certain else "bound, not certain") if first else None,
        )
    below.plot(dates, segment.residuals_s, "o", color="#1b6ca8", markersize=3)
