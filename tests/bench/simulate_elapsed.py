"""How often `elapsed` is right, and how sure it is, over histories whose truth is known.

The whole table: `cd tests && python -m bench.simulate_elapsed [--number 500] [--seed 1]
[--calibrate 20000]`. It takes ten seconds or so.
"""

from __future__ import annotations

import argparse
import math
import random
import sys
import time
from dataclasses import dataclass

from bench.histories import NOW, History
from bench.kinds_of_history import KINDS, Kind, make_history
from bench.prior_histories import PRIORS

from rtcsave import Elapsed, elapsed


def named(history: History, result: Elapsed) -> bool:
    """Whether the true cause is listed, with its own shift where it has one."""
    return any(
        item.cause == history.cause and (not history.lies or item.shift_s == history.shift_s)
        for item in result.explanations
    )


@dataclass(slots=True)
class Row:
    """What was counted for a kind of history."""

    kind: Kind
    number: int = 0
    inside: int = 0
    inside_by_readings: int = 0
    agreed: int = 0
    agreed_wrong: int = 0
    widest_agreed_s: int = 0
    traced: int = 0
    listed: int = 0
    first: int = 0
    lies: bool = False

    def count(self, history: History, result: Elapsed) -> None:
        assert result.low_s is not None
        assert result.high_s is not None
        inside = result.low_s <= history.truth_s <= result.high_s
        self.number += 1
        self.lies = history.lies
        self.inside += inside
        self.inside_by_readings += result.low_s - 1 <= history.readings_apart_s <= result.high_s + 1
        self.agreed += result.agreed
        self.agreed_wrong += result.agreed and not inside
        if result.agreed:
            self.widest_agreed_s = max(self.widest_agreed_s, result.high_s - result.low_s)
        if history.trace:
            self.traced += 1
            self.listed += named(history, result)
            self.first += result.cause == history.cause

    def failures(self) -> list[str]:
        """The acceptance lines that this kind does not meet."""
        n, lines = self.number, []
        least = 0.97 if self.lies else 0.995
        if self.inside < least * n:
            lines.append(f"inside {self.inside / n:.3f}")
        if self.agreed_wrong > (1 - least) * n:
            lines.append(f"agreed and wrong {self.agreed_wrong / n:.3f}")
        if self.widest_agreed_s > 4:
            lines.append(f"agreed over {self.widest_agreed_s} s")
        if self.listed < 0.97 * self.traced:
            lines.append(f"listed {self.listed / self.traced:.3f}")
        if self.kind.first and self.first < 0.98 * self.traced:
            lines.append(f"first {self.first / self.traced:.3f}")
        if self.kind.surely_agreed and self.agreed < 0.98 * n:
            lines.append(f"agreed {self.agreed / n:.3f}")
        return lines


def measure(kind: Kind, number: int, seed: int) -> Row:
    """Tell that many histories of a kind and count."""
    row, chance = Row(kind), random.Random(f"{seed} {kind.name}")
    for _ in range(number):
        history = make_history(kind, chance)
        row.count(history, elapsed(history.earlier, history.later, NOW))
    return row


def table(number: int, seed: int) -> list[str]:
    """Print a row a kind; return what was not met."""
    print(f"seed {seed}, {number} histories a kind; percentages")
    print(
        f"{'':34}{'inside':>7}{'(reads)':>8}{'agreed':>7}{'wrong':>6}{'traced':>7}{'listed':>7}{'first':>7}"
    )
    missed = []
    for kind in KINDS:
        row = measure(kind, number, seed)
        n, traced = row.number, max(row.traced, 1)
        print(
            f"{kind.name:34}{100 * row.inside / n:7.1f}{100 * row.inside_by_readings / n:8.1f}"
            f"{100 * row.agreed / n:7.1f}{100 * row.agreed_wrong / n:6.1f}{row.traced:7d}"
            f"{100 * row.listed / traced:7.1f}{100 * row.first / traced:7.1f}  "
            + "; ".join(row.failures())
        )
        missed += [f"{kind.name}: {line}" for line in row.failures()]
    return missed


def calibrate(number: int, seed: int) -> list[tuple[int, float, float]]:
    """For each tenth of weight: how many explanations had it, the mean weight, how many were true."""
    chance = random.Random(f"{seed} calibration")
    tenths: list[list[tuple[float, bool]]] = [[] for _ in range(10)]
    priors = [prior for prior, _ in PRIORS]
    for _ in range(number):
        history = make_history(chance.choices(PRIORS, priors)[0][1], chance)
        for item in elapsed(history.earlier, history.later, NOW).explanations:
            shifted = item.cause in ("stamp-shifted", "clock-shifted")
            true = item.cause == history.cause and (not shifted or item.shift_s == history.shift_s)
            tenths[min(int(item.weight * 10), 9)].append((item.weight, true))
    return [
        (len(tenth), sum(w for w, _ in tenth) / len(tenth), sum(t for _, t in tenth) / len(tenth))
        if tenth
        else (0, math.nan, math.nan)
        for tenth in tenths
    ]


def reliability(number: int, seed: int) -> list[str]:
    """Print the reliability table; return the tenths that are off by more than 0.15."""
    print(f"\ncalibration, {number} histories from the priors: weight, explanations, mean, true")
    missed = []
    for at, (count, mean, true) in enumerate(calibrate(number, seed)):
        wrong = count >= 20 and abs(mean - true) > 0.15
        print(
            f"{at / 10:.1f}-{at / 10 + 0.1:.1f}{count:8d}{mean:8.3f}{true:8.3f}{' OFF' if wrong else ''}"
        )
        missed += [f"calibration {at / 10:.1f}: {mean:.3f} against {true:.3f}"] if wrong else []
    return missed


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--number", type=int, default=500)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--calibrate", type=int, default=20_000)
    args = parser.parse_args()
    began = time.perf_counter()
    missed = table(args.number, args.seed) + reliability(args.calibrate, args.seed)
    print(
        f"{time.perf_counter() - began:.1f} s;",
        "all met" if not missed else f"{len(missed)} not met",
    )
    return 1 if missed else 0


if __name__ == "__main__":
    sys.exit(main())
