"""Blocks that are not where they should be, cut off, or beyond reading."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from rtcsave.errors import number_of
from rtcsave.findings.duplicates import newest
from rtcsave.findings.entry import FindingKind, Sighting
from rtcsave.findings.scene import Scene
from rtcsave.findings.unpowered import is_blank
from rtcsave.layouts import ClockBlock, Layout, Place
from rtcsave.layouts.places import convincing, count_fitting, fits_whole, largest_memory
from rtcsave.layouts.refusals import cut_short
from rtcsave.savefile import SaveFile
from rtcsave.units import MEMORY_SIZES_BYTES


def _rest(scene: Scene) -> tuple[Place, bytes, ClockBlock | None] | None:
    """Where a cut-off block begins, what is left of it, and that filled up with zeros to a block
    if its running registers are all there."""
    place = None if scene.save is not None else cut_short(scene.data, scene.layouts)
    if len(scene.data) in MEMORY_SIZES_BYTES:
        return None  # an image of that size is the likelier
    if place is None or fits_whole(scene.data, scene.also):
        return None
    left = scene.data[place.memory_bytes :]
    if any(word.end > len(left) for word in place.layout.part("running")):
        return place, left, None
    raw = left.ljust(place.layout.size, b"\0")
    return place, left, ClockBlock(layout=place.layout, raw=raw)


def _see_cut(scene: Scene) -> Iterator[Sighting]:
    rest = _rest(scene)
    if rest is None:
        return
    place, left, block = rest
    whole = sum(word.end <= len(left) for word in place.layout.fields)
    seen, of = number_of(len(left), "byte"), len(place.layout.fields)
    said = ""
    if block is not None:
        said = f"; the running registers are whole and read {block.running.reading()}"
        if any(word.end > len(left) for word in place.layout.part("latched")):
            said += (
                "; the latched registers are not whole: a repair fills them from the running ones"
            )
        said += f"; taken to have been {place.layout.name}"
    yield Sighting(
        message=f"the clock block breaks off after {seen}{said}",
        offset=place.memory_bytes,
        found=f"{seen}: {number_of(whole, 'whole word')} of {of}",
        expected=number_of(place.layout.size, "byte"),
        remedy=_HOPELESS if block is None and place.memory_bytes else "",
    )


_HOPELESS: Final = (
    "transfer or dump again; not even the running registers are whole, so all that can be kept is the "
    "memory: `without_block` keeps it and drops what is left of the block"
)


def _complete(scene: Scene) -> SaveFile | None:
    """The block made whole: latched as running where that was cut, the stamp absent or as said."""
    rest = _rest(scene)
    if rest is None:
        return None
    place, left, block = rest
    if block is None:
        return None
    if any(word.end > len(left) for word in place.layout.part("latched")):
        block = block.with_clock(block.running, "latched")
    return SaveFile(
        memory=scene.data[: place.memory_bytes], block=block.with_stamp(scene.saved_at_s)
    )


def _block_inside(scene: Scene) -> SaveFile | None:
    """The image and the block in the middle of an image that was padded after it.

    Another block may follow the padding, of a tool that took the padding for memory.
    """
    data = scene.data if scene.block is None else scene.block.save.memory
    layouts = scene.layouts
    ends_alike = data[-2:-1] == data[-1:]  # else nothing longer than a byte can be padding
    for at in MEMORY_SIZES_BYTES:
        for layout in layouts if at < len(data) else ():
            if not ends_alike and len(data) - at - layout.size > 1:
                continue
            raw = data[at : at + layout.size]
            if not convincing(raw, layout, scene.now_s):
                continue
            rest = data[at + layout.size :]
            padded = rest != b"" and rest.count(rest[:1]) == len(rest)
            if padded and not _starts_longer_block(data[at:], layout, scene):
                return SaveFile(memory=data[:at], block=ClockBlock(layout=layout, raw=raw))
    return None


def _starts_longer_block(tail: bytes, layout: Layout, scene: Scene) -> bool:
    """Whether what looks like a block and a few zeros is a longer one, cut off within its stamp."""
    return any(
        layout.size < len(tail) < longer.size
        and convincing(tail.ljust(longer.size, b"\0"), longer, scene.now_s)
        for longer in scene.layouts
    )


def _without_padding(scene: Scene) -> SaveFile | None:
    """The image with its block, or with the one after the padding where that is the newer."""
    inside = _block_inside(scene)
    if inside is None or inside.block is None or scene.block is None:
        return inside
    kept = newest((inside.block, scene.block.block), scene.now_s)
    return None if kept is None else inside.with_block(kept)


def _see_inside(scene: Scene) -> Iterator[Sighting]:
    inside = _block_inside(scene)
    if inside is None or inside.block is None:
        return
    at, size = len(inside.memory), inside.block.layout.size
    data = scene.data if scene.block is None else scene.block.save.memory
    rest = data[at + size :]
    yield Sighting(
        message="a clock block stands in the middle, and only padding after it: an image of "
        f"{at:,} bytes was padded after its block was appended",
        offset=at,
        found=f"a block of layout {inside.block.layout.name}, then {len(rest):,} bytes of {rest[0]:02X}h",
        expected=f"{at + size:,} bytes",
    )


def _unreadable(scene: Scene) -> int:
    """The length of the memory image before bytes that are no clock block; 0 where there is none."""
    if scene.save is not None or fits_whole(scene.data, scene.also):
        return 0
    memory_bytes = largest_memory(len(scene.data))
    tail = len(scene.data) - memory_bytes
    longest = max((layout.size for layout in scene.layouts), default=0)
    blank = is_blank(scene.data[memory_bytes:])
    return memory_bytes if memory_bytes and tail and (tail <= longest or blank) else 0


def _see_unreadable(scene: Scene) -> Iterator[Sighting]:
    at = _unreadable(scene)
    if not at:
        return
    tail = len(scene.data) - at
    tail_words = number_of(tail, "byte")
    best = max(
        (
            count_fitting(scene.data, Place(memory_bytes=at, layout=layout))
            for layout in scene.layouts
            if layout.size == tail
        ),
        default=None,
    )
    if best is not None:
        tail_words += f", in which {best[0]} of {number_of(best[1], 'word')} fit a register"
    yield Sighting(
        message=f"the {number_of(tail, 'byte')} after the memory are no clock block",
        offset=at,
        found=tail_words,
        expected="a clock block, or nothing",
    )


def _drop_unreadable(scene: Scene) -> SaveFile | None:
    at = _unreadable(scene)
    return SaveFile(memory=scene.data[:at]) if at else None


INSIDE = FindingKind(
    code="block-inside",
    severity="warning",
    title="a clock block in the middle of a padded image",
    remedy="`also=block-inside` cuts the padding off, so that the block is after the memory",
    see=_see_inside,
    repairs=_without_padding,
)
CUT_SHORT = FindingKind(
    code="block-cut-short",
    severity="error",
    title="the clock block is cut short",
    remedy="transfer or dump again; failing that `also=block-cut-short` keeps what "
    "can be read, where the running registers are whole",
    see=_see_cut,
    repairs=_complete,
)
UNREADABLE = FindingKind(
    code="block-unreadable",
    severity="error",
    title="the bytes after the memory are no clock block",
    remedy="transfer or dump again; if another tool wrote them, name or describe its layout; failing "
    "that `also=block-unreadable` keeps the memory and drops them, as `without_block` does",
    see=_see_unreadable,
    repairs=_drop_unreadable,
)
"""Looked for last: whatever else is seen in such bytes says more."""
