"""Which layout a file's bytes are in: by length, then by words; never a guess in silence."""

from __future__ import annotations

from functools import lru_cache
from typing import Final

from rtcsave.errors import AmbiguousLayout, UnknownLength
from rtcsave.layouts.block import ClockBlock
from rtcsave.layouts.codec import codec
from rtcsave.layouts.places import (
    Place,
    convincing,
    mostly_fits,
    places_by_length,
    stamp_rank,
)
from rtcsave.layouts.refusals import why_not
from rtcsave.layouts.table import Layout
from rtcsave.units import MEMORY_SIZES_BYTES
from rtcsave.when import now_or

_BUILT_IN_PLACES: Final = places_by_length()


@lru_cache(maxsize=len(_BUILT_IN_PLACES))
def _masks(length: int) -> tuple[int, tuple[tuple[int, Place], ...]]:
    """Where a built-in block begins in a file of that length, and each place of one with the mask of
    the bits that no register has there; no place for the length of an image, or of nothing.

    The built-in layouts have no constants, and those of one length have one size.
    """
    places = () if length in MEMORY_SIZES_BYTES else _BUILT_IN_PLACES.get(length, ())
    begin = places[0].memory_bytes if places else 0
    return begin, tuple((codec(place.layout).stray_mask, place) for place in places)


def only_place(data: bytes) -> Place | None:
    """The one place where every word of a built-in block fits: the quick form of `place_of`.

    None where there is none or more than one, which `place_of` decides.
    """
    begin, places = _masks(len(data))
    word = int.from_bytes(data[begin:], "little")
    only = None
    for mask, place in places:
        if not word & mask:
            if only is not None:
                return None
            only = place
    return only


def place_of(data: bytes, also: tuple[Layout, ...], now_s: int | None) -> Place | None:
    """Where the block lies in `data`, or None for a memory image without a block.

    Raises the error that says why there is no such place. `now_s` (None: the present) only
    matters where the words read alike in two byte orders.
    """
    places = _BUILT_IN_PLACES if not also else places_by_length(also)
    possible = places.get(len(data))
    if possible is None:
        if len(data) in MEMORY_SIZES_BYTES:
            return None
        raise why_not(data, also)
    fitting = [place for place in possible if codec(place.layout).fits(data[place.memory_bytes :])]
    if len(data) in MEMORY_SIZES_BYTES:  # an image of that size is the likelier: ask for proof
        now = now_or(now_s)
        fitting = [
            place
            for place in fitting
            if place.layout.part("constant")
            or convincing(data[place.memory_bytes :], place.layout, now)
        ]
        if not fitting:
            return None
    if len(fitting) == 1:
        return fitting[0]
    if len(fitting) > 1:  # constants that are there are evidence that others do not have
        fitting = [place for place in fitting if place.layout.part("constant")] or fitting
        if len(fitting) == 1:
            return fitting[0]
    if not fitting:
        fitting = [
            place for place in possible if not place.layout.standalone and mostly_fits(data, place)
        ]
        if not fitting:
            if len(data) in MEMORY_SIZES_BYTES:
                return None
            raise why_not(data, also)
        if len(fitting) == 1:
            return fitting[0]
    return _decide(data, fitting, now_s)


def _decide(data: bytes, places: list[Place], now_s: int | None) -> Place:
    """Choose between layouts whose words all fit: by the stamp, else only if nothing differs.

    A plausible stamp speaks for its layout more than a usable one, and that more than any other.
    """
    present = now_or(now_s)
    blocks = [ClockBlock(layout=place.layout, raw=data[place.memory_bytes :]) for place in places]
    ranks = [stamp_rank(block, present) for block in blocks]
    if max(ranks) and ranks.count(max(ranks)) == 1:
        return places[ranks.index(max(ranks))]
    first = blocks[0]
    if all(_read_alike(first, other) for other in blocks[1:]):
        return places[0]
    names = [place.layout.name for place in places]
    raise AmbiguousLayout(
        "the clock block reads differently in several layouts, and nothing in it decides",
        where=f"byte {places[0].memory_bytes}",
        found=" or ".join(names),
        expected="exactly one",
        remedy=f"name the right one (`layout`), for example {names[0]}; `candidates` gives the evidence",
    ).with_candidates(names)


def _read_alike(a: ClockBlock, b: ClockBlock) -> bool:
    return (a.running, a.latched, a.saved_unix_s) == (b.running, b.latched, b.saved_unix_s) and (
        a.stamp == b.stamp or a.layout.stamp != b.layout.stamp
    )


def place_given(data: bytes, layout: Layout) -> Place:
    """Where a block of the layout that the caller named lies: any bytes of a fitting length."""
    memory = len(data) - layout.size
    if memory == 0 or (memory in MEMORY_SIZES_BYTES and not layout.standalone):
        return Place(memory_bytes=memory, layout=layout)
    if not data:
        raise why_not(data)
    if layout.standalone:
        expected = f"exactly {layout.size:,} bytes"
    else:
        expected = f"{layout.size:,} bytes, alone or after a memory image"
    remedy = "name another layout, or none"
    if len(data) in MEMORY_SIZES_BYTES:
        remedy = "this length is a memory image alone: leave the layout out to read it"
    raise UnknownLength(
        f"the length does not fit layout {layout.name}",
        found=f"{len(data):,} bytes",
        expected=expected,
        remedy=remedy,
    )
