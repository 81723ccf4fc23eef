"""Which layout a file's bytes are in: by length, then by words; never a guess in silence."""

from __future__ import annotations

from functools import lru_cache
from typing import Final, NamedTuple

from rtcsave.errors import (
    AmbiguousLayout,
    BlockCutShort,
    EmptyFile,
    NotAClockBlock,
    RtcSaveError,
    UnknownLength,
)
from rtcsave.layouts.block import ClockBlock
from rtcsave.layouts.builtin import BUILT_IN
from rtcsave.layouts.codec import codec
from rtcsave.layouts.fields import LARGEST_BLOCK
from rtcsave.layouts.table import Layout
from rtcsave.stamps import is_plausible
from rtcsave.units import MEMORY_SIZES_BYTES
from rtcsave.when import now_or

ENOUGH_FIT: Final = 0.7
"""The share of words that must fit their registers before stray bits count as an oddity of a
block, and not as proof that there is none: seven of ten."""

_CHOOSE: Final = "name the layout (`layout`) if you know it"


class Place(NamedTuple):
    """A place where a block of some layout would lie: behind so many bytes of memory."""

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
    return {length: tuple(found) for length, found in places.items()}


_BUILT_IN_PLACES: Final = places_by_length()


def place_of(data: bytes, also: tuple[Layout, ...], now_s: int | None) -> Place | None:
    """Where the block lies in `data`, or None for a memory image alone.

    Raises the error that says why there is no such place. `now_s` (None: the present) only
    matters where the words read alike in two byte orders.
    """
    places = _BUILT_IN_PLACES if not also else places_by_length(also)
    possible = places.get(len(data))
    if possible is None:
        if len(data) in MEMORY_SIZES_BYTES:
            return None
        raise why_not(data, also)
    fitting = [one for one in possible if codec(one.layout).fits(data[one.memory_bytes :])]
    if len(data) in MEMORY_SIZES_BYTES:  # an image of that size is the likelier: ask for proof
        now = now_or(now_s)
        fitting = [
            one
            for one in fitting
            if one.layout.part("constant") or convincing(data[one.memory_bytes :], one.layout, now)
        ]
        if not fitting:
            return None
    if len(fitting) == 1:
        return fitting[0]
    if len(fitting) > 1:  # constants that are there are evidence that others do not have
        fitting = [one for one in fitting if one.layout.part("constant")] or fitting
        if len(fitting) == 1:
            return fitting[0]
    if not fitting:
        fitting = [one for one in possible if not one.layout.standalone and mostly_fits(data, one)]
        if not fitting:
            if len(data) in MEMORY_SIZES_BYTES:
                return None
            raise why_not(data, also)
        if len(fitting) == 1:
            return fitting[0]
    return _decide(data, fitting, now_s)


def has_plausible_stamp(block: ClockBlock, now_s: int) -> bool:
    """Whether a block says a date from 1995 to a day past the present."""
    form, stamp = block.layout.stamp, block.stamp
    return form is not None and stamp is not None and is_plausible(stamp, form, now_s)


def fits_whole(data: bytes, also: tuple[Layout, ...] = ()) -> bool:
    """Whether the length is that of a whole block, behind memory or alone, and every word fits."""
    return any(
        not one.layout.standalone and codec(one.layout).fits(data[one.memory_bytes :])
        for one in places_by_length(also).get(len(data), ())
    )


def likeliest(raw: bytes, layouts: tuple[Layout, ...], now_s: int) -> ClockBlock | None:
    """The block that some bytes are in one of some layouts: enough words fit, most in that one.

    Where as many fit in several, the first with a plausible stamp is it, or the first.
    """
    best: tuple[float, bool] | None = None
    found: ClockBlock | None = None
    for layout in layouts:
        if layout.size != len(raw):
            continue
        fitting, words = count_fitting(raw, Place(memory_bytes=0, layout=layout))
        block = ClockBlock(layout=layout, raw=raw)
        rank = (fitting / words, has_plausible_stamp(block, now_s))
        if fitting >= ENOUGH_FIT * words and (best is None or rank > best):
            best, found = rank, block
    return found


def mostly_fits(data: bytes, place: Place) -> bool:
    """Whether enough words fit their registers for the layout to be right at all."""
    fitting, words = count_fitting(data, place)
    return fitting >= ENOUGH_FIT * words


def count_fitting(data: bytes, place: Place) -> tuple[int, int]:
    """How many words of a clock fit their registers where a block would lie, of how many."""
    layout, raw = place.layout, data[place.memory_bytes :]
    clock_words = (*layout.part("running"), *layout.part("latched"))
    fitting = sum(1 for one in clock_words if not codec(layout).word(raw, one) & ~one.mask)
    bad = {one.name for one, _ in codec(layout).misfits(raw)}
    fitting -= sum(
        1 for one in clock_words if one.name in bad and not codec(layout).word(raw, one) & ~one.mask
    )
    constants = layout.part("constant")
    fitting += len(constants) - len(codec(layout).wrong_constants(raw))
    return fitting, len(clock_words) + len(constants)


def _decide(data: bytes, places: list[Place], now_s: int | None) -> Place:
    """Choose between layouts whose words all fit: by the stamp, else only if nothing differs."""
    present = now_or(now_s)
    blocks = [ClockBlock(layout=one.layout, raw=data[one.memory_bytes :]) for one in places]
    plausible = [
        place
        for place, block in zip(places, blocks, strict=True)
        if has_plausible_stamp(block, present)
    ]
    if len(plausible) == 1:
        return plausible[0]
    first = blocks[0]
    if all(_read_alike(first, other) for other in blocks[1:]):
        return places[0]
    names = [one.layout.name for one in places]
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


def _fits_so_far(tail: bytes, layout: Layout) -> bool:
    """Whether what a cut-off block still has fits its layout, and a whole word of it is there."""
    for one in layout.fields:
        held = tail[one.offset : one.end]
        if one.part == "constant" and not one.constant.startswith(held):
            return False
        if int.from_bytes(held.ljust(one.size, b"\0"), one.order) & ~one.mask:
            return False
    return any(one.end <= len(tail) for one in layout.part("running"))


def block_layouts(also: tuple[Layout, ...] = ()) -> tuple[Layout, ...]:
    """The layouts that can stand after a memory image."""
    return tuple(one for one in (*BUILT_IN, *also) if not one.standalone)


def convincing(raw: bytes, layout: Layout, now_s: int) -> bool:
    """Whether bytes out of place are a clock block beyond doubt: every word fits its register, not all
    are zero, and the stamp is plausible."""
    if len(raw) != layout.size or not codec(layout).fits(raw) or layout.stamp is None:
        return False
    words = (*layout.part("running"), *layout.part("latched"))
    stamp = codec(layout).stamp_in(raw)
    return (
        any(codec(layout).word(raw, one) for one in words)
        and stamp is not None
        and is_plausible(stamp, layout.stamp, now_s)
    )


def largest_memory(length: int) -> int:
    """The largest memory image that a file of this length can begin with; 0 for none.

    None of the bytes after it can be memory.
    """
    return max((size for size in MEMORY_SIZES_BYTES if size <= length), default=0)


def cut_short(data: bytes, layouts: tuple[Layout, ...]) -> Place | None:
    """Where a block begins that the end of the file cuts off, if what is there looks like one.

    After a memory image a few bytes are enough; a standalone one must have a whole clock in it.
    """
    for layout in layouts:
        for memory in (0, *MEMORY_SIZES_BYTES):
            tail = data[memory:]
            if not (0 < len(data) - memory < layout.size) or not _fits_so_far(tail, layout):
                continue
            whole = all(one.end <= len(tail) for one in layout.part("running"))
            if memory or (whole and any(tail)):
                return Place(memory_bytes=memory, layout=layout)
    return None


def why_not(data: bytes, also: tuple[Layout, ...] = ()) -> RtcSaveError:
    """The error that says why bytes of this length, or these bytes, are no save."""
    length = len(data)
    sizes = ", ".join(f"{size}" for size in MEMORY_SIZES_BYTES)
    if not data:
        return EmptyFile(
            "the file is empty",
            found="0 bytes",
            expected="a memory image, an image with a clock block, or a clock block",
            remedy="dump it again, or restore a backup",
        )
    possible = places_by_length(also).get(length)
    cut = cut_short(data, block_layouts(also))
    if possible is not None and (cut is None or not all(one.layout.standalone for one in possible)):
        best = max(possible, key=lambda one: count_fitting(data, one)[0])
        fitting, words = count_fitting(data, best)
        size, at = best.layout.size, best.memory_bytes
        behind = f"the {size} bytes behind the memory" if at else f"these {size} bytes"
        return NotAClockBlock(
            f"{behind} are no clock block",
            where=f"byte {at}",
            found=f"{fitting} of {words} words that fit a register, read as {best.layout.name}",
            expected=f"{words} of {words} (a block with stray bits still has {ENOUGH_FIT:.0%})",
            remedy=_CHOOSE,
        )
    if cut is not None:
        whole = " or ".join(
            str(one)
            for one in sorted({layout.size for layout in block_layouts(also)})
            if one > length - cut.memory_bytes
        )
        return BlockCutShort(
            "the clock block is cut short",
            where=f"byte {cut.memory_bytes}",
            found=f"{length - cut.memory_bytes} bytes behind {cut.memory_bytes} bytes of memory",
            expected=f"a block of {whole} bytes",
            remedy="transfer or dump the file again; `examine` says what can still be read",
        )
    rests = [length - size for size in MEMORY_SIZES_BYTES if 0 < length - size <= LARGEST_BLOCK]
    found = f"{length} bytes"
    remedy = "if the file is sound, name or describe its layout (`layout`, `describe`)"
    if rests:
        found += f", {rests[-1]} of them behind {length - rests[-1]} bytes of memory"
        remedy = "perhaps a block that is not known here: " + remedy
    return UnknownLength(
        "no save has this length",
        found=found,
        expected=f"a memory image of {sizes} bytes, alone or with a block of 44 or 48 bytes behind "
        "it, or a block alone",
        remedy=remedy,
    )


def place_given(data: bytes, layout: Layout) -> Place:
    """Where a block of the layout that the caller named lies: any bytes of a fitting length."""
    memory = len(data) - layout.size
    if memory == 0 or (memory in MEMORY_SIZES_BYTES and not layout.standalone):
        return Place(memory_bytes=memory, layout=layout)
    if not data:
        raise why_not(data)
    if layout.standalone:
        expected = f"exactly {layout.size} bytes"
    else:
        expected = f"{layout.size} bytes, alone or behind a memory image"
    remedy = "name another layout, or none"
    if len(data) in MEMORY_SIZES_BYTES:
        remedy = "this length is a memory image alone: leave the layout out to read it"
    raise UnknownLength(
        f"the length does not fit layout {layout.name}",
        found=f"{len(data)} bytes",
        expected=expected,
        remedy=remedy,
    )
