"""What a survey costs beside a plain loop over the same warm files, as ratios of processor time. By hand:

    python tests/bench/survey.py [--files 2000]

The plain loop opens each file, asks for its status, reads its last 48 bytes and closes it. Both run in turn,
round by round; printed is the median of the rounds' ratios, and their least and most.
"""

from __future__ import annotations

import argparse
import os
import pathlib
import random
import statistics
import struct
import sys
import tempfile
import time
from collections.abc import Callable

import rtcsave
from rtcsave.strategies import NOW

DAY_S = 86_400


def save(chance: random.Random, is_healthy: bool) -> bytes:
    """A save of 32 KiB and a block of 48 bytes; an unhealthy one has no stamp."""
    words = (
        chance.randrange(60),
        chance.randrange(60),
        chance.randrange(24),
        chance.randrange(1, 100),
        0,
    )
    stamp = NOW - chance.randrange(300 * DAY_S) if is_healthy else 0
    return chance.randbytes(32_768) + struct.pack("<10Iq", *words, *words, stamp)


def bare(folder: str) -> int:
    """The plain loop."""
    count = 0
    for entry in os.scandir(folder):
        descriptor = os.open(entry.path, os.O_RDONLY)
        size = os.fstat(descriptor).st_size
        os.pread(descriptor, 48, size - 48)
        os.close(descriptor)
        count += 1
    return count


def ours(folder: str) -> int:
    """The survey, each row's verdict taken."""
    return sum(row.worst is None for row in rtcsave.survey(folder, now=NOW))


def spent(work: Callable[[str], int], folder: str) -> float:
    """The processor time that a loop takes."""
    start = time.process_time()
    work(folder)
    return time.process_time() - start


def main() -> int:
    """Print the ratios."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").partition("\n")[0])
    parser.add_argument("--files", type=int, default=2_000)
    args = parser.parse_args()
    for name, one_in, aim in (("healthy", 0, 1.5), ("one in twenty unhealthy", 20, 2.5)):
        chance = random.Random(6)
        with tempfile.TemporaryDirectory() as folder:
            for at in range(args.files):
                data = save(chance, not one_in or at % one_in != 0)
                pathlib.Path(folder, f"{at:06}.sav").write_bytes(data)
            bare(folder), ours(folder)
            ratios, times = [], []
            for _ in range(15):
                theirs_s = spent(bare, folder)
                ours_s = spent(ours, folder)
                ratios.append(ours_s / theirs_s)
                times.append(ours_s / args.files * 1e6)
        print(
            f"survey of saves of 32 KiB, {name:<24} {statistics.median(ratios):6.2f}  at most {aim}  "
            f"({min(ratios):.2f} to {max(ratios):.2f})  {statistics.median(times):.1f} µs a file"
        )
    return 0


if __name__ == "__main__":
    sys.exit(main())
