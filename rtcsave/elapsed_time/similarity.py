"""Whether two memory images can come from one cartridge: how much of them is equal.

Nothing here walks over an image byte by byte: equal bytes are the zero bytes of an exclusive or of
the two images as whole numbers.
"""

from __future__ import annotations

import math
from collections import Counter
from typing import Final

from rtcsave.errors import Refused

ENOUGH_EQUAL: Final = 0.5
"""Images of which this part is equal are alike, however they were filled."""

CHANCE_SD: Final = 3.0
"""How far past chance the number of equal bytes must be, in standard deviations."""

PIECE_BYTES: Final = 16
"""Length of the pieces that are looked for anywhere in the other image: records that moved."""

PIECE_VALUES: Final = 6
"""Different bytes that a piece must have: fill bytes and power-up patterns have fewer."""


def equal_bytes(first: bytes, second: bytes) -> int:
    """How many bytes are equal, place by place, over the length that both images have."""
    shared = min(len(first), len(second))
    if first[:shared] == second[:shared]:
        return shared
    differing = int.from_bytes(first[:shared], "little") ^ int.from_bytes(second[:shared], "little")
    return differing.to_bytes(shared, "little").count(0)


def equal_by_chance(first: bytes, second: bytes) -> float:
    """How many bytes would be equal if the bytes of one image were shuffled.

    From the histograms of both: two images that are mostly 00h or FFh share much by chance.
    """
    shared = min(len(first), len(second))
    if not shared:
        return 0.0
    there, other = Counter(first[:shared]), Counter(second[:shared])
    return sum(number * other[value] for value, number in there.items()) / shared


def _pieces(image: bytes) -> set[bytes]:
    return {image[at : at + PIECE_BYTES] for at in range(0, len(image), PIECE_BYTES)}


def share_a_piece(first: bytes, second: bytes) -> bool:
    """Whether a piece of one image is at any aligned place of the other.

    A game that keeps two copies and writes them in turn moves its data without changing it.
    """
    return any(len(set(piece)) >= PIECE_VALUES for piece in _pieces(first) & _pieces(second))


def memory_alike(first: bytes, second: bytes) -> bool | None:
    """Whether two memory images have more in common than chance gives; None where one is empty.

    False needs all of it: less than half of the bytes are equal, no more than chance explains
    (and three standard deviations), and no piece of one is elsewhere in the other. Images of
    different lengths are compared over the length of the shorter: a dump may be padded.
    It cannot tell two cartridges of one game apart.
    """
    if not first or not second:
        return None
    shared, equal = min(len(first), len(second)), equal_bytes(first, second)
    if equal >= ENOUGH_EQUAL * shared:
        return True
    expected = equal_by_chance(first, second)
    spread = math.sqrt(max(expected * (1 - expected / shared), 0.0))
    if equal > expected + CHANCE_SD * spread:
        return True
    return share_a_piece(first, second)


def refuse_different_memory(first: bytes, second: bytes, where: str = "") -> None:
    """Raise `Refused` where two memory images have nothing in common."""
    if memory_alike(first, second) is False:
        shared = min(len(first), len(second))
        raise Refused(
            "the memory images have nothing in common: the saves may be of different cartridges",
            where=where,
            found=f"{equal_bytes(first, second)} of {shared:,} bytes equal, as chance has it",
            remedy="if both are of one cartridge, allow it (`different_memory`)",
        )
