"""Faults of the clock block as a whole."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from rtcsave.errors import number_of
from rtcsave.findings.entry import Fault, Scene, Sighting
from rtcsave.layouts import ClockBlock, Layout, Place
from rtcsave.layouts.detection import (
    block_layouts,
    convincing,
    cut_short,
    fits_whole,
    has_plausible_stamp,
    likeliest,
)
from rtcsave.layouts.fields import LARGEST_BLOCK
from rtcsave.savefile import SaveFile
from rtcsave.units import MEMORY_SIZES_BYTES
from rtcsave.when import rfc3339


def _rest(scene: Scene) -> tuple[Place, bytes, ClockBlock | None] | None:
    """Where a cut-off block begins, what is left of it, and that filled up with zeros to a block
    if its running registers are all there."""
    place = None if scene.save is not None else cut_short(scene.data, scene.also)
    if place is None or fits_whole(scene.data, scene.also):
        return None
    left = scene.data[place.memory_bytes :]
    if any(one.end > len(left) for one in place.layout.part("running")):
        return place, left, None
    raw = left.ljust(place.layout.size, b"\0")
    return place, left, ClockBlock(layout=place.layout, raw=raw)


def _see_cut(scene: Scene) -> Iterator[Sighting]:
    rest = _rest(scene)
    if rest is None:
        return
    place, left, block = rest
    whole = sum(one.end <= len(left) for one in place.layout.fields)
    seen, of = number_of(len(left), "byte"), len(place.layout.fields)
    said = ""
    if block is not None:
        said = f"; the running registers are whole and read {block.running.reading()}"
        if any(one.end > len(left) for one in place.layout.part("latched")):
            said += ", the latched ones are not and would become the running ones"
        said += f"; taken to have been {place.layout.name}"
    yield Sighting(
        message=f"the clock block breaks off after {seen}{said}",
        offset=place.memory_bytes,
        found=f"{seen}: {number_of(whole, 'whole word')} of {of}",
        expected=f"{place.layout.size} bytes",
    )


def _complete(scene: Scene) -> SaveFile | None:
    """The block made whole: latched as running where that was cut, the stamp absent or as said."""
    rest = _rest(scene)
    if rest is None:
        return None
    place, left, block = rest
    if block is None:
        return None
    if any(one.end > len(left) for one in place.layout.part("latched")):
        block = block.with_clock(block.running, "latched")
    return SaveFile(
        memory=scene.data[: place.memory_bytes], block=block.with_stamp(scene.saved_at_s)
    )


MOST_BLOCKS: Final = 4
"""How many blocks behind each other are still taken for such: a program that appends one more at
every save is noticed long before."""


def _stacked_blocks(scene: Scene) -> tuple[int, tuple[ClockBlock, ...]] | None:
    """Where two to four blocks lie behind each other at the end of a file that is no save otherwise.

    They may be of different layouts and have stray bits, but none is all zeros. Where they can be
    told apart in several ways, the one is right in which the most words fit.
    """
    if scene.save is not None:
        return None
    found = [
        (at, row)
        for at in (0, *MEMORY_SIZES_BYTES)
        for row in _rows_of_blocks(scene.data[at:], scene)
        if len(row) > 1
    ]
    return max(found, key=lambda one: _how_well(one[1], scene.now_s), default=None)


def _how_well(row: tuple[ClockBlock, ...], now_s: int) -> tuple[float, float]:
    """The share of the blocks in which every word fits, and of those with a plausible stamp."""
    fitting = sum(one.layout.fits(one.raw) for one in row)
    return fitting / len(row), sum(has_plausible_stamp(one, now_s) for one in row) / len(row)


def _rows_of_blocks(
    data: bytes, scene: Scene, left: int = MOST_BLOCKS
) -> Iterator[tuple[ClockBlock, ...]]:
    """Every row of blocks that the bytes can be read as, to their last byte."""
    if not data:
        yield ()
    if not data or len(data) > left * LARGEST_BLOCK:
        return
    layouts = block_layouts(scene.also)
    for size in sorted({one.size for one in layouts}, reverse=True):
        raw = data[:size]
        first = likeliest(raw, layouts, scene.now_s) if left and any(raw) else None
        if first is not None:
            for rest in _rows_of_blocks(data[size:], scene, left - 1):
                yield (first, *rest)


def _see_doubled(scene: Scene) -> Iterator[Sighting]:
    found = _stacked_blocks(scene)
    if found is None:
        return
    at, row = found
    stamps = ", ".join(rfc3339(one.usable_unix_s) or "no usable stamp" for one in row)
    more = "a second clock block stands" if len(row) == 2 else f"{len(row) - 1} more blocks stand"
    layouts = " and ".join(dict.fromkeys(one.layout.name for one in row))
    yield Sighting(
        message=f"{more} behind the first (stamps, in order: {stamps})",
        offset=at + row[0].layout.size,
        found=f"{len(row)} blocks of layout {layouts}",
        expected="one",
    )


def _youngest(row: tuple[ClockBlock, ...], now_s: int) -> ClockBlock | None:
    """The youngest of some blocks; None unless every stamp is plausible and one is the latest."""
    if not all(has_plausible_stamp(one, now_s) for one in row):
        return None
    *_, before, last = sorted(row, key=lambda one: one.saved_unix_s or 0)
    return None if before.saved_unix_s == last.saved_unix_s else last


def _youngest_known(scene: Scene) -> bool:
    found = _stacked_blocks(scene)
    return found is not None and _youngest(found[1], scene.now_s) is not None


def _keep_youngest(scene: Scene) -> SaveFile | None:
    found = _stacked_blocks(scene)
    if found is None:
        return None
    at, row = found
    kept = row[0] if len(set(row)) == 1 else _youngest(row, scene.now_s)
    return None if kept is None else SaveFile(memory=scene.data[:at], block=kept)


def _block_inside(scene: Scene) -> SaveFile | None:
    """The image and the block in the middle of an image that was padded behind it.

    Another block may stand behind the padding, of a program that took it for memory.
    """
    data = scene.data if scene.save is None or scene.block is None else scene.save.memory
    layouts = block_layouts(scene.also)
    for at in MEMORY_SIZES_BYTES:
        for layout in layouts if at < len(data) else ():
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
        for longer in block_layouts(scene.also)
    )


def _without_padding(scene: Scene) -> SaveFile | None:
    """The image with its block, or with the one behind the padding where that is the younger."""
    found = _block_inside(scene)
    if found is None or found.block is None or scene.block is None:
        return found
    kept = _youngest((found.block, scene.block), scene.now_s)
    return None if kept is None else found.with_block(kept)


def _see_inside(scene: Scene) -> Iterator[Sighting]:
    found = _block_inside(scene)
    if found is None or found.block is None:
        return
    at, size = len(found.memory), found.block.layout.size
    rest = scene.data[at + size :]
    if scene.save is not None and scene.block is not None:
        rest = scene.save.memory[at + size :]
    yield Sighting(
        message="a clock block stands in the middle, and only padding behind it: an image of "
        f"{at} bytes was padded after its block was appended",
        offset=at,
        found=f"a block of layout {found.block.layout.name}, then {len(rest)} bytes of {rest[0]:02X}h",
        expected=f"{at + size} bytes",
    )


def _see_checksum(scene: Scene) -> Iterator[Sighting]:
    block = scene.block
    if block is None or not block.layout.checksum_wrong(block.raw):
        return
    (one,) = block.layout.part("checksum")
    right = block.layout.checksum_of(block.raw)
    assert right is not None
    yield Sighting(
        message="the block's checksum is wrong: a byte of it was changed by something that does not "
        "know of it, or damaged",
        offset=scene.block_offset + one.offset,
        found=block.raw[one.offset : one.end].hex(" "),
        expected=right.hex(" "),
    )


def _sum_again(scene: Scene) -> SaveFile | None:
    if scene.save is None or scene.block is None:
        return None
    layout = scene.block.layout
    return scene.save.with_block(
        ClockBlock(layout=layout, raw=layout.with_checksum(scene.block.raw))
    )


def _see_constant(scene: Scene) -> Iterator[Sighting]:
    block = scene.block
    if block is None:
        return
    for one in block.layout.wrong_constants(block.raw):
        yield Sighting(
            message=f"{one.name} is not what it always is",
            offset=scene.block_offset + one.offset,
            found=block.raw[one.offset : one.end].hex(" "),
            expected=one.constant.hex(" "),
        )


def _put_constants(scene: Scene) -> SaveFile | None:
    if scene.save is None or scene.block is None:
        return None
    layout, raw = scene.block.layout, scene.block.raw
    for one in layout.wrong_constants(raw):
        raw = layout.put_word(raw, one, int.from_bytes(one.constant, one.order))
    return scene.save.with_block(ClockBlock(layout=layout, raw=raw))


def _doubt(scene: Scene) -> str:
    sure = scene.header is None or scene.header.checksum_ok
    return "" if sure else " (but the header's checksum is wrong)"


def _see_missing(scene: Scene) -> Iterator[Sighting]:
    header = scene.header
    if scene.save is not None and scene.block is None and header is not None and header.clock:
        yield Sighting(
            message=f"the program's cartridge has a clock, the save has none{_doubt(scene)}",
            offset=len(scene.data),
            found="a memory image alone",
            expected=f"a {header.clock} clock behind it",
        )


def _see_unexpected(scene: Scene) -> Iterator[Sighting]:
    header = scene.header
    if scene.block is not None and header is not None and header.known and header.clock is None:
        yield Sighting(
            message=f"the program's cartridge has no clock, the save has a block{_doubt(scene)}",
            offset=scene.block_offset,
            found=f"a block of layout {scene.block.layout.name}",
            expected=f"no clock (hardware code {header.hardware_code:02X}h)",
        )


def _take_off(scene: Scene) -> SaveFile | None:
    return scene.save.without_block() if scene.save is not None and scene.save.memory else None


def _see_other_kind(scene: Scene) -> Iterator[Sighting]:
    header, block = scene.header, scene.block
    if block is None or header is None or header.clock in (None, block.layout.clock):
        return
    yield Sighting(
        message=f"the save's clock is of another kind than the cartridge's{_doubt(scene)}",
        offset=scene.block_offset,
        found=f"a {block.layout.clock} clock",
        expected=f"a {header.clock} clock",
    )


BLOCK_FAULTS = (
    Fault(
        code="block-doubled",
        severity="error",
        title="a second clock block stands behind the first",
        remedy="'repair' keeps the youngest, where every stamp is plausible and one is the latest; else look "
        "at each (cut the file behind it, on a copy) and keep the one that you know to be right",
        see=_see_doubled,
        mend=_keep_youngest,
        certain=_youngest_known,
    ),
    Fault(
        code="block-inside",
        severity="warning",
        title="a clock block in the middle of a padded image",
        remedy="'repair --also block-inside' cuts the padding off, so that the block is behind the memory",
        see=_see_inside,
        mend=_without_padding,
    ),
    Fault(
        code="block-constant",
        severity="warning",
        title="bytes that the layout says are always the same are others",
        remedy="it may be another layout; if not, 'repair --also block-constant' puts them back",
        see=_see_constant,
        mend=_put_constants,
    ),
    Fault(
        code="block-checksum",
        severity="error",
        title="the block's checksum is wrong",
        remedy="compare with another dump; 'repair --also block-checksum' makes it again over what is there",
        see=_see_checksum,
        mend=_sum_again,
    ),
    Fault(
        code="block-missing",
        severity="warning",
        title="the program's header says that there is a clock, and the save has none",
        remedy="the program that wrote it kept no clock; if it was stripped, restore it",
        see=_see_missing,
    ),
    Fault(
        code="block-unexpected",
        severity="warning",
        title="the program's header says that there is no clock, and the save has a block",
        remedy="'repair --also block-unexpected' takes the block off; check that it is the right "
        "program first",
        see=_see_unexpected,
        mend=_take_off,
    ),
    Fault(
        code="block-other-kind",
        severity="error",
        title="the save's clock is of another kind than the program's header says",
        remedy="check that the save belongs to the program",
        see=_see_other_kind,
    ),
    Fault(
        code="block-cut-short",
        severity="error",
        title="the clock block is cut short",
        remedy="transfer or dump again; failing that 'repair --also block-cut-short' keeps what "
        "can be read, where the running registers are whole",
        see=_see_cut,
        mend=_complete,
    ),
)
