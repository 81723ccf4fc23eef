"""Faults of the clock block as a whole."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from rtcsave.errors import number_of
from rtcsave.findings.entry import Fault, Scene, Sighting
from rtcsave.layouts import ClockBlock, Layout, Place
from rtcsave.layouts.detection import (
    convincing,
    count_fitting,
    cut_short,
    fits_whole,
    has_plausible_stamp,
    largest_memory,
    likeliest,
)
from rtcsave.savefile import SaveFile
from rtcsave.units import MEMORY_SIZES_BYTES
from rtcsave.when import rfc3339


def _rest(scene: Scene) -> tuple[Place, bytes, ClockBlock | None] | None:
    """Where a cut-off block begins, what is left of it, and that filled up with zeros to a block
    if its running registers are all there."""
    place = None if scene.save is not None else cut_short(scene.data, scene.layouts)
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
        if any(field.end > len(left) for field in place.layout.part("latched")):
            said += (
                "; the latched registers are not whole: a repair fills them from the running ones"
            )
        said += f"; taken to have been {place.layout.name}"
    yield Sighting(
        message=f"the clock block breaks off after {seen}{said}",
        offset=place.memory_bytes,
        found=f"{seen}: {number_of(whole, 'whole word')} of {of}",
        expected=f"{place.layout.size} bytes",
        remedy=_HOPELESS if block is None and place.memory_bytes else "",
    )


_HOPELESS: Final = (
    "transfer or dump again; not even the running registers are whole, so all that can be kept is the "
    "memory: 'convert --strip' keeps it and drops what is left of the block"
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


class _Rows:
    """The best way to read the end of a file as a row of so many blocks, from any byte on."""

    def __init__(self, data: bytes, layouts: tuple[Layout, ...], now_s: int) -> None:
        self._data = data
        self._layouts = layouts
        self._now_s = now_s
        self._sizes = sorted({layout.size for layout in layouts}, reverse=True)
        self._blocks: dict[tuple[int, int], ClockBlock | None] = {}
        self._best: dict[tuple[int, int], _Row | None] = {}

    def best(self, at: int, count: int) -> _Row | None:
        """The row of `count` blocks from a byte to the end in which most words fit; None if none."""
        key = (at, count)
        if key not in self._best:
            rows = (self._row(at, count, size) for size in self._sizes)
            self._best[key] = max(
                (row for row in rows if row is not None), key=lambda row: row[:2], default=None
            )
        return self._best[key]

    def _row(self, at: int, count: int, size: int) -> _Row | None:
        """The best row whose first block has that size."""
        left = len(self._data) - at - size
        least, most = (count - 1) * self._sizes[-1], (count - 1) * self._sizes[0]
        if not least <= left <= most:
            return None
        rest = self.best(at + size, count - 1) if count > 1 else (0, 0, ())
        if rest is None:
            return None
        first = self._block(at, size)
        if first is None:
            return None
        fits = first.layout.fits(first.raw)
        plausible = has_plausible_stamp(first, self._now_s)
        return fits + rest[0], plausible + rest[1], (first, *rest[2])

    def _block(self, at: int, size: int) -> ClockBlock | None:
        """The block that some bytes are most likely, None for zeros and for what is no block."""
        key = (at, size)
        if key not in self._blocks:
            raw = self._data[at : at + size]
            found = likeliest(raw, self._layouts, self._now_s) if any(raw) else None
            self._blocks[key] = found
        return self._blocks[key]


_Row = tuple[int, int, tuple[ClockBlock, ...]]
"""How many of the blocks fit, how many have a plausible stamp, and the blocks."""


def _stacked_blocks(scene: Scene) -> tuple[int, tuple[ClockBlock, ...]] | None:
    """Where two to four blocks stand after each other at the end of a file that is no save otherwise.

    They may be of different layouts and have stray bits, but none is all zeros. Where they can be
    told apart in several ways, the one is right in which the most words fit; of equal ones the one
    that leaves the most memory.
    """
    return scene.once(_find_stacked_blocks)


def _find_stacked_blocks(scene: Scene) -> tuple[int, tuple[ClockBlock, ...]] | None:
    if scene.save is not None or not scene.layouts:
        return None
    rows = _Rows(scene.data, scene.layouts, scene.now_s)
    best: tuple[float, float] | None = None
    found: tuple[int, tuple[ClockBlock, ...]] | None = None
    for at in (*reversed(MEMORY_SIZES_BYTES), 0):
        for count in range(2, MOST_BLOCKS + 1):
            row = rows.best(at, count) if at < len(scene.data) else None
            if row is None:
                continue
            rank = (row[0] / count, row[1] / count)
            if best is None or rank > best:
                best, found = rank, (at, row[2])
    return found


def _see_doubled(scene: Scene) -> Iterator[Sighting]:
    found = _stacked_blocks(scene)
    if found is None:
        return
    at, row = found
    stamps = ", ".join(rfc3339(one.usable_unix_s) or "no usable stamp" for one in row)
    more = "a second clock block stands" if len(row) == 2 else f"{len(row) - 1} more blocks stand"
    layouts = " and ".join(dict.fromkeys(one.layout.name for one in row))
    yield Sighting(
        message=f"{more} after the first (stamps, in order: {stamps})",
        offset=at + row[0].layout.size,
        found=f"{len(row)} blocks of layout {layouts}",
        expected="one",
    )


def _newest(row: tuple[ClockBlock, ...], now_s: int) -> ClockBlock | None:
    """The newest of some blocks; None unless every stamp is plausible and one is the latest."""
    if not all(has_plausible_stamp(one, now_s) for one in row):
        return None
    *_, before, last = sorted(row, key=lambda one: one.saved_unix_s or 0)
    return None if before.saved_unix_s == last.saved_unix_s else last


def _newest_known(scene: Scene) -> bool:
    found = _stacked_blocks(scene)
    return found is not None and _kept(found[1], scene.now_s) is not None


def _kept(row: tuple[ClockBlock, ...], now_s: int) -> ClockBlock | None:
    """The block to keep: any of identical ones, else the newest."""
    return row[0] if len(set(row)) == 1 else _newest(row, now_s)


def _keep_newest(scene: Scene) -> SaveFile | None:
    found = _stacked_blocks(scene)
    if found is None:
        return None
    at, row = found
    kept = _kept(row, scene.now_s)
    return None if kept is None else SaveFile(memory=scene.data[:at], block=kept)


def _block_inside(scene: Scene) -> SaveFile | None:
    """The image and the block in the middle of an image that was padded after it.

    Another block may stand after the padding, of a tool that took it for memory.
    """
    data = scene.data if scene.save is None or scene.block is None else scene.save.memory
    layouts = scene.layouts
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
        for longer in scene.layouts
    )


def _without_padding(scene: Scene) -> SaveFile | None:
    """The image with its block, or with the one after the padding where that is the newer."""
    found = _block_inside(scene)
    if found is None or found.block is None or scene.block is None:
        return found
    kept = _newest((found.block, scene.block), scene.now_s)
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
        message="a clock block stands in the middle, and only padding after it: an image of "
        f"{at} bytes was padded after its block was appended",
        offset=at,
        found=f"a block of layout {found.block.layout.name}, then {len(rest)} bytes of {rest[0]:02X}h",
        expected=f"{at + size} bytes",
    )


def _unreadable(scene: Scene) -> int:
    """The length of the memory image before bytes that are no clock block; 0 where there is none."""
    if scene.save is not None or fits_whole(scene.data, scene.also):
        return 0
    memory_bytes = largest_memory(len(scene.data))
    tail = len(scene.data) - memory_bytes
    longest = max((layout.size for layout in scene.layouts), default=0)
    return memory_bytes if memory_bytes and 0 < tail <= longest else 0


def _see_unreadable(scene: Scene) -> Iterator[Sighting]:
    at = _unreadable(scene)
    if not at:
        return
    tail = len(scene.data) - at
    found = number_of(tail, "byte")
    best = max(
        (
            count_fitting(scene.data, Place(memory_bytes=at, layout=layout))
            for layout in scene.layouts
            if layout.size == tail
        ),
        default=None,
    )
    if best is not None:
        found += f", in which {best[0]} of {number_of(best[1], 'word')} fit a register"
    yield Sighting(
        message=f"the {number_of(tail, 'byte')} after the memory are no clock block",
        offset=at,
        found=found,
        expected="a clock block, or nothing",
    )


def _drop_unreadable(scene: Scene) -> SaveFile | None:
    at = _unreadable(scene)
    return SaveFile(memory=scene.data[:at]) if at else None


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
        title="a second clock block stands after the first",
        remedy="'repair' keeps the newest, where every stamp is plausible and one is the latest, or one of "
        "identical blocks; else look at each (cut the file after it, on a copy) and keep the one that you "
        "know to be right",
        see=_see_doubled,
        mend=_keep_newest,
        certain=_newest_known,
    ),
    Fault(
        code="block-inside",
        severity="warning",
        title="a clock block in the middle of a padded image",
        remedy="'repair --also block-inside' cuts the padding off, so that the block is after the memory",
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

UNREADABLE_FAULTS = (
    Fault(
        code="block-unreadable",
        severity="error",
        title="the bytes after the memory are no clock block",
        remedy="transfer or dump again; if another tool wrote them, name or describe its layout; failing "
        "that 'repair --also block-unreadable' keeps the memory and drops them, as 'convert --strip' does",
        see=_see_unreadable,
        mend=_drop_unreadable,
    ),
)
"""Looked for last: whatever else is seen in such bytes says more."""
