"""Why bytes are no save: the errors that say so, each with the next step."""

from __future__ import annotations

from typing import Final

from rtcsave.errors import (
    BlockCutShort,
    EmptyFile,
    FileFault,
    NotAClockBlock,
    UnknownLength,
    number_of,
)
from rtcsave.layouts.fields import LARGEST_BLOCK
from rtcsave.layouts.places import ENOUGH_FIT, Place, block_layouts, count_fitting, places_by_length
from rtcsave.layouts.table import Layout
from rtcsave.units import MEMORY_SIZES_BYTES

_CHOOSE: Final = "name the layout (`layout`) if you know it"


def _fits_so_far(tail: bytes, layout: Layout) -> bool:
    """Whether what a cut-off block still has fits its layout, and a whole word of it is there."""
    for word in layout.fields:
        stored = tail[word.offset : word.end]
        if word.part == "constant" and not word.constant.startswith(stored):
            return False
        if int.from_bytes(stored.ljust(word.size, b"\0"), word.order) & ~word.mask:
            return False
    return any(word.end <= len(tail) for word in layout.part("running"))


def cut_short(data: bytes, layouts: tuple[Layout, ...]) -> Place | None:
    """Where a block begins that the end of the file cuts off, if what is there looks like one.

    After a memory image a few bytes are enough; a standalone one must have a whole clock in it.
    """
    for layout in layouts:
        for memory in (0, *MEMORY_SIZES_BYTES):
            tail = data[memory:]
            if not (0 < len(data) - memory < layout.size) or not _fits_so_far(tail, layout):
                continue
            whole = all(word.end <= len(tail) for word in layout.part("running"))
            if memory or (whole and any(tail)):
                return Place(memory_bytes=memory, layout=layout)
    return None


def why_not(data: bytes, also: tuple[Layout, ...] = ()) -> FileFault:
    """The error that says why bytes of this length, or these bytes, are no save."""
    if not data:
        return EmptyFile(
            "the file is empty",
            found="0 bytes",
            expected="a memory image, an image with a clock block, or a clock block",
            remedy="dump it again, or restore a backup",
        )
    possible = places_by_length(also).get(len(data))
    cut = cut_short(data, block_layouts(also))
    if possible is not None and (cut is None or not all(p.layout.standalone for p in possible)):
        return _no_block(data, possible)
    return _unknown_length(len(data)) if cut is None else _cut(data, cut, also)


def _no_block(data: bytes, possible: tuple[Place, ...]) -> NotAClockBlock:
    """The error for bytes where a block would be, in which too few words fit."""
    best = max(possible, key=lambda place: count_fitting(data, place)[0])
    fitting, words = count_fitting(data, best)
    size, at = best.layout.size, best.memory_bytes
    which = f"the {size:,} bytes after the memory" if at else f"these {size:,} bytes"
    return NotAClockBlock(
        f"{which} are no clock block",
        where=f"byte {at}",
        found=f"{fitting} of {words} words that fit a register, read as {best.layout.name}",
        expected=f"{words} of {words} (a block with stray bits still has {ENOUGH_FIT:.0%})",
        remedy=_CHOOSE,
    )


def _cut(data: bytes, cut: Place, also: tuple[Layout, ...]) -> BlockCutShort:
    """The error for a block that the end of the file cuts off."""
    left = len(data) - cut.memory_bytes
    sizes = sorted({layout.size for layout in block_layouts(also) if layout.size > left})
    return BlockCutShort(
        "the clock block is cut short",
        where=f"byte {cut.memory_bytes}",
        found=f"{number_of(left, 'byte')} after {cut.memory_bytes:,} bytes of memory",
        expected=f"a block of {' or '.join(map(str, sizes))} bytes",
        remedy="transfer or dump the file again; `examine` says what can still be read",
    )


def _unknown_length(length: int) -> UnknownLength:
    """The error for a length that no save has."""
    least, most = MEMORY_SIZES_BYTES[0], MEMORY_SIZES_BYTES[-1]
    tails = [length - size for size in MEMORY_SIZES_BYTES if 0 < length - size <= LARGEST_BLOCK]
    length_words = number_of(length, "byte")
    remedy = "if the file is sound, name or describe its layout (`layout`, `describe`)"
    if tails:
        length_words += f", {tails[-1]} of them after {length - tails[-1]:,} bytes of memory"
        remedy = "perhaps a block that is not known here: " + remedy
    return UnknownLength(
        "no save has this length",
        found=length_words,
        expected=f"a memory image ({least} to {most:,} bytes), such an image with a clock block after it, "
        "or a standalone block",
        remedy=remedy,
    )
