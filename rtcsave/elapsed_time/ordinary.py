"""Whether what `elapsed` says of two saves is what a healthy clock does."""

from __future__ import annotations

from typing import Final

from rtcsave.elapsed_time.judging import Elapsed
from rtcsave.elapsed_time.sentences import PROBABLE

RATE_PPM: Final = 50
LATE_S: Final = 30
"""By how much the registers may be off the stamps: a rate, or some seconds of a late stamp."""


def ran_untouched(elapsed_time: Elapsed) -> bool:
    """Whether the clock ran untouched, as far as the two saves can show it."""
    first = elapsed_time.explanations[0]
    if first.cause != "untouched" or first.weight < PROBABLE:
        return False
    if first.rate_ppm is None or first.elapsed_s is None:
        return True
    rest_s = abs(first.rate_ppm) * 1e-6 * first.elapsed_s
    return abs(first.rate_ppm) <= RATE_PPM or rest_s <= LATE_S
