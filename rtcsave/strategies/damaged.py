"""Saves, healthy and damaged in each known way."""

from __future__ import annotations

import gzip
import struct
from collections.abc import Callable, Iterable, Mapping
from types import MappingProxyType
from typing import Final

from hypothesis import strategies as st

from rtcsave.clocks import CounterClock
from rtcsave.errors import BadArgument, shown
from rtcsave.layouts import ClockBlock
from rtcsave.savefile import SaveFile, dumps
from rtcsave.stamps import EARLIEST_USABLE_S, UNIX_64, judge
from rtcsave.strategies.values import NOW, blocks
from rtcsave.units import COUNTER_PERIOD_S, DAY_S, HOUR_S

_IMAGE_SIZES: Final = (2_048, 8_192, 512, 32_768)


def _images(sizes: Iterable[int] = _IMAGE_SIZES) -> st.SearchStrategy[bytes]:
    """Memory images that look like a game's: bytes by a rule from a few that are drawn."""

    def image(size: int, seed: int, title: bytes) -> bytes:
        body = bytes((at * at // 7 + at * 31 + seed) % 251 for at in range(size))
        return (title + body)[:size]

    return st.builds(
        image,
        st.sampled_from(tuple(sizes)),
        st.integers(0, 250),
        st.text("ABCDEFGHIJKLMNOPQRSTUVWXYZ ", max_size=8).map(str.encode),
    )


def saves(damage: str | None = None, *, now: int = NOW) -> st.SearchStrategy[bytes]:
    """The bytes of saves: a memory image with a block after it, healthy, or damaged in one way.

    `damage` is a code of `DAMAGES`: `examine` finds it in what is drawn. They are judged by `now`.
    """
    if damage is None:
        return st.builds(
            lambda memory, block: dumps(SaveFile(memory=memory, block=block)),
            _images(),
            blocks(("block48", "block44"), now=now),
        )
    if damage not in DAMAGES:
        raise BadArgument("unknown damage", found=shown(damage), expected=", ".join(DAMAGES))
    made = DAMAGES[damage]
    return st.builds(
        lambda memory, block, chance: made(memory, block, chance, now),
        _images((2_048, 8_192)),
        blocks(("block48",), now=now),
        st.integers(0, 255),
    )


_Damage = Callable[[bytes, ClockBlock, int, int], bytes]


def _with_word(at: int, change: Callable[[int, int], int]) -> _Damage:
    """Damage to one of the ten words: what becomes of it, by chance."""

    def damage(memory: bytes, block: ClockBlock, chance: int, now: int) -> bytes:
        words = list(struct.unpack("<10Iq", block.raw))
        words[at] = change(words[at], chance)
        return memory + struct.pack("<10Iq", *words)

    return damage


def _with_stamp(change: Callable[[int, int, int], int]) -> _Damage:
    def damage(memory: bytes, block: ClockBlock, chance: int, now: int) -> bytes:
        stamp = change(block.stamp or 0, chance, now) & 0xFFFF_FFFF_FFFF_FFFF
        return memory + block.raw[:40] + stamp.to_bytes(8, "little")

    return damage


def _second_block(block: ClockBlock, seconds: int) -> bytes:
    later = block.with_clock(block.running.advance(seconds))
    return later.with_stamp((block.usable_unix_s or 0) - 1).raw


def _other_order(stamp: int, chance: int, now: int) -> int:
    """A stamp in the other byte order, of which no other reading gives a plausible date."""
    while True:
        swapped = int.from_bytes(stamp.to_bytes(8, "little"), "big", signed=True)
        judged = judge(swapped, UNIX_64, now)
        if judged is not None and judged.code == "stamp-byte-order":
            return swapped
        stamp -= 1


def _latched_ahead(seconds: int) -> _Damage:
    def damage(memory: bytes, block: ClockBlock, chance: int, now: int) -> bytes:
        later = block.running.advance(seconds + chance)
        return memory + block.with_clock(later, "latched").raw

    return damage


def _overflowed_since(memory: bytes, block: ClockBlock, chance: int, now: int) -> bytes:
    late = CounterClock.from_seconds(COUNTER_PERIOD_S - 1 - chance)
    old = block.with_clock(late).with_clock(late, "latched").with_stamp(now - 40 * DAY_S)
    return memory + old.raw


def _stripes(memory: bytes, block: ClockBlock, chance: int, now: int) -> bytes:
    width = 16 << chance % 3
    stripe = bytes(width) + b"\xff" * width
    return (stripe * (len(memory) // len(stripe) + 1))[: len(memory)] + block.raw


def _line_endings(memory: bytes, block: ClockBlock, chance: int, now: int) -> bytes:
    whole = bytearray(memory + block.raw)
    for at in (3, 10, 20 + chance):
        whole[at] = 0x0A
    return bytes(whole).replace(b"\r", b"\x0e").replace(b"\n", b"\r\n")


DAMAGES: Final[Mapping[str, _Damage]] = MappingProxyType(
    {
        "wrapped-compressed": lambda memory, block, chance, now: gzip.compress(
            memory + block.raw, mtime=0
        ),
        "wrapped-line-endings": _line_endings,
        "block-doubled": lambda memory, block, chance, now: (
            memory + _second_block(block, 0) + block.raw
        ),
        "block-inside": lambda memory, block, chance, now: (memory[:512] + block.raw).ljust(
            len(memory), b"\xff"
        ),
        "block-cut-short": lambda memory, block, chance, now: (
            memory + block.raw[: 20 + chance % 20]
        ),
        "block-unreadable": lambda memory, block, chance, now: (
            memory + bytes(0x80 | at * 37 + chance & 0x7F for at in range(48))
        ),
        "memory-mirrored": lambda memory, block, chance, now: memory[:2_048] * 4 + block.raw,
        "memory-blank": lambda memory, block, chance, now: (
            (b"\xff" if chance % 2 else b"\0") * len(memory) + block.raw
        ),
        "memory-power-up": _stripes,
        "register-stray-bits": _with_word(0, lambda word, chance: word | 0x40 << chance % 26),
        "register-past-range": _with_word(1, lambda word, chance: 60 + chance % 4),
        "register-halted": _with_word(4, lambda word, chance: word | 0x40),
        "register-carry": _with_word(4, lambda word, chance: word | 0x80),
        "register-overflow-since-stamp": _overflowed_since,
        "latched-past-range": _with_word(6, lambda word, chance: 60 + chance % 4),
        "latched-zero": lambda memory, block, chance, now: (
            memory + block.raw[:20] + bytes(20) + block.raw[40:]
        ),
        "latched-exchanged": _latched_ahead(1),
        "latched-later": _latched_ahead(DAY_S),
        "stamp-absent": _with_stamp(lambda stamp, chance, now: -1 if chance % 2 else 0),
        "stamp-milliseconds": _with_stamp(lambda stamp, chance, now: stamp * 1000 + chance),
        "stamp-upper-half": _with_stamp(lambda stamp, chance, now: stamp | (0x4000 + chance) << 48),
        "stamp-byte-order": _with_stamp(_other_order),
        "stamp-other-epoch": _with_stamp(lambda stamp, chance, now: stamp * 1_000_000 + chance),
        "stamp-local-time": _with_stamp(lambda stamp, chance, now: now + HOUR_S + chance),
        "stamp-future": _with_stamp(lambda stamp, chance, now: now + 30 * DAY_S + chance * DAY_S),
        "stamp-early": _with_stamp(lambda stamp, chance, now: EARLIEST_USABLE_S // 2 + chance),
        "stamp-unrepresentable": _with_stamp(lambda stamp, chance, now: 2**55 + 2**31 + chance),
    }
)
"""The ways to damage a save, by the code of the finding that `examine` then has."""
