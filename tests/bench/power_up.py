"""How often a memory image is taken for RAM that lost its power, and how often such RAM is missed.

    python tests/bench/power_up.py [TRIALS]

The images are invented: random bytes, text, sparse saves, flags as they are stored, and RAM at power-up
with runs or stripes and some bits that differ. Run by hand; the figures are in the README.
"""

from __future__ import annotations

import random
import sys
from collections.abc import Callable

from rtcsave.findings.unpowered import looks_unpowered

SEED = 20_260_310
SIZES = (512, 2_048, 8_192, 32_768)
LETTERS = b"etaoinshrdlu ETAOINSHRDLU .,0123456789\n\x00"
FILLS = (b"\x00", b"\xff")


def random_bytes(chance: random.Random, size: int) -> bytes:
    """Bytes by chance."""
    return chance.randbytes(size)


def text(chance: random.Random, size: int) -> bytes:
    """Letters, digits and ends of texts."""
    return bytes(chance.choices(LETTERS, k=size))


def sparse(chance: random.Random, size: int) -> bytes:
    """One fill, some regions of the other, and one to twelve records of 4 to 128 bytes of data."""
    first, other = chance.sample(FILLS, 2)
    image = bytearray(first * size)
    for _ in range(chance.randrange(4)):
        _put(chance, image, other * chance.randint(16, size // 4))
    for _ in range(chance.randint(1, 12)):
        _put(chance, image, bytes(chance.randrange(256) for _ in range(chance.randint(4, 128))))
    return bytes(image)


def slots(chance: random.Random, size: int) -> bytes:
    """Slots of 32 bytes: cleared, never written, or used: 4 to 24 small numbers, then the fill."""
    image = b""
    while len(image) < size:
        kind, fill = chance.randrange(4), chance.choice(FILLS)
        data = bytes(chance.randrange(100) for _ in range(chance.randint(4, 24)))
        image += fill * 32 if kind else (data + fill * 32)[:32]
    return image[:size]


def flags(chance: random.Random, size: int) -> bytes:
    """Every byte a flag, 00h or FFh."""
    return bytes(chance.choices((0x00, 0xFF), k=size))


def runs(chance: random.Random, size: int) -> bytes:
    """RAM at power-up: runs of 8 to 256 bytes of 00h and FFh, one bit in 250 other."""
    image, side = b"", chance.randrange(2)
    while len(image) < size:
        image += FILLS[side] * chance.randint(8, min(256, size // 8))
        side = 1 - side
    return _noise(chance, image[:size])


def stripes(chance: random.Random, size: int) -> bytes:
    """RAM at power-up: stripes of 1, 2, 4, 8 or 16 bytes, one bit in 250 other."""
    width = chance.choice((1, 2, 4, 8, 16))
    image = (FILLS[0] * width + FILLS[1] * width) * (size // (2 * width))
    return _noise(chance, image)


def _put(chance: random.Random, image: bytearray, data: bytes) -> None:
    at = chance.randrange(max(1, len(image) - len(data)))
    image[at : at + len(data)] = data[: len(image) - at]


def _noise(chance: random.Random, image: bytes) -> bytes:
    noisy = bytearray(image)
    for _ in range(len(image) * 8 // 250):
        noisy[chance.randrange(len(image))] ^= 1 << chance.randrange(8)
    return bytes(noisy)


KINDS: dict[str, Callable[[random.Random, int], bytes]] = {
    "random bytes": random_bytes,
    "text": text,
    "sparse saves": sparse,
    "slots, most of them cleared or never written": slots,
    "flags by chance": flags,
    "power-up, runs": runs,
    "power-up, stripes": stripes,
}


def taken(kind: str, trials: int) -> int:
    """How many images of a kind are taken for RAM that lost its power."""
    chance = random.Random(f"{SEED} {kind}")
    make = KINDS[kind]
    return sum(looks_unpowered(make(chance, SIZES[at % len(SIZES)])) for at in range(trials))


def main() -> int:
    """Count and print."""
    trials = int(sys.argv[1]) if len(sys.argv) > 1 else 2_000
    print(f"seed {SEED}")
    for kind in KINDS:
        print(f"{kind}: {taken(kind, trials):,} of {trials:,} taken for RAM that lost its power")
    return 0


if __name__ == "__main__":
    sys.exit(main())
