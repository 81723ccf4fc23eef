"""Scatter about one line, and how to tell it from settings of the clock."""

from __future__ import annotations

import math
import statistics
from collections.abc import Sequence
from typing import Final

from rtcsave.drift.segments import FEW
from rtcsave.drift.settings import Cut
from rtcsave.drift.windows import explained_sd, leads_of, times_of
from rtcsave.regress import Window, least_squares, median_slope, squares_about_parallels

JUMP_S: Final = 60
"""Where a series scatters, a step between neighbours that is larger than this, and than
`JUMP_SPREADS` times the usual step, is a setting: crystals do not step."""

JUMP_SPREADS: Final = 10

SETTING_COSTS: Final = 8.0
"""How much better settings must explain a series than scatter does, for each setting: this many
times the logarithm of the number of observations (twice it is what Schwarz's criterion asks for
a place and a size; the place is chosen as the best of many). Chosen by simulation."""


def settings_explain(cut: Cut, windows: Sequence[Window]) -> bool:
    """Whether settings and slips explain a series much better than scatter about one line.

    Two models are compared: one line and scatter of any size; lines of one slope, a setting between
    each two, and scatter of at least what truncation and slack explain. (G. Schwarz, "Estimating
    the dimension of a model", Annals of Statistics 6, 1978; with a larger penalty.)
    """
    n, more = len(windows), cut.pieces - 1 + len(cut.slips)
    least = explained_sd(windows) ** 2
    spread = max(least_squares(times_of(windows), leads_of(windows)).residual_sd ** 2, least)
    start = windows[0].y - windows[0].x
    groups = []
    for part in cut.parts:
        if part.core:
            first = part.windows[0]
            ahead = first.y - first.x - start
            groups.append(
                (times_of(part.windows), [lead + ahead for lead in leads_of(part.windows)])
            )
    degrees = sum(len(xs) for xs, _ in groups) - len(groups) - 1
    about_lines = squares_about_parallels(groups) / degrees if degrees > 0 else 0.0
    gain = (n - 2) * spread / ((n - 2 - more) * max(about_lines, least))
    return n * math.log(gain) > SETTING_COSTS * math.log(n) * more


def cut_at_jumps(windows: Sequence[Window]) -> tuple[list[list[Window]], list[Window]]:
    """The series cut at every jump: a step, the median slope removed, that no scatter explains.

    A single observation that jumps away and back is no setting of the clock but a slip: it is taken
    out, and given back beside the parts. Of four observations or fewer none can be told from the
    others, so they stay together.
    """
    if len(windows) <= FEW:
        return [list(windows)], []
    times, leads = times_of(windows), leads_of(windows)
    slope = median_slope(times, leads)
    steps = [
        leads[at] - leads[at - 1] - slope * (times[at] - times[at - 1])
        for at in range(1, len(windows))
    ]
    middle = statistics.median(steps)
    spread = statistics.median(abs(step - middle) for step in steps)
    least = max(JUMP_S, JUMP_SPREADS * spread)
    parts = [[windows[0]]]
    slips: list[Window] = []
    owed = 0.0
    for at, window in enumerate(windows[1:], 1):
        step = steps[at - 1] + owed
        after = steps[at] if at < len(steps) else None
        if abs(step) > least and after is not None and abs(step + after) <= least:
            slips.append(window)
            owed = step
            continue
        owed = 0.0
        if abs(step) > least:
            parts.append([])
        parts[-1].append(window)
    return parts, slips
