"""Constants that several modules share, with their units in their names."""

from __future__ import annotations

TYPE_CHECKING = False
if TYPE_CHECKING:  # help needs no types, and they take a fifth of a start
    from typing import Final

VERSION: Final = "0.1.0"

MINUTE_S: Final = 60
HOUR_S: Final = 3_600
DAY_S: Final = 86_400

COUNTER_DAYS: Final = 512
"""Days that the 9-bit day counter tells apart: 0 to 511 (Pan Docs, real-time clock registers)."""

COUNTER_PERIOD_S: Final = COUNTER_DAYS * DAY_S
"""Seconds after which the day-counter clock reads the same again: 44,236,800."""

MEMORY_SIZES_BYTES: Final = (256, 512, 2_048, 8_192, 32_768, 65_536, 131_072)
"""Lengths of a memory image (sizes: Pan Docs, cartridge header; as files: common practice)."""

LARGEST_FILE_BYTES: Final = 1_048_576
"""What is read at all: eight times the largest memory image, so that a padded one, or one with duplicate
blocks, can still be examined."""
