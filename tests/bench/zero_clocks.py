"""Blocks whose registers are all zero and whose stamp lies in the future: which byte order is read?

Seeded. Every such block is written in a known order and read back without naming a layout: right, wrong
with the note that only the stamp chose, wrong without a note, or refused as ambiguous.

    python tests/bench/zero_clocks.py [--count 2737] [--seed 11]
"""

from __future__ import annotations

import argparse
import random
from collections import Counter
from typing import Final

from rtcsave import AmbiguousLayout, check, loads

NOW_S: Final = 1_773_240_300
"""2026-03-11T14:45:00Z."""

DAY_S: Final = 86_400
LAST_S: Final = {44: 2**32 - 2, 48: 253_402_300_799}
"""The last date that a stamp can say: the last 32-bit second that is not all ones, and the end of 9999."""

NOTE: Final = "block-byte-order"


def future_zeros(size: int, generator: random.Random) -> tuple[bytes, str]:
    """A block of zeros with a future stamp, and the layout that it was written in."""
    order: str = generator.choice(("little", "big"))
    stamp_s = generator.randint(NOW_S + DAY_S + 1, LAST_S[size])
    raw = bytes(40) + stamp_s.to_bytes(size - 40, "little" if order == "little" else "big")
    return raw, f"block{size}" + ("" if order == "little" else "-be")


def read_back(raw: bytes, written_in: str) -> str:
    """How a block is read: `right`, `wrong, noted`, `wrong, silent` or `ambiguous`."""
    try:
        save = loads(raw, now=NOW_S)
    except AmbiguousLayout:
        return "ambiguous"
    if save.clock_block.layout.name == written_in:
        return "right"
    noted = NOTE in [finding.code for finding in check(save, now=NOW_S)]
    return "wrong, noted" if noted else "wrong, silent"


def measure(size: int, count: int, seed: int) -> Counter[str]:
    """How many of so many seeded blocks are read in which way."""
    generator = random.Random(seed)
    return Counter(read_back(*future_zeros(size, generator)) for _ in range(count))


def main() -> None:
    """Print the counts for both sizes."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--count", type=int, default=2_737)
    parser.add_argument("--seed", type=int, default=11)
    args = parser.parse_args()
    for size in (44, 48):
        counts = measure(size, args.count, args.seed)
        said = ", ".join(f"{number:,} {way}" for way, number in sorted(counts.items()))
        print(f"{size} bytes, seed {args.seed}: {said}, of {args.count:,}")


if __name__ == "__main__":
    main()
