"""What a rate means: in words, against what a clock crystal does, and over temperature."""

from __future__ import annotations

from typing import Final

from rtcsave.drift.estimate import DriftEstimate
from rtcsave.elapsed_time import ANY_CRYSTAL_PPM, CRYSTAL_PPM
from rtcsave.errors import BadArgument, shown
from rtcsave.units import DAY_S, MINUTE_S
from rtcsave.when import dated

ABSOLUTE_ZERO_C: Final = 273.15
PARABOLA_PPM_PER_K2: Final = -0.030
PARABOLA_SPREAD: Final = 0.010
TURNOVER_C: Final = 25.0
TURNOVER_SPREAD_C: Final = 5.0
"""Frequency over temperature: -0.030 ± 0.01 ppm/°C² about 25 ± 5 °C (a data sheet; README, Sources)."""


CERTAIN: Final = (
    "certain, if every instant is the second at which the clock was read, give or take the slack, "
    "and nobody set the clock"
)


def temperature_shift_ppm(celsius: float) -> tuple[float, float, float]:
    """What the temperature parabola of a clock crystal explains: the typical shift and its range.

    In ppm, never positive. Typical: -0.030 (T - 25)². The range is that of the coefficient
    (±0.01) and of the turnover temperature (±5 °C).
    """
    if not -ABSOLUTE_ZERO_C <= celsius <= 1_000:
        raise BadArgument("this is no temperature", found=shown(celsius), expected="in °C")
    typical = PARABOLA_PPM_PER_K2 * (celsius - TURNOVER_C) ** 2
    away = abs(celsius - TURNOVER_C)
    most = (PARABOLA_PPM_PER_K2 - PARABOLA_SPREAD) * (away + TURNOVER_SPREAD_C) ** 2
    least = (PARABOLA_PPM_PER_K2 + PARABOLA_SPREAD) * max(0.0, away - TURNOVER_SPREAD_C) ** 2
    return typical, most, least


def seconds_a_day(rate_ppm: float) -> float:
    """What a rate gains (or, negative, loses) in a day, in seconds."""
    return rate_ppm * DAY_S * 1e-6


def minutes_a_year(rate_ppm: float) -> float:
    """What a rate gains in 365 days, in minutes."""
    return seconds_a_day(rate_ppm) * 365 / MINUTE_S


def judge_rate(rate_ppm: float) -> str:
    """Whether a rate is what a clock crystal does, in a sentence."""
    if abs(rate_ppm) <= CRYSTAL_PPM:
        return f"inside the ±{CRYSTAL_PPM} ppm of a clock crystal at 25 °C"
    if abs(rate_ppm) <= ANY_CRYSTAL_PPM:
        return (
            f"outside the ±{CRYSTAL_PPM} ppm of a clock crystal at 25 °C: temperature, age or its "
            "capacitors can do that"
        )
    return (
        f"beyond ±{ANY_CRYSTAL_PPM} ppm: that is not a crystal's; the clock was set, stopped, "
        "or the instants are wrong"
    )


def explain(estimate: DriftEstimate) -> str:
    """The rate and how sure it is, in a sentence."""
    if estimate.rate_ppm is None or estimate.bound_ppm is None:
        return "the observations are too close together to bound the rate on both sides"
    since = dated(estimate.since_unix_s)
    if since is None:
        when = ", as given"
    elif estimate.certain:
        when = f" since {since} ({CERTAIN})"
    else:
        when = f" since {since} (not certain: {'; '.join(estimate.doubts)})"
    return f"{estimate.rate_ppm:+.3f} ppm ± {estimate.bound_ppm:.3f}{when}"
