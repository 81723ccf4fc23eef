"""Memory that lost its power: what static RAM holds at power-up, before anything is written to it.

Common practice: such RAM comes up in long runs of 00h and FFh, or in alternating stripes of them, with
a few bits that differ. What it holds varies from chip to chip, so finding nothing proves nothing.
"""

from __future__ import annotations

import re
from itertools import pairwise
from typing import Final

BLANK: Final = (
    "the whole memory is blank: the cell was dead when it was dumped, or it was never written"
)
UNPOWERED: Final = (
    "the memory looks like RAM that lost its power: long runs of 00h and FFh, or alternating "
    "stripes; perhaps the cell was dead"
)

LEAST_BYTES: Final = 256
"""A shorter image has too few bytes to judge."""

LEAST_NEAR: Final = 0.98
"""The share of bytes that are 00h or FFh but for one bit."""

LEAST_OF_EACH: Final = 0.2
"""The share of bytes near 00h, and of those near FFh: a save has one fill, and little of the other."""

LEAST_STRIPES: Final = 12
"""A save that is filled in a few parts has fewer long runs that alternate."""

LEAST_IN_RUNS: Final = 0.8
"""The share of bytes in long runs: 8 bytes or more on one side."""

STRIPE_BYTES: Final = (1, 2, 4)
"""The widths of shorter stripes; they must alternate."""

LEAST_ALTERNATING: Final = 0.85
"""The share of bytes that differ from the byte a stripe before."""

LEAST_PART: Final = 64
"""How much of an image is looked at in one step, or a thirty-second of it: mostly one step decides."""

_HEAD_PART: Final = 40
_ENOUGH: Final = 49
"""If more than one byte in so many of a whole image is near neither, all is decided (by `LEAST_NEAR`)."""

_LONG_RUN: Final = rb"\x00{8,}|\x01{8,}"
_ONES: Final = tuple(value.bit_count() for value in range(256))
_SIDE: Final = bytes(ones > 4 for ones in _ONES)
_NEAR_ZEROS: Final = bytes(value for value in range(256) if _ONES[value] <= 1)
_NEAR_ONES: Final = bytes(value for value in range(256) if _ONES[value] >= 7)
_NEAR_EITHER: Final = _NEAR_ZEROS + _NEAR_ONES


def looks_unpowered(memory: bytes) -> bool:
    """Whether a memory image looks like RAM that lost its power.

    Measured by `tests/bench/power_up.py` (seeded, 2,000 invented images of 512 to 32,768 bytes of
    each kind). False alarms: none of random bytes, of text or of flags by chance; 0.6 % of sparse
    saves; 0 to 0.15 % of slots (two seeds). Seen of RAM at power-up as it makes it: 99.5 % or more
    with runs, all with stripes. The limits here were chosen on such images, not on real dumps.
    """
    size = len(memory)
    head = memory[: size // _HEAD_PART]
    if len(head.translate(None, _NEAR_EITHER)) * _ENOUGH > size:  # nearly always: a few are enough
        return False
    if size < LEAST_BYTES or _has_other_bytes(memory):
        return False
    if max(memory.count(0x00), memory.count(0xFF)) > (1 - LEAST_OF_EACH) * size:
        return False
    zeros = size - len(memory.translate(None, _NEAR_ZEROS))
    ones = size - len(memory.translate(None, _NEAR_ONES))
    if zeros + ones < LEAST_NEAR * size or min(zeros, ones) < LEAST_OF_EACH * size:
        return False
    sides = memory.translate(_SIDE)
    long_runs = re.findall(_LONG_RUN, sides)
    stripes = 1 + sum(run[0] != following[0] for run, following in pairwise(long_runs))
    if stripes >= LEAST_STRIPES and sum(map(len, long_runs)) >= LEAST_IN_RUNS * size:
        return True
    return any(_differing(sides, width) >= LEAST_ALTERNATING * size for width in STRIPE_BYTES)


def other_bytes(part: bytes) -> int:
    """How many bytes are near neither 00h nor FFh."""
    return len(part.translate(None, _NEAR_EITHER))


def _has_other_bytes(memory: bytes) -> bool:
    """Whether too many bytes are near neither 00h nor FFh; the first part of an image mostly says so."""
    size, others = len(memory), 0
    step = max(LEAST_PART, size >> 5)
    for at in range(0, size, step):
        others += other_bytes(memory[at : at + step])
        if size - others < LEAST_NEAR * size:
            return True
    return False


def _differing(sides: bytes, apart: int) -> int:
    """How many of these bytes, each 0 or 1, differ from the one so many bytes before."""
    earlier, later = int.from_bytes(sides[:-apart]), int.from_bytes(sides[apart:])
    return (earlier ^ later).bit_count()


def is_blank(memory: bytes) -> bool:
    """Whether a memory image is all 00h or all FFh."""
    return memory[:1] in (b"\x00", b"\xff") and memory.count(memory[:1]) == len(memory)


def power_loss(memory: bytes) -> str | None:
    """What a memory image says of a dead cell, in words; None for an image of other bytes."""
    if is_blank(memory):
        return BLANK
    return UNPOWERED if looks_unpowered(memory) else None
