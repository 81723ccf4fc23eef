"""A quick look at a save: whether it is healthy beyond doubt, so that no entry need look at it.

Each function here may say no where the entries would see nothing, and never yes where one would see
something. Tests over random blocks and images hold them to that.
"""

from __future__ import annotations

from typing import Final

from rtcsave.clocks import CalendarClock
from rtcsave.findings.unpowered import looks_unpowered
from rtcsave.layouts import LAYOUTS, ClockBlock
from rtcsave.layouts.codec import codec
from rtcsave.layouts.places import block_layouts
from rtcsave.savefile import SaveFile
from rtcsave.stamps import EARLIEST_USABLE_S, is_absent
from rtcsave.units import MEMORY_SIZES_BYTES

TAIL_BYTES: Final = 208
"""What lies at least after a block in the middle of a padded image: 512 bytes less 256 less 48."""

PIECE_BYTES: Final = 16
"""The bytes before the middle of an image that repeats a smaller one are those before its end."""

_BLOCK_LAYOUTS: Final = block_layouts()
_LONGEST_BLOCK: Final = max(layout.size for layout in _BLOCK_LAYOUTS)


def is_healthy(save: SaveFile, now_s: int) -> bool:
    """Whether no entry would see anything in a save with a block in a built-in layout.

    Without a header; a save without a block, or with a clock of zeros, is not looked at.
    """
    block = save.block
    if block is None or LAYOUTS.get(block.layout.name) is not block.layout:
        return False
    return has_healthy_words(block, now_s) and is_ordinary(save.memory)


def is_ordinary(memory: bytes) -> bool:
    """Whether an image is not blank, mirrored or padded after a block, nor like RAM without power."""
    if not memory:
        return True
    size, tail = len(memory), memory[-TAIL_BYTES:]
    if tail == tail[:1] * len(tail):
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


def _may_be_block(memory: bytes, at: int) -> bool:
    """Whether the words of a block would fit there."""
    return any(codec(layout).fits(memory[at : at + layout.size]) for layout in _BLOCK_LAYOUTS)


def has_healthy_words(block: ClockBlock, now_s: int) -> bool:
    """Whether nothing can be said of the registers and the stamp of a block, and not all are zero."""
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
