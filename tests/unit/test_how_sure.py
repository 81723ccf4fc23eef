"""Chance bytes are not taken for a clock: the measurement of `tests/bench/false_positives.py`, small."""

from __future__ import annotations

import random

from rtcsave import examine
from rtcsave.units import MEMORY_SIZES_BYTES

NOW = 1_773_238_500
SMALL = MEMORY_SIZES_BYTES[:4]
SEED = 19_260_310


def test_random_images_hold_no_clock() -> None:
    chance = random.Random(SEED)
    for number in range(3_000):
        seen = examine(chance.randbytes(SMALL[number % 4]), now=NOW)
        assert seen.save is not None
        assert seen.save.block is None
        assert seen.findings == ()


def test_random_bytes_after_an_image_are_no_healthy_clock() -> None:
    chance = random.Random(SEED)
    for number in range(4_000):
        tail = chance.randbytes((44, 48)[number % 2])
        front = bytes(SMALL[number % 3])
        seen = examine(front + tail, now=NOW)
        assert seen.save is None, f"seed {SEED}, number {number}: {tail.hex()}"
