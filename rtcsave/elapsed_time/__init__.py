"""How much real time passed between two saves, and every explanation that fits what they show.

`account` has the two saves as numbers, `explanations` the table of what can have happened,
`likelihood` its numbers, `sentences` the words, `stamp_reading` and `stampless` what a stamp gives and
what is known without it; `similarity` compares memory images, `ordinary` says what a healthy clock
does.
"""

from rtcsave.elapsed_time.judging import Elapsed, Explanation, elapsed
from rtcsave.elapsed_time.ordinary import ran_untouched
from rtcsave.elapsed_time.sentences import DIFFERENT_MEMORY, how_likely
from rtcsave.elapsed_time.similarity import memory_alike, refuse_different_memory

ANY_CRYSTAL_PPM = 200
"""What no clock crystal exceeds: ±20 ppm, ageing ±3 ppm, and at -40 °C or 85 °C a parabola of
-0.04 x 65² = -169 ppm (data sheets of two makers)."""

CRYSTAL_PPM = 20
"""What a clock crystal may be off at 25 °C (a data sheet: ±20 ppm; README, Sources)."""

__all__ = [
    "ANY_CRYSTAL_PPM",
    "CRYSTAL_PPM",
    "DIFFERENT_MEMORY",
    "Elapsed",
    "Explanation",
    "elapsed",
    "how_likely",
    "memory_alike",
    "ran_untouched",
    "refuse_different_memory",
]
