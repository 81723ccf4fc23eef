"""How often the interval of a rate holds the truth, by seeded simulation. Run by hand:

    python tests/bench/simulate_drift.py [trials] [words of the cells]

Each cell draws histories of a clock of a known rate, blurs and truncates what a person or a file
would record, and counts: how many estimates are certain, how many of these hold the true rate, how
many of all hold it, and in how many a setting was found. Prints a table, and each bound that the
project demands beside what was measured. Exit 1 if one does not hold.
"""

from __future__ import annotations

import math
import random
import sys
import zlib
from collections.abc import Callable, Iterator
from dataclasses import dataclass

from rtcsave import BadArgument, DriftEstimate, Observation, fit_drift

DAY = 86_400
START = 1_773_152_100
COUNTER = 44_236_800

Draw = Callable[[random.Random], tuple[float, DriftEstimate]]


def observations(
    rng: random.Random,
    seconds: list[float],
    rate_ppm: float,
    *,
    stamp_error: Callable[[], float] = lambda: 0.0,
    settings: tuple[tuple[float, float], ...] = (),
    resolution_s: int = 1,
    period_s: int = COUNTER,
    slack_s: int = 1,
    early_s: int = 0,
) -> list[Observation]:
    """What is recorded of a clock at `seconds` after the start.

    `stamp_error` draws by how much a stamp is late, in seconds; `settings` are (second, step) pairs;
    `early_s` is taken from each stamp, as it is from those of a save.
    """
    origin = rng.random() * period_s
    begin = START + rng.random()
    seen = []
    for second in seconds:
        step = sum(size for at, size in settings if second > at)
        reading = math.floor(origin + second * (1 + rate_ppm * 1e-6) + step)
        seen.append(
            Observation(
                instant=math.floor(begin + second + stamp_error()) - early_s,
                reading_s=reading // resolution_s * resolution_s % period_s,
                resolution_s=resolution_s,
                period_s=period_s,
                slack_s=slack_s,
            )
        )
    return seen


def spread_out(rng: random.Random, n: int, span_s: float, *, evenly: bool = False) -> list[float]:
    """Instants of n observations: at random over the span, or evenly with a tenth of blur."""
    if not evenly:
        return sorted(rng.uniform(0, span_s) for _ in range(n))
    gap = span_s / n
    return [at * gap + rng.uniform(0, gap / 10) for at in range(n)]


def setting_inside(rng: random.Random, seconds: list[float]) -> float:
    """An instant of a setting: in a gap between two observations, each gap as likely."""
    at = rng.randrange(1, len(seconds))
    return rng.uniform(seconds[at - 1], seconds[at])


MOST_UNBOUNDED = 0.05
"""The most intervals with an open end: one that is open on both sides would hold every rate."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Measured:
    """What the trials of a cell gave; the figures are counts of `trials`.

    `refused` are those whose observations are all of one second; another refusal holds nothing.
    """

    trials: int
    certain: int
    certain_held: int
    held: int
    refused: int
    found: int
    found_certain: int
    unbounded: int

    @property
    def given(self) -> int:
        """How many were given an interval, or wrongly refused one."""
        return self.trials - self.refused


def measure(draw: Draw, trials: int, seed: int) -> Measured:
    """Draw that many histories of a cell and count what became of them."""
    rng = random.Random(seed)
    counts = dict.fromkeys(Measured.__dataclass_fields__, 0)
    counts["trials"] = trials
    for _ in range(trials):
        try:
            rate, estimate = draw(rng)
        except BadArgument as error:
            counts["refused"] += "one second" in error.what
            continue
        low = -math.inf if estimate.low_ppm is None else estimate.low_ppm
        high = math.inf if estimate.high_ppm is None else estimate.high_ppm
        holds = low < rate < high
        counts["unbounded"] += None in (estimate.low_ppm, estimate.high_ppm)
        setting_found = any("was set" in doubt for doubt in estimate.doubts)
        counts["held"] += holds
        counts["certain"] += estimate.certain
        counts["certain_held"] += estimate.certain and holds
        counts["found"] += setting_found
        counts["found_certain"] += setting_found and estimate.certain
    return Measured(**counts)


def truncated(n: int, resolution_s: int, period_s: int) -> Draw:
    """Truncation only, slack 0: -300 to 300 ppm, from seconds to six years."""

    def draw(rng: random.Random) -> tuple[float, DriftEstimate]:
        rate, span = rng.uniform(-300, 300), 10 ** rng.uniform(0.7, math.log10(6 * 365 * DAY))
        seen = observations(
            rng, spread_out(rng, n, span), rate,
            resolution_s=resolution_s, period_s=period_s, slack_s=0,
        )  # fmt: skip
        return rate, fit_drift(seen)

    return draw


def jittered(n: int, sd_s: float, resolution_s: int = 1, *, evenly: bool = True) -> Draw:
    """Stamps that are off by a normal error; slack as for what a person wrote."""

    def draw(rng: random.Random) -> tuple[float, DriftEstimate]:
        rate, span = rng.uniform(-100, 100), 10 ** rng.uniform(0, 3) * DAY
        seen = observations(
            rng, spread_out(rng, n, span, evenly=evenly), rate,
            resolution_s=resolution_s, stamp_error=lambda: rng.gauss(0, sd_s),
        )  # fmt: skip
        return rate, fit_drift(seen)

    return draw


def delayed(n: int, most_s: float, slack_s: int, early_s: int) -> Draw:
    """Stamps that are late by up to so much, each as likely, at a slack."""

    def draw(rng: random.Random) -> tuple[float, DriftEstimate]:
        rate, span = rng.uniform(-100, 100), 10 ** rng.uniform(0, 3) * DAY
        seen = observations(
            rng, spread_out(rng, n, span, evenly=rng.random() < 0.5), rate,
            slack_s=slack_s, early_s=early_s, stamp_error=lambda: rng.uniform(0, most_s),
        )  # fmt: skip
        return rate, fit_drift(seen)

    return draw


def set_by_hand(
    n: int, least_s: float, most_s: float, settings: int = 1, sd_s: float = 0.0, evenly: bool = True
) -> Draw:
    """A clock that was set, forwards or back, by so much; stamps true or a little off."""

    def draw(rng: random.Random) -> tuple[float, DriftEstimate]:
        rate, span = rng.uniform(-100, 100), 10 ** rng.uniform(1, 3) * DAY
        seconds = spread_out(rng, n, span, evenly=evenly)
        steps = tuple(
            (setting_inside(rng, seconds), rng.choice((-1, 1)) * rng.uniform(least_s, most_s))
            for _ in range(settings)
        )
        seen = observations(
            rng, seconds, rate, settings=steps, stamp_error=lambda: rng.gauss(0, sd_s)
        )
        return rate, fit_drift(seen)

    return draw


def set_in_a_gap(n: int, least_s: float, most_s: float) -> Draw:
    """Two groups of observations, a long gap between them, and one setting in that gap."""

    def draw(rng: random.Random) -> tuple[float, DriftEstimate]:
        rate, span = rng.uniform(-100, 100), 10 ** rng.uniform(1, 3) * DAY
        gap = rng.uniform(0.55, 0.9) * span
        first = rng.uniform(0.2, 0.8) * (span - gap)
        before = rng.randint(2, n - 2)
        seconds = [0.0, first, first + gap, span]
        seconds += [rng.uniform(0, first) for _ in range(before - 2)]
        seconds += [rng.uniform(first + gap, span) for _ in range(n - before - 2)]
        step = rng.choice((-1, 1)) * rng.uniform(least_s, most_s)
        seen = observations(rng, sorted(seconds), rate, settings=((first + gap / 2, step),))
        return rate, fit_drift(seen)

    return draw


@dataclass(frozen=True, slots=True, kw_only=True)
class Cell:
    """What is drawn, what share of it must hold (of `certain` ones or of `all`), and under which name.

    `never_certain` says which estimates must not be certain: those with a setting `found`, or `all`.
    """

    name: str
    draw: Draw
    of: str
    least: float | None
    never_certain: str = ""

    def failures(self, m: Measured, deviations: float = 0.0) -> list[str]:
        """What does not hold, in words; a share may be low by so many standard deviations."""
        failures = []
        inside, of = (m.certain_held, m.certain) if self.of == "certain" else (m.held, m.given)
        if not of:
            return ["there is none"]
        if m.unbounded > MOST_UNBOUNDED * m.trials:
            failures.append(f"{m.unbounded} without both ends")
        if self.least is not None:
            allowed = deviations * math.sqrt(self.least * (1 - self.least) / of)
            if inside < (self.least - allowed) * of:
                failures.append(f"{inside} of {of} held, at least {self.least:.1%} must")
        if self.never_certain == "all" and m.certain:
            failures.append(f"{m.certain} certain")
        if self.never_certain and m.found_certain:
            failures.append(f"{m.found_certain} certain although a setting was found")
        return failures


CLOCKS = (("1 s", 1, COUNTER), ("60 s", 60, 353_894_400), ("60 s of a day", 60, DAY))
"""Resolutions and periods: the day counter, the minute-of-day clock, a time of day that is shown."""


def _ordinary(counts: dict[str, tuple[int, ...]]) -> Iterator[Cell]:
    for name, resolution, period in CLOCKS:
        of = "certain" if period == DAY else "all"
        for n in counts["truncated"]:
            yield Cell(
                name=f"truncation alone, {name}, n = {n}",
                draw=truncated(n, resolution, period), of=of, least=1.0,
            )  # fmt: skip
    for sd in (0.3, 0.5, 1.0):
        for n in counts["jittered"]:
            for evenly in (True, False) if n > 3 else (True,):
                yield Cell(
                    name=f"stamps ± {sd} s, n = {n}, {'even' if evenly else 'uneven'}",
                    draw=jittered(n, sd, evenly=evenly), of="certain",
                    least=0.975 if n < 4 else 0.99,
                )  # fmt: skip
    for n in counts["delayed"]:
        yield Cell(
            name=f"delays up to 2 s, n = {n}", draw=delayed(n, 2.0, 1, 0), of="certain", least=1.0
        )
        yield Cell(
            name=f"saves 0 to 10 s late, n = {n}",
            draw=delayed(n, 10.0, 5, 5), of="certain", least=0.995,
        )  # fmt: skip


def _settings(counts: dict[str, tuple[int, ...]]) -> Iterator[Cell]:
    for evenly in (True, False):
        spacing = "even" if evenly else "uneven"
        for sizes, least_n, share, number in (
            ((20, 20), 8, 0.95, 1), ((20, 3_600), 8, 0.95, 1), ((10, 10), 12, 0.90, 1),
            ((10, 60), 12, 0.90, 1), ((60, 60), 12, 0.95, 2), ((60, 3_600), 12, 0.95, 2),
        ):  # fmt: skip
            for n in (n for n in counts["set"] if n >= least_n):
                yield Cell(
                    name=f"{number} x set by {sizes[0]}..{sizes[1]} s, n = {n}, {spacing}",
                    draw=set_by_hand(n, *sizes, number, evenly=evenly),
                    of="all", least=share, never_certain="found",
                )  # fmt: skip
        for n in (n for n in counts["set"] if n >= 12):
            yield Cell(
                name=f"1 x set by 3..10 s, n = {n}, {spacing}",
                draw=set_by_hand(n, 3, 10, evenly=evenly), of="all", least=None, never_certain="found",
            )  # fmt: skip


def _beside(counts: dict[str, tuple[int, ...]]) -> Iterator[Cell]:
    """What no bound is demanded of, and is worth knowing."""
    for n in counts["set"]:
        yield Cell(
            name=f"1 x set by 20..3600 s, stamps ± 1 s, n = {n}",
            draw=set_by_hand(n, 20, 3_600, 1, 1.0), of="all", least=0.95, never_certain="found",
        )  # fmt: skip
        yield Cell(
            name=f"set by 3..60 s in a gap past half the span, n = {n}",
            draw=set_in_a_gap(n, 3, 60), of="all", least=None, never_certain="all",
        )  # fmt: skip
    for sd in (2.0, 5.0, 25.0):
        for n in counts["scattered"]:
            yield Cell(
                name=f"stamps ± {sd:g} s, n = {n}", draw=jittered(n, sd), of="all", least=None
            )


FULL = {
    "truncated": (2, 3, 4, 8, 12, 30, 50), "jittered": (2, 3, 4, 5, 8, 12, 20, 30, 50),
    "delayed": (2, 3, 4, 12, 30), "set": (8, 12, 20, 30), "scattered": (4, 5, 6, 8, 12, 30, 50),
}  # fmt: skip
SMALL = {
    "truncated": (2, 4, 12), "jittered": (2, 3, 5), "delayed": (2, 5), "set": (8, 12),
    "scattered": (12,),
}  # fmt: skip


def cells(counts: dict[str, tuple[int, ...]]) -> list[Cell]:
    """All cells with these numbers of observations."""
    return [*_ordinary(counts), *_settings(counts), *_beside(counts)]


def line(cell: Cell, m: Measured) -> str:
    """A line of the table."""
    of_certain = f"{m.certain_held / m.certain:9.2%}" if m.certain else "        -"
    figures = f"{m.certain / m.trials:8.1%}{of_certain}{m.held / m.given:9.2%}"
    demanded = "" if cell.least is None else f"{cell.least:.1%} of {cell.of}"
    return f"{cell.name:56}{figures}{m.found / m.trials:8.1%}{m.refused:5}  {demanded}"


def main() -> int:
    """Measure every cell whose name holds all the given words, and print the table."""
    trials = int(sys.argv[1]) if len(sys.argv) > 1 else 2_000
    wrong = 0
    print(f"{'':56} certain   of it     all   setting refused")
    print(f"{'cell':56}            held    held     found      demanded of held")
    for cell in cells(FULL):
        if all(word in cell.name for word in sys.argv[2:]):
            measured = measure(cell.draw, trials, zlib.crc32(cell.name.encode()))
            failures = cell.failures(measured)
            wrong += bool(failures)
            print(line(cell, measured), *(f"FAIL: {f}" for f in failures), flush=True)
    print(f"{trials} trials a cell; cells that do not hold: {wrong}")
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
