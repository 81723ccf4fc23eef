"""Where a block could lie in a file, and how well its bytes fit a layout."""

from __future__ import annotations

from functools import lru_cache
from typing import Final, NamedTuple

from rtcsave.layouts.block import ClockBlock
from rtcsave.layouts.builtin import BUILT_IN
from rtcsave.layouts.codec import codec
from rtcsave.layouts.table import Layout
from rtcsave.stamps import is_absent, is_plausible, is_usable
from rtcsave.units import MEMORY_SIZES_BYTES

ENOUGH_FIT: Final = 0.7
"""The share of words that must fit their registers before stray bits count as an oddity of a
block, and not as proof that there is none: seven of ten."""


class Place(NamedTuple):
    """A place where a block of some layout would lie: after so many bytes of memory."""

    memory_bytes: int
    layout: Layout


@lru_cache(maxsize=32)
def places_by_length(also: tuple[Layout, ...] = ()) -> dict[int, tuple[Place, ...]]:
    """For each length of a file that can hold a block: where the block could lie in it."""
    places: dict[int, list[Place]] = {}
    for layout in (*BUILT_IN, *also):
        for memory in (0,) if layout.standalone else (0, *MEMORY_SIZES_BYTES):
            place = Place(memory_bytes=memory, layout=layout)
            places.setdefault(memory + layout.size, []).append(place)
    return {length: tuple(possible) for length, possible in places.items()}


def has_plausible_stamp(block: ClockBlock, now_s: int) -> bool:
    """Whether a block says a date from 1995 to a day past the present."""
    form, stamp = block.layout.stamp, block.stamp
    return form is not None and stamp is not None and is_plausible(stamp, form, now_s)


def stamp_rank(block: ClockBlock, now_s: int) -> int:
    """How well its stamp speaks for a block: 2 for a plausible one, 1 for a usable one, 0 for any other."""
    form, stamp = block.layout.stamp, block.stamp
    if form is None or stamp is None or not is_usable(stamp, form):
        return 0
    return 2 if is_plausible(stamp, form, now_s) else 1


def rivals(block: ClockBlock, also: tuple[Layout, ...] = ()) -> tuple[ClockBlock, ...]:
    """The same bytes in every other layout in which all words fit too and only the stamp reads differently.

    An absent stamp is absent in each of them: there is nothing to choose. Nor is there where constants
    of the layout are evidence that others do not have.
    """
    form, stamp = block.layout.stamp, block.stamp
    if form is None or stamp is None or is_absent(stamp, form):
        return ()
    if not codec(block.layout).fits(block.raw):
        return ()
    others = [
        ClockBlock(layout=layout, raw=block.raw)
        for layout in block_layouts(also)
        if layout.size == block.layout.size and layout != block.layout and layout.stamp is not None
        if bool(layout.part("constant")) == bool(block.layout.part("constant"))
    ]
    return tuple(
        other
        for other in others
        if codec(other.layout).fits(other.raw)
        and (other.running, other.latched) == (block.running, block.latched)
        and other.saved_unix_s != block.saved_unix_s
    )


def fits_whole(data: bytes, also: tuple[Layout, ...] = ()) -> bool:
    """Whether a whole block after memory (or without memory) has this length, and every word fits."""
    return any(
        not place.layout.standalone and codec(place.layout).fits(data[place.memory_bytes :])
        for place in places_by_length(also).get(len(data), ())
    )


def likeliest(raw: bytes, layouts: tuple[Layout, ...], now_s: int) -> ClockBlock | None:
    """The block that some bytes are in one of some layouts: enough words fit, most in that one.

    Where as many fit in several, the first with a plausible stamp is it, or with a usable one, or the first.
    """
    best: tuple[float, int] | None = None
    likeliest_block: ClockBlock | None = None
    for layout in layouts:
        if layout.size != len(raw):
            continue
        fitting, words = count_fitting(raw, Place(memory_bytes=0, layout=layout))
        block = ClockBlock(layout=layout, raw=raw)
        rank = (fitting / words, stamp_rank(block, now_s))
        if fitting >= ENOUGH_FIT * words and (best is None or rank > best):
            best, likeliest_block = rank, block
    return likeliest_block


def mostly_fits(data: bytes, place: Place) -> bool:
    """Whether enough words fit their registers for the layout to be right at all."""
    fitting, words = count_fitting(data, place)
    return fitting >= ENOUGH_FIT * words


def count_fitting(data: bytes, place: Place) -> tuple[int, int]:
    """How many words of a clock fit their registers where a block would lie, of how many."""
    layout, raw = place.layout, data[place.memory_bytes :]
    clock_words = (*layout.part("running"), *layout.part("latched"))
    misfits = {word.name for word, _ in codec(layout).misfits(raw)}
    fitting = sum(
        1
        for word in clock_words
        if word.name not in misfits and not codec(layout).word(raw, word) & ~word.mask
    )
    constants = layout.part("constant")
    fitting += len(constants) - len(codec(layout).wrong_constants(raw))
    return fitting, len(clock_words) + len(constants)


def block_layouts(also: tuple[Layout, ...] = ()) -> tuple[Layout, ...]:
    """The layouts that can follow a memory image."""
    return tuple(layout for layout in (*BUILT_IN, *also) if not layout.standalone)


def convincing(raw: bytes, layout: Layout, now_s: int) -> bool:
    """Whether bytes out of place are a clock block beyond doubt: every word fits its register, not all
    are zero, and the stamp is plausible."""
    if len(raw) != layout.size or not codec(layout).fits(raw) or layout.stamp is None:
        return False
    words = (*layout.part("running"), *layout.part("latched"))
    stamp = codec(layout).stamp_in(raw)
    return (
        any(codec(layout).word(raw, word) for word in words)
        and stamp is not None
        and is_plausible(stamp, layout.stamp, now_s)
    )


def largest_memory(length: int) -> int:
    """The largest memory image that a file of this length can begin with; 0 for none.

    None of the bytes after it can be memory.
    """
    return max((size for size in MEMORY_SIZES_BYTES if size <= length), default=0)
