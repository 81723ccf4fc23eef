"""A collection of saves with known truth, made from a seed: what a survey must say of each."""

from __future__ import annotations

import pathlib
import random
import struct
from typing import Final, NamedTuple

from rtcsave import ClockBlock, CounterClock
from rtcsave.strategies import DAMAGES, NOW

DAY: Final = 86_400
SIZES: Final = (8_192, 32_768, 2_048)
QUIET_SECONDS: Final = 140 * DAY


def image(chance: random.Random, size: int) -> bytes:
    """A memory image: random, with a sparse end in one of four."""
    whole = chance.randbytes(size)
    if chance.randrange(4):
        return whole
    used = size // 2 + chance.randrange(size // 4)
    return whole[:used] + chance.choice((b"\0", b"\xff")) * (size - used)


FORMS: Final = {"block48": "<10Iq", "block44": "<10Ii", "block48-be": ">10Iq"}
"""Ten words, running then latched, and a stamp, as `struct` packs them."""


class Block(NamedTuple):
    """A healthy block: its layout and bytes, what its clock counts, and the second of its stamp."""

    layout: str
    raw: bytes
    reading_s: int
    saved_s: int

    @property
    def reading(self) -> str:
        """What the clock shows."""
        minutes, second = divmod(self.reading_s, 60)
        return f"{minutes // 1_440}d{minutes // 60 % 24:02}:{minutes % 60:02}:{second:02}"

    def plain(self) -> ClockBlock:
        """The same clock and stamp as a block that may be damaged."""
        clock = CounterClock.from_seconds(self.reading_s)
        return ClockBlock.new(clock, saved_at=self.saved_s, latched=clock)


def words_of(reading_s: int) -> tuple[int, ...]:
    """The five register words of a counter clock."""
    day, left_s = divmod(reading_s, DAY)
    return left_s % 60, left_s // 60 % 60, left_s // 3_600, day & 0xFF, day >> 8


def block(chance: random.Random) -> Block:
    """A healthy block; made here, without the code that is to read it."""
    reading_s = chance.randrange(100, QUIET_SECONDS)
    saved_s = NOW - chance.randrange(365 * DAY)
    layout = chance.choice(tuple(FORMS))
    latched = words_of(reading_s - chance.randrange(90))
    raw = struct.pack(FORMS[layout], *words_of(reading_s), *latched, saved_s)
    return Block(layout, raw, reading_s, saved_s)


def collection(folder: pathlib.Path, number: int, seed: int) -> dict[str, dict[str, object]]:
    """Write so many files and folders of them; by path, the codes, the clock and the days that are true."""
    chance = random.Random(seed)
    truth: dict[str, dict[str, object]] = {}
    codes = [None] * (2 * len(DAMAGES)) + list(DAMAGES)
    for at in range(number):
        place = folder / f"row {at % 7}" / ("deep" if at % 3 else ".")
        place.mkdir(parents=True, exist_ok=True)
        path = place / f"copy {at:04}.{chance.choice(('sav', 'bin', 'ram'))}"
        code = chance.choice(codes)
        clock_block = block(chance)
        memory = image(chance, chance.choice(SIZES))
        row: dict[str, object] = {"codes": [] if code is None else [code]}
        if code is None:
            path.write_bytes(memory + clock_block.raw)
            row |= {
                "clock": clock_block.reading,
                "days": (512 * DAY - clock_block.reading_s - (NOW - clock_block.saved_s)) // DAY,
                "memory_bytes": len(memory),
                "layout": clock_block.layout,
            }
        else:
            path.write_bytes(
                DAMAGES[code](
                    chance.randbytes(8_192), clock_block.plain(), chance.randrange(256), NOW
                )
            )
        truth[str(path)] = row
        if at % 10 == 0:  # what is no save, ours, or hidden
            (place / f"note {at}.txt").write_text(f"lent out, number {at}\n")
            (place / f"{path.name}.20260310T141500Z.bak").write_bytes(path.read_bytes())
            (place / f".hidden {at}.sav").write_bytes(memory + clock_block.raw)
    return truth


def program(title: bytes, hardware: int, memory: int) -> bytes:
    """A program image of 32 KiB with a sound header (Pan Docs, cartridge header)."""
    data = bytearray(32_768)
    data[0x134 : 0x134 + len(title)] = title
    data[0x147], data[0x149] = hardware, memory
    total = 0
    for byte in data[0x134:0x14D]:
        total = (total - byte - 1) & 0xFF
    data[0x14D] = total
    return bytes(data)


def healthy(saved_s: int = NOW - DAY, day: int = 12) -> bytes:
    """A healthy save of 8 KiB: 03:04:05 of a day."""
    words = (5, 4, 3, day & 0xFF, day >> 8)
    return random.Random(9).randbytes(8_192) + struct.pack("<10Iq", *words, *words, saved_s)
