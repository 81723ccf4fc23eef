"""Dumps of one cartridge over time: what happened between each two of them, and the drift so far."""

from __future__ import annotations

import os
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Final

from rtcsave.drift import DriftEstimate, fit_drift
from rtcsave.elapsed_time import Elapsed, elapsed
from rtcsave.errors import BadArgument, RtcSaveError, number_of, shown
from rtcsave.findings import Finding, check
from rtcsave.savefile import SaveFile, check_save
from rtcsave.when import Instant, now_or

_DATE: Final = re.compile(r"[ _.-]*(?:19|20)\d\d[-_.]?\d\d[-_.]?\d\d(?:[T_ -]?\d{2,6}Z?)?[ _.-]*")


@dataclass(frozen=True, slots=True, kw_only=True, repr=False)
class HistoryStep:
    """What lies between one dump and the next."""

    earlier: int
    """The number of the earlier save in the series, from 0."""
    later: int
    """The number of the later one."""
    elapsed: Elapsed
    """The explanations of the time between them."""
    drift: DriftEstimate | None
    """The rate from the first dump to the later one; None where none can be fitted."""


@dataclass(frozen=True, slots=True, kw_only=True, repr=False)
class History:
    """A series of dumps, oldest first by their stamps.

    `problems` say in words why no rate is fitted, or only in part: saves of two cartridges, saves without
    a usable stamp. `drift` is None then.
    """

    saves: tuple[SaveFile, ...]
    """The saves in the order of their stamps; those without a usable one last, as they were given."""
    steps: tuple[HistoryStep, ...]
    """What lies between each two of them."""
    drift: DriftEstimate | None
    """The rate over the whole series."""
    findings: tuple[tuple[Finding, ...], ...]
    """What `check` finds in each save."""
    is_mixed: bool
    """Whether two saves next to each other have nothing in common in their memory."""
    problems: tuple[str, ...]

    def __repr__(self) -> str:
        rate = "no rate" if self.drift is None else f"{self.drift.rate_ppm} ppm"
        return f"<History of {number_of(len(self.saves), 'save')}: {rate}>"


def history(
    saves: Iterable[SaveFile], now: Instant | None = None, *, different_memory: bool = False
) -> History:
    """The history of a cartridge from two or more dumps of it, in any order.

    Two saves next to each other whose memory has nothing in common may be of two cartridges: that is said,
    and no rate is fitted, unless `different_memory`. `NoClock` where a save has no clock block,
    `BadArgument` for fewer than two saves or clocks of different kinds.
    """
    now_s = now_or(now)
    series = _in_order([check_save(save) for save in saves])
    if len(series) < 2:
        raise BadArgument("a history needs two saves or more", found=number_of(len(series), "save"))
    between = [elapsed(earlier, later, now_s) for earlier, later in pairwise(series)]
    mixed = [at for at, elapsed_time in enumerate(between, 1) if elapsed_time.memory_alike is False]
    problems = [
        f"the memory of save {at + 1} has nothing in common with that of save {at}: "
        "they may be of two cartridges"
        for at in mixed
    ]
    unstamped = sum(save.clock_block.usable_unix_s is None for save in series)
    if unstamped:
        problems.append(
            f"{number_of(unstamped, 'save')} without a usable stamp: left out of the rate"
        )
    drifts: list[DriftEstimate | None] = [None] * len(between)
    if not mixed or different_memory:
        fits = [_fitted(series[: at + 2]) for at in range(len(between))]
        drifts = [drift for drift, _ in fits]
        why_not = fits[-1][1]
        problems += [why_not] if why_not else []
    return History(
        saves=tuple(series),
        steps=tuple(
            HistoryStep(earlier=at, later=at + 1, elapsed=elapsed_time, drift=drift)
            for at, (elapsed_time, drift) in enumerate(zip(between, drifts, strict=True))
        ),
        drift=drifts[-1],
        findings=tuple(check(save, now=now_s) for save in series),
        is_mixed=bool(mixed),
        problems=tuple(problems),
    )


def _in_order(saves: Sequence[SaveFile]) -> list[SaveFile]:
    """The saves by their stamps; those without a usable one at the end."""

    def key(save: SaveFile) -> tuple[bool, int]:
        unix_s = save.clock_block.usable_unix_s
        return unix_s is None, 0 if unix_s is None else unix_s

    return sorted(saves, key=key)


def _fitted(series: Sequence[SaveFile]) -> tuple[DriftEstimate | None, str]:
    """The rate of the stamped saves, or why there is none."""
    stamped = [save for save in series if save.clock_block.usable_unix_s is not None]
    try:
        return fit_drift(stamped), ""
    except RtcSaveError as error:
        return None, f"no rate: {error.what}"


def series_of(paths: Iterable[str]) -> dict[str, tuple[str, ...]]:
    """The files that look like dumps of one cartridge: of one folder, their names alike but for a date.

    By what the names have in common; only those of two files or more. `tide 2026-03-10.sav` and `tide
    2026-04-01.sav` are one series, `tide`; so are `tide.sav` and these.
    """
    groups: dict[str, list[str]] = {}
    for path in paths:
        if not isinstance(path, str):
            raise BadArgument("a path is text", found=shown(path))
        folder, name = os.path.split(path)
        stem = _DATE.sub(" ", os.path.splitext(name)[0]).strip() or name
        groups.setdefault(os.path.join(folder, stem), []).append(path)
    return {name: tuple(members) for name, members in groups.items() if len(members) > 1}
