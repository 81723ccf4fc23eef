"""Where a clock was set: a series cut where its windows no longer share a line.

After L. Zhang, Z. Liu, C. H. Xia, "Clock Synchronization Algorithms for Network Measurements",
INFOCOM 2002: clock resets found by convex hulls. Cut greedily from the first observation, each
setting is placed as late as can be; cut from the last, as early as can be; both need the same and
the least number of pieces. What the same piece of both holds lies between the same two settings,
if there were no more of them than the pieces tell.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from itertools import groupby
from typing import Final, NamedTuple

from rtcsave.elapsed_time import ANY_CRYSTAL_PPM
from rtcsave.regress import Window, slope_bounds

SLOWEST: Final = 1 - Fraction(ANY_CRYSTAL_PPM, 1_000_000)
FASTEST: Final = 1 + Fraction(ANY_CRYSTAL_PPM, 1_000_000)


class Part(NamedTuple):
    """Windows that follow one another; `core` where all lie between the same two settings."""

    windows: Sequence[Window]
    core: bool


class Cut(NamedTuple):
    """A series cut into `pieces`, each with a line of its own, and the parts that follow.

    `slips` are windows that were taken out: each alone is off a line that holds its neighbours.
    """

    pieces: int
    parts: tuple[Part, ...]
    slips: tuple[Window, ...] = ()


def cut_at_settings(windows: Sequence[Window]) -> Cut:
    """The series cut where its windows no longer share a line that a crystal can have.

    A core of a single window that separates two pieces may be a slip of the pen: it is one if the
    series without it needs two pieces less.
    """
    cut = _cut(windows)
    inner = [part for part in cut.parts if part.core][1:-1]
    slips = [part.windows[0] for part in inner if len(part.windows) == 1]
    if not slips:
        return cut
    taken = set(slips)
    rest = _cut([window for window in windows if window not in taken])
    if rest.pieces > cut.pieces - 2 * len(slips):
        return cut
    return rest._replace(slips=tuple(slips))


def _cut(windows: Sequence[Window]) -> Cut:
    """The pieces of least number, and the parts: cores, and what lies between them in doubt."""
    n = len(windows)
    latest = _starts(windows)
    earliest = [n - start for start in reversed(_starts(windows[::-1])[1:])] + [n]
    core_of = [0] * n
    for number, (start, end) in enumerate(zip(latest, earliest, strict=True), 1):
        for at in range(start, end):
            core_of[at] = number
    parts = []
    for number, places in groupby(range(n), key=core_of.__getitem__):
        indices = list(places)
        parts.append(Part(windows[indices[0] : indices[-1] + 1], bool(number)))
    return Cut(len(latest), tuple(parts))


def _starts(windows: Sequence[Window]) -> list[int]:
    """Where each piece begins, if each is as long as a shared line allows."""
    starts = [0]
    while (end := _end_of_piece(windows, starts[-1])) < len(windows):
        starts.append(end)
    return starts


def _end_of_piece(windows: Sequence[Window], start: int) -> int:
    """The end of the longest run from `start` that shares a line: by doubling, then by halving."""
    most = len(windows) - start
    shared, length = 1, 2
    while length <= most and _share_a_line(windows[start : start + length]):
        shared, length = length, length * 2
    failed = min(length, most + 1)
    while failed - shared > 1:
        middle = (shared + failed) // 2
        if _share_a_line(windows[start : start + middle]):
            shared = middle
        else:
            failed = middle
    return start + shared


def _share_a_line(windows: Sequence[Window]) -> bool:
    """Whether a line of a rate that a crystal can have passes through every window."""
    bounds = slope_bounds(windows)
    if bounds is None or bounds.low >= FASTEST:
        return False
    return bounds.high is None or bounds.high > SLOWEST
