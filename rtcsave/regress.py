"""Straight lines through measurements: windows that hold the slope, least squares, intervals.

No clock words here: x and y are numbers, a window is a box that holds the true point.
"""

from __future__ import annotations

import math
import statistics
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from itertools import pairwise
from typing import NamedTuple

from rtcsave.errors import BadArgument

_Point = tuple[int, int]


class Window(NamedTuple):
    """A box that holds a point: its x in [x, x + x_width), its y in [y, y + y_width)."""

    x: int
    y: int
    x_width: int
    y_width: int


class SlopeBounds(NamedTuple):
    """The open interval of the slopes of rising lines through windows; `high` is None where open."""

    low: Fraction
    high: Fraction | None


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


def slope_bounds(windows: Sequence[Window]) -> SlopeBounds | None:
    """The slopes of the rising lines that pass through every window; None where no line does.

    A rising line passes through a window if it passes below its upper left corner U and above its
    lower right corner L. So every two windows i and j, whose L is right of the other's U, demand
    slope > (L_j.y - U_i.y) / (L_j.x - U_i.x), and every two whose L is left of it demand
    slope < (U_j.y - L_i.y) / (U_j.x - L_i.x). The largest left and the smallest right side are
    the interval (Fourier-Motzkin elimination of the intercept). Where no two give an upper end it
    is open; the lower end is at least 0. O(n log n) by convex hulls, after S. B. Moon, P. Skelly,
    D. Towsley, "Estimation and Removal of Clock Skew from Network Delay Measurements",
    INFOCOM 1999.
    """
    uppers = sorted((window.x, window.y + window.y_width) for window in windows)
    lowers = sorted((window.x + window.x_width, window.y) for window in windows)
    lowest = dict(reversed(uppers))
    if any(y >= lowest.get(x, y + 1) for x, y in lowers):
        return None
    low = _steepest(uppers, lowers)
    fall = _steepest(sorted((x, -y) for x, y in lowers), sorted((x, -y) for x, y in uppers))
    least = max(low, Fraction(0)) if low is not None else Fraction(0)
    if fall is None:
        return SlopeBounds(least, None)
    return SlopeBounds(least, -fall) if least < -fall else None


def _steepest(lefts: Sequence[_Point], rights: Sequence[_Point]) -> Fraction | None:
    """The largest slope from a point of `lefts` to a point of `rights` that is right of it.

    Both are sorted. None where no point is right of any.
    """
    hull: list[_Point] = []
    added = 0
    rise, run = 0, 0
    for x, y in rights:
        while added < len(lefts) and lefts[added][0] < x:
            _extend(hull, *lefts[added])
            added += 1
        if hull:
            left_x, left_y = _tangent(hull, x, y)
            if not run or (y - left_y) * run > rise * (x - left_x):
                rise, run = y - left_y, x - left_x
    return Fraction(rise, run) if run else None


def _extend(hull: list[_Point], x: int, y: int) -> None:
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


def _tangent(hull: Sequence[_Point], x: int, y: int) -> _Point:
    """The point of a lower hull from which the slope to a point right of all of it is largest."""
    left, right = 0, len(hull) - 1
    while left < right:
        middle = (left + right) // 2
        (ax, ay), (bx, by) = hull[middle], hull[middle + 1]
        if (y - ay) * (x - bx) < (y - by) * (x - ax):
            left = middle + 1
        else:
            right = middle
    return hull[left]


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


def squares_about_parallels(groups: Sequence[tuple[Sequence[float], Sequence[float]]]) -> float:
    """The sum of squares of y about least-squares lines of one slope, one line a group.

    A group is its xs and its ys.
    """
    sxx = sxy = syy = 0.0
    for xs, ys in groups:
        x_mean, y_mean = statistics.fmean(xs), statistics.fmean(ys)
        sxx += math.fsum((x - x_mean) ** 2 for x in xs)
        sxy += math.fsum((x - x_mean) * (y - y_mean) for x, y in zip(xs, ys, strict=True))
        syy += math.fsum((y - y_mean) ** 2 for y in ys)
    return max(0.0, syy - sxy**2 / sxx) if sxx else syy


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


@lru_cache(maxsize=256)
def student_t(degrees: int, inside: float) -> float:
    """Student's t, two-sided: the value between whose signs a ratio lies with that probability.

    `inside` is 0.95 or 0.99, say. From the closed form of the distribution for whole degrees of
    freedom (Abramowitz and Stegun, 26.7.3 and 26.7.4), inverted by bisection; past 200 degrees the
    normal value and its first two corrections (ibid. 26.7.5), right to 2e-6 there.
    """
    if degrees < 1:
        raise BadArgument("Student's t needs a degree of freedom", found=str(degrees))
    if not 0 < inside < 1:
        raise BadArgument("a probability lies between 0 and 1", found=str(inside))
    if degrees > 200:
        normal = statistics.NormalDist().inv_cdf((1 + inside) / 2)
        first = (normal**3 + normal) / 4
        second = (5 * normal**5 + 16 * normal**3 + 3 * normal) / 96
        return normal + first / degrees + second / degrees**2
    low, high = 0.0, 1.0
    while _inside_t(high, degrees) < inside:
        high *= 2
    for _ in range(60):
        middle = (low + high) / 2
        if _inside_t(middle, degrees) < inside:
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
