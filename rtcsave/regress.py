"""Straight lines through measurements: windows that hold the slope, least squares, intervals.

No clock words here: x and y are numbers, a window is a half-open range that holds the true value.
"""

from __future__ import annotations

import math
import statistics
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise
from typing import NamedTuple

from rtcsave.errors import BadArgument


class Window(NamedTuple):
    """A point known only to lie in [x, x + 1) and [y, y + width)."""

    x: int
    y: int
    width: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """A least-squares line: `y = intercept + slope * x`, with standard deviations of both.

    `sxx` is the sum of squares of x about its mean.
    """

    slope: float
    intercept: float
    slope_sd: float
    intercept_sd: float
    residual_sd: float
    sxx: float
    n: int


def slope_bounds(windows: Sequence[Window]) -> tuple[Fraction | None, Fraction | None]:
    """The open interval that holds the slope of any line through all windows; None for an open end.

    With truth in [x, x + 1) and [y, y + w), every pair i before j demands
    (y_j - y_i - w_i) / (x_j - x_i + 1) < slope < (y_j - y_i + w_j) / (x_j - x_i - 1), the right
    side only where x_j - x_i > 1. The largest left and the smallest right side over all pairs are
    the interval (Fourier-Motzkin elimination of the intercept); it is empty where low >= high: no
    line passes through all windows. O(n log n) by convex hulls, after S. B. Moon, P. Skelly,
    D. Towsley, "Estimation and Removal of Clock Skew from Network Delay Measurements",
    INFOCOM 1999.
    """
    points = sorted(windows)
    low: Fraction | None = None
    high: Fraction | None = None
    below: list[tuple[int, int]] = []  # lower hull of (x, y + w): left ends of the low slopes
    above: list[tuple[int, int]] = []  # the same for the high ones, mirrored in y
    waiting = 0
    for j, (x, y, width) in enumerate(points):
        if below:
            found = _steepest(below, x + 1, y)
            low = found if low is None else max(low, found)
        while waiting < j and points[waiting].x < x - 1:
            _extend(above, points[waiting].x, -points[waiting].y)
            waiting += 1
        if above:
            found = -_steepest(above, x - 1, -(y + width))
            high = found if high is None else min(high, found)
        _extend(below, x, y + width)
    return low, high


def _extend(hull: list[tuple[int, int]], x: int, y: int) -> None:
    """Add a point at the right end of a lower convex hull."""
    if hull and hull[-1][0] == x:
        if hull[-1][1] <= y:
            return
        hull.pop()
    while len(hull) >= 2:
        (ax, ay), (bx, by) = hull[-2], hull[-1]
        if (by - ay) * (x - bx) < (y - by) * (bx - ax):
            break
        hull.pop()
    hull.append((x, y))


def _steepest(hull: list[tuple[int, int]], x: int, y: int) -> Fraction:
    """The largest slope from a point of a lower hull to a point right of all of it."""
    left, right = 0, len(hull) - 1
    while left < right:
        middle = (left + right) // 2
        (ax, ay), (bx, by) = hull[middle], hull[middle + 1]
        if (y - ay) * (x - bx) < (y - by) * (x - ax):
            left = middle + 1
        else:
            right = middle
    return Fraction(y - hull[left][1], x - hull[left][0])


def least_squares(xs: Sequence[float], ys: Sequence[float]) -> Line:
    """The least-squares line through three points or more, at least two of them apart in x."""
    n = len(xs)
    if n < 3 or len(ys) != n:
        raise BadArgument("a line with a spread needs three points", found=str(n))
    x_mean, y_mean = math.fsum(xs) / n, math.fsum(ys) / n
    dx = [x - x_mean for x in xs]
    dy = [y - y_mean for y in ys]
    sxx = math.fsum(d * d for d in dx)
    if not sxx:
        raise BadArgument("a line needs points that are apart in x")
    slope = math.fsum(a * b for a, b in zip(dx, dy, strict=True)) / sxx
    intercept = y_mean - slope * x_mean
    rest = math.fsum((b - slope * a) ** 2 for a, b in zip(dx, dy, strict=True))
    residual_sd = math.sqrt(rest / (n - 2))
    return Line(
        slope=slope,
        intercept=intercept,
        slope_sd=residual_sd / math.sqrt(sxx),
        intercept_sd=residual_sd * math.sqrt(math.fsum(x * x for x in xs) / (n * sxx)),
        residual_sd=residual_sd,
        sxx=sxx,
        n=n,
    )


def median_slope(xs: Sequence[float], ys: Sequence[float]) -> float:
    """The median of the slopes between neighbours in x, each weighted by how far they are apart.

    Steps of any size move it little, and neither do points close together, whose slopes say little.
    (The median over all pairs would follow a step in the middle: half of the pairs cross it.)
    """
    slopes = sorted(
        ((ys[j] - ys[i]) / (xs[j] - xs[i]), xs[j] - xs[i])
        for i, j in pairwise(range(len(xs)))
        if xs[j] != xs[i]
    )
    if not slopes:
        raise BadArgument("a slope needs points that are apart in x")
    half = math.fsum(weight for _, weight in slopes) / 2
    passed = 0.0
    for at, (slope, weight) in enumerate(slopes):
        passed += weight
        if passed > half:
            return slope
        if passed == half:
            return (slope + slopes[at + 1][0]) / 2
    return slopes[-1][0]


def student_t_95(degrees: int) -> float:
    """Student's t, two-sided 95 %: the value that a ratio exceeds one time in twenty, either way.

    From the closed form of the distribution for whole degrees of freedom (Abramowitz and Stegun,
    26.7.3 and 26.7.4), inverted by bisection; past 2,000 degrees the normal value and its first
    correction (ibid. 26.7.5), right to 1e-6 there.
    """
    if degrees < 1:
        raise BadArgument("Student's t needs a degree of freedom", found=str(degrees))
    normal = statistics.NormalDist().inv_cdf(0.975)
    if degrees > 2_000:
        return normal + (normal**3 + normal) / (4 * degrees)
    low, high = 0.0, 13.0
    for _ in range(60):
        middle = (low + high) / 2
        if _inside_t(middle, degrees) < 0.95:
            low = middle
        else:
            high = middle
    return (low + high) / 2


def _inside_t(t: float, degrees: int) -> float:
    """The probability that Student's t lies between -t and t."""
    angle = math.atan(t / math.sqrt(degrees))
    square = math.cos(angle) ** 2
    odd = degrees % 2
    term = math.cos(angle) if odd else 1.0
    total = 0.0
    for k in range(2 if odd else 1, degrees, 2):
        total += term
        term *= square * k / (k + 1)
    if odd:
        return 2 / math.pi * (angle + (math.sin(angle) * total if degrees > 1 else 0.0))
    return math.sin(angle) * total
