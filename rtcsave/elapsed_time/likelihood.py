"""How well a supposition predicts what is seen: densities per second, plain numbers only.

Every assumed figure is here or beside its entry in `explanations`, once.
"""

from __future__ import annotations

import math
from typing import Final, NamedTuple

from rtcsave.units import COUNTER_DAYS, HOUR_S, MINUTE_S

RATES_PPM: Final = ((0.98, 15.0), (0.02, 80.0))
"""Rates of clock crystals, parts of all and standard deviation in ppm: an assumption around the
±20 ppm at 25 °C of the data sheets (README, Sources) and 45 ppm in the worst case."""

LATENESS_S: Final = ((0.9, 0.0), (0.1, 20.0))
"""How far a pair of stamps is off, parts of all and standard deviation in seconds: one stamp in
twenty is late, since a file is stamped after its clock was read (an assumption)."""

STAMP_OFF_S: Final = 60
"""Three standard deviations of that: stamps in the wrong order by less are in no order."""

HOURS_HARMONIC: Final = sum(1 / hours for hours in range(1, 24 * COUNTER_DAYS))
"""What the weights 1/k of a length of k whole hours sum to, up to 512 days."""

_ROOT: Final = 1 / math.sqrt(2 * math.pi)


class Blur(NamedTuple):
    """How what the registers count is spread about the real time, whatever else happened.

    `terms` are pairs (a, b): the density at `rest_s` is the sum of a * exp(b * rest_s²).
    `width_s` is the standard deviation of truncation and of an ordinary crystal.
    """

    terms: tuple[tuple[float, float], ...]
    width_s: float

    def at(self, rest_s: float) -> float:
        """The density per second at that many seconds between registers and real time."""
        square = rest_s * rest_s
        return sum(a * math.exp(b * square) for a, b in self.terms)


def blur(span_s: int, resolution_s: int) -> Blur:
    """The blur over a span: truncation of two readings and two stamps, the crystal, late stamps.

    Truncation is uniform, variance a twelfth of the resolution's square (JCGM 100:2008 F.2.2.1).
    """
    truncation = (resolution_s * resolution_s + 1) / 6
    terms = []
    for part, ppm in RATES_PPM:
        crystal = (ppm * 1e-6 * span_s) ** 2
        for share, late_s in LATENESS_S:
            variance = truncation + crystal + late_s * late_s
            terms.append((part * share * _ROOT / math.sqrt(variance), -0.5 / variance))
    ordinary = truncation + (RATES_PPM[0][1] * 1e-6 * span_s) ** 2
    return Blur(tuple(terms), math.sqrt(ordinary))


def log_uniform(length_s: float, longest_s: float, width_s: float) -> float:
    """The density of a length whose logarithm is uniform from a minute to `longest_s`.

    It is level below a minute, and below `width_s`, which is what the blur leaves of it: a shorter
    stop is not told from a late stamp.
    """
    total = 1 + math.log(max(longest_s / MINUTE_S, 1.0))
    return 1 / (max(length_s, width_s, MINUTE_S) * total)


def whole_hours(length_s: float, blurred: Blur) -> float:
    """The density of a length of whole hours, k of them with a weight of 1/k."""
    hours = max(1, round(length_s / HOUR_S))
    return blurred.at(length_s - HOUR_S * hours) / (hours * HOURS_HARMONIC)


def part_of_span(length_s: float, span_s: float, blurred: Blur) -> float:
    """The density of a part of a span: half uniform, most of the rest log-uniform, some whole hours.

    0 for what is longer than the span, or negative, by more than the blur.
    """
    slack = 4 * blurred.width_s
    if not -slack <= length_s <= span_s + slack:
        return 0.0
    if length_s < 0:
        return math.exp(-0.5 * (length_s / blurred.width_s) ** 2) * part_of_span(0, span_s, blurred)
    return (
        0.50 / max(span_s, 1)
        + 0.45 * log_uniform(length_s, span_s, blurred.width_s)
        + 0.05 * whole_hours(length_s, blurred)
    )


def setting(by_s: float, period_s: int, blurred: Blur) -> float:
    """The density of setting a clock by that much, forward or back: half uniform over all that it
    shows, most of the rest log-uniform, some whole hours."""
    length_s = abs(by_s)
    return 0.50 / period_s + 0.5 * (
        0.45 * log_uniform(length_s, period_s, blurred.width_s)
        + 0.05 * whole_hours(length_s, blurred)
    )


def carry_seen(before: bool, after: bool, overflowed: bool) -> float:
    """The probability of the carry bit after a time, with or without an overflow in it.

    Carry stays set until software clears it (Pan Docs); one in five games does (an assumption).
    """
    if before or overflowed:
        return 0.8 if after else 0.2
    return 0.002 if after else 0.998


def carry_after_writing(before: bool, after: bool, could_overflow: bool) -> float:
    """The probability of the carry bit after somebody wrote the registers (an assumption)."""
    expected = 0.5 if before or could_overflow else 0.05
    return expected if after else 1 - expected
