"""How often chance bytes are taken for a clock. Run by hand:

    python tests/bench/false_positives.py [TRIALS]

Random images of every legal size without a block, and random bytes of 44 and 48 after an image: in
how many is a block found, and in how many is it called healthy?
"""

from __future__ import annotations

import random
import sys

from rtcsave import examine
from rtcsave.units import MEMORY_SIZES_BYTES

NOW = 1_773_238_500
SEED = 19_260_310


def main() -> int:
    """Count and print."""
    trials = int(sys.argv[1]) if len(sys.argv) > 1 else 1_000_000
    chance = random.Random(SEED)
    counts = {
        "images alone": [0, 0, 0],
        "44 or 48 random bytes after an image": [0, 0, 0],
        "44 or 48 random small bytes (0-63) after an image": [0, 0, 0],
    }
    fronts = [chance.randbytes(size) for size in MEMORY_SIZES_BYTES]
    for number in range(trials):
        at = number % len(fronts)
        # most images small, as most random bytes are alike; every size is met
        size = MEMORY_SIZES_BYTES[at] if number % 50 == 0 else MEMORY_SIZES_BYTES[at % 3]
        tail_bytes = (44, 48)[number % 2]
        small = bytes(byte & 0x3F for byte in chance.randbytes(tail_bytes))
        for name, data in (
            ("images alone", chance.randbytes(size)),
            (
                "44 or 48 random bytes after an image",
                fronts[at % 3] + chance.randbytes(tail_bytes),
            ),
            ("44 or 48 random small bytes (0-63) after an image", fronts[at % 3] + small),
        ):
            seen = examine(data, now=NOW)
            counted = counts[name]
            counted[0] += 1
            if seen.save is not None and seen.save.block is not None:
                counted[1] += 1
                counted[2] += not seen.findings
    print(f"seed {SEED}")
    for name, (tried, blocks_found, healthy) in counts.items():
        print(
            f"{name}: {tried:,} tried, a block found in {blocks_found}, called healthy in {healthy}"
        )
    return 0


if __name__ == "__main__":
    sys.exit(main())
