"""Histories as the table of explanations supposes them, drawn from its priors."""

from __future__ import annotations

import math
import random
from typing import Final

from bench.histories import (
    HOUR,
    PERIOD,
    Scene,
    banked_before,
    banked_now,
    carry_cleared,
    halted_later,
    halted_throughout,
    more_hours,
    new_cell,
    one_hour,
    quarters,
    released,
    reversed_files,
    set_by,
    stamp_off,
    stopped_for,
    stopped_throughout,
    untouched,
)
from bench.kinds_of_history import Kind


def log_or_less(chance: random.Random, longest_s: float) -> float:
    """As the model has it: uniform below a minute, then log-uniform."""
    top = math.log(max(longest_s / 60, 1.0))
    place = chance.uniform(-1, top)
    return min((place + 1) * 60 if place < 0 else 60 * math.exp(place), longest_s)


def some_hours(chance: random.Random) -> float:
    """Whole hours, k of them with a weight of 1/k, up to 512 days."""
    return float(HOUR * math.floor(math.exp(chance.uniform(0, math.log(12_288)))))


def some_length(scene: Scene) -> float:
    """The length of a stop as the model has it."""
    place, longest_s = scene.chance.random(), scene.span_s
    if place < 0.5:
        return scene.chance.uniform(0, longest_s)
    if place < 0.95:
        return log_or_less(scene.chance, longest_s)
    hours_s = some_hours(scene.chance)
    return hours_s if hours_s <= longest_s else scene.chance.uniform(0, longest_s)


def some_setting(scene: Scene) -> float:
    """The length of a setting as the model has it."""
    place = scene.chance.random()
    if place < 0.5:
        return scene.chance.uniform(0, PERIOD / 2)
    return log_or_less(scene.chance, PERIOD) if place < 0.95 else some_hours(scene.chance)


def some_shift(chance: random.Random) -> int:
    """A shift as the model has it."""
    place = chance.random()
    if place < 0.6:
        return one_hour(chance)
    return more_hours(chance) if place < 0.9 else quarters(chance)


def some_stop(scene: Scene) -> tuple[str, int | None, float]:
    throughout = scene.chance.random() < 0.4
    return (stopped_throughout if throughout else stopped_for(some_length))(scene)


def some_cell(scene: Scene) -> tuple[str, int | None, float]:
    if scene.chance.random() < 0.5:
        return (banked_now if scene.chance.random() < 0.5 else banked_before)(scene)
    return new_cell(scene)


def some_untouched(scene: Scene) -> tuple[str, int | None, float]:
    clears = scene.chance.random() < 0.2
    return (carry_cleared if clears else untouched)(scene)


def some_crystal(chance: random.Random) -> float:
    return chance.gauss(0, 80 if chance.random() < 0.02 else 15)


PRIORS: Final = (
    (0.85, Kind("untouched", some_untouched, crystal=some_crystal)),
    (0.025, Kind("halted", halted_throughout, crystal=some_crystal, halted_at_first=True)),
    (0.0125, Kind("halted later", halted_later, crystal=some_crystal)),
    (0.0125, Kind("released", released, crystal=some_crystal, halted_at_first=True)),
    (0.03, Kind("stopped", some_stop, crystal=some_crystal)),
    (0.02, Kind("set", set_by(some_setting), crystal=some_crystal)),
    (0.03, Kind("restarted", some_cell, crystal=some_crystal)),
    (0.06, Kind("stamp", stamp_off(some_shift), crystal=some_crystal)),
    (0.012, Kind("clock", set_by(lambda s: some_shift(s.chance), "clock-shifted"),
                 crystal=some_crystal)),
    (0.02, Kind("reversed", reversed_files, crystal=some_crystal)),
)  # fmt: skip
"""Histories as the table of explanations supposes them, with its priors."""
