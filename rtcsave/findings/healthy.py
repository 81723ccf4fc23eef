"""A quick look at a save: whether it is healthy beyond doubt, so that no entry need look at it.

Each function here may say no where the entries would see nothing, and never yes where one would see
something. Tests over random blocks and images hold them to that.
"""

from __future__ import annotations

import struct
from collections.abc import Sequence
from typing import Final

from rtcsave.clocks import CalendarClock, CounterClock
from rtcsave.findings.unpowered import looks_unpowered
from rtcsave.layouts import LAYOUTS, ClockBlock
from rtcsave.layouts.codec import codec
from rtcsave.layouts.places import block_layouts
from rtcsave.savefile import SaveFile
from rtcsave.stamps import EARLIEST_USABLE_S, is_absent
from rtcsave.units import COUNTER_PERIOD_S, DAY_S, HOUR_S, MEMORY_SIZES_BYTES, MINUTE_S

TAIL_BYTES: Final = 208
"""What lies at least after a block in the middle of a padded image: 512 bytes less 256 less 48."""

PIECE_BYTES: Final = 16
"""The bytes before the middle of an image that repeats a smaller one are those before its end."""

TIME_OF_DAY: Final = ("seconds", "minutes", "hours")
_BLOCK_LAYOUTS: Final = block_layouts()
_MANY: Final = TAIL_BYTES - TAIL_BYTES // 5
"""So many bytes at the end of an image that are neither 00h nor FFh tell it from RAM without power."""
_LONGEST_BLOCK: Final = max(layout.size for layout in _BLOCK_LAYOUTS)


def is_healthy(save: SaveFile, now_s: int) -> bool:
    """Whether no entry would see anything in a save with a block in a built-in layout.

    Without a header. Only blocks of ten words and a stamp are looked at, and no clock of zeros.
    """
    block = save.block
    if block is None:
        return False
    reader = _TEN_WORDS_OF.get(id(block.layout))
    if reader is None:
        return False
    return are_healthy_ten_words(reader.unpack(block.raw), now_s) and is_ordinary(save.memory)


def is_ordinary(memory: bytes) -> bool:
    """Whether an image is not blank, mirrored or padded after a block, nor like RAM without power."""
    if not memory:
        return True
    size, tail = len(memory), memory[-TAIL_BYTES:]
    if tail[0] == tail[-1] and tail.count(tail[0]) == len(tail):
        end = len(memory.rstrip(tail[:1]))  # blank, or padded: where the padding begins
        if not end:
            return False
        for at in MEMORY_SIZES_BYTES:
            if at < end <= at + _LONGEST_BLOCK and _may_be_block(memory, at):
                return False
    middle = size >> 1
    if memory[middle - PIECE_BYTES : middle] == tail[-PIECE_BYTES:] and memory.startswith(
        memory[:middle], middle
    ):
        return False
    return not looks_unpowered(memory)


def is_ordinary_by_pieces(tail: bytes, piece: bytes) -> bool:
    """The same of two pieces of an image: its last `TAIL_BYTES` (what is after them does not matter), and
    the `PIECE_BYTES` before its middle.

    In an image that is nearly all like RAM without power, 208 bytes of a game at its very end hide that:
    it is a note, and no more.
    """
    if tail.startswith(piece, TAIL_BYTES - PIECE_BYTES):
        return False
    other = tail[:TAIL_BYTES].replace(b"\x00", b"").replace(b"\xff", b"")
    return len(other) > _MANY and (
        tail[0] != tail[TAIL_BYTES - 1] or other.count(tail[0]) < TAIL_BYTES
    )


def _may_be_block(memory: bytes, at: int) -> bool:
    """Whether the words of a block would fit there."""
    return any(codec(layout).fits(memory[at : at + layout.size]) for layout in _BLOCK_LAYOUTS)


def has_healthy_words(block: ClockBlock, now_s: int) -> bool:
    """Whether nothing can be said of the registers and the stamp of a block, and not all are zero."""
    reader = _TEN_WORDS_OF.get(id(block.layout))
    if reader is not None:
        return are_healthy_ten_words(reader.unpack(block.raw), now_s)
    return _has_healthy_clocks(block, now_s)


def has_healthy_registers(block: ClockBlock) -> bool:
    """Whether nothing can be said of the registers of a built-in block of ten words, whatever its stamp."""
    reader = _TEN_WORDS_OF.get(id(block.layout))
    if reader is None:
        return False
    *registers, _ = reader.unpack(block.raw)
    return are_healthy_ten_words((*registers, EARLIEST_USABLE_S), EARLIEST_USABLE_S)


def are_healthy_ten_words(words: Sequence[int], now_s: int) -> bool:
    """The same of the eleven numbers of a built-in block of ten words and a stamp: the quickest look."""
    s, m, h, low, high, latched_s, latched_m, latched_h, latched_low, latched_high, stamp = words
    if s > _SECONDS or m > _MINUTES or h > _HOURS or low > _DAY_LOW or high > _DAY_HIGH:
        return False  # out of range, stray bits, halt or carry
    if latched_s > _SECONDS or latched_m > _MINUTES or latched_h > _HOURS:
        return False
    if latched_low > _DAY_LOW or latched_high > _DAY_HIGH:
        return False
    running_s = (high << 8 | low) * DAY_S + h * HOUR_S + m * MINUTE_S + s
    latched_s += (latched_high << 8 | latched_low) * DAY_S + latched_h * HOUR_S
    latched_s += latched_m * MINUTE_S
    if not 0 < latched_s <= running_s:
        return False
    return EARLIEST_USABLE_S <= stamp <= now_s < stamp + COUNTER_PERIOD_S - running_s


# The largest words of a clock that is in range and neither halted nor overflowed, from its tables.
_SECONDS, _MINUTES, _HOURS = (
    (field.proper or 0) - 1 for field in CounterClock.FIELDS if field.name in TIME_OF_DAY
)
_DAY_LOW = CounterClock.REGISTERS[3].mask
_DAY_HIGH = CounterClock.REGISTERS[4].bits[0].mask
TEN_WORDS: Final = {
    layout.name: struct.Struct(codec(layout).struct_format or "")
    for layout in _BLOCK_LAYOUTS
    if layout.clock == CounterClock.kind and layout.stamp is not None
}
_TEN_WORDS_OF: Final = {id(LAYOUTS[name]): reader for name, reader in TEN_WORDS.items()}
"""The same by the very built-in layout, which lives as long as the module: no other has its identity."""


def _has_healthy_clocks(block: ClockBlock, now_s: int) -> bool:
    layout, raw = block.layout, block.raw
    words, form = codec(layout), layout.stamp
    if layout.clock == CalendarClock.kind or not words.fits(raw):
        return False
    running = words.running(raw)
    if not running.in_range or running.halted or running.carried:
        return False
    running_s = running.to_seconds()
    if not running_s:
        return False
    latched = words.clock_in(raw, "latched")
    if (
        latched is not None
        and latched != running
        and not (latched.in_range and 0 < latched.to_seconds() <= running_s)
    ):
        return False
    stamp = words.stamp_in(raw)
    if form is None or stamp is None:
        return True
    unix_s = form.to_unix(stamp)
    if not EARLIEST_USABLE_S <= unix_s <= now_s or is_absent(stamp, form):
        return False
    return now_s - unix_s < running.period_s - running_s
