"""Faults of the clock block as a whole."""

from __future__ import annotations

from collections.abc import Iterator

from rtcsave.findings.entry import Fault, Scene, Sighting
from rtcsave.layouts import ClockBlock, Place
from rtcsave.layouts.detection import block_layouts, convincing, cut_short
from rtcsave.savefile import SaveFile
from rtcsave.units import MEMORY_SIZES_BYTES
from rtcsave.when import rfc3339


def _rest(scene: Scene) -> tuple[Place, bytes, ClockBlock | None] | None:
    """Where a cut-off block begins, what is left of it, and that filled up with zeros to a block
    if its running registers are all there."""
    place = None if scene.save is not None else cut_short(scene.data, scene.also)
    if place is None:
        return None
    left = scene.data[place.memory_bytes :]
    if any(one.end > len(left) for one in place.layout.part("running")):
        return place, left, None
    raw = left.ljust(place.layout.size, b"\0")
    return place, left, ClockBlock(layout=place.layout, raw=raw)


def _count(number: int, noun: str) -> str:
    return f"{number} {noun}{'' if number == 1 else 's'}"


def _see_cut(scene: Scene) -> Iterator[Sighting]:
    rest = _rest(scene)
    if rest is None:
        return
    place, left, block = rest
    whole = sum(one.end <= len(left) for one in place.layout.fields)
    seen, of = _count(len(left), "byte"), len(place.layout.fields)
    said = ""
    if block is not None:
        said = f"; the running registers are whole and read {block.running.reading()}"
        if any(one.end > len(left) for one in place.layout.part("latched")):
            said += ", the latched ones are not and would become the running ones"
        said += f"; taken to have been {place.layout.name}"
    yield Sighting(
        message=f"the clock block breaks off after {seen}{said}",
        offset=place.memory_bytes,
        found=f"{seen}: {_count(whole, 'whole word')} of {of}",
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


def _two_blocks(scene: Scene) -> tuple[int, ClockBlock, ClockBlock] | None:
    """Where two blocks lie behind each other at the end of a file that is no save otherwise."""
    if scene.save is not None:
        return None
    for layout in block_layouts(scene.also):
        at = len(scene.data) - 2 * layout.size
        if at != 0 and at not in MEMORY_SIZES_BYTES:
            continue
        first, second = scene.data[at : at + layout.size], scene.data[at + layout.size :]
        if all(layout.fits(raw) and any(raw) for raw in (first, second)):
            a = ClockBlock(layout=layout, raw=first)
            return at, a, ClockBlock(layout=layout, raw=second)
    return None


def _see_doubled(scene: Scene) -> Iterator[Sighting]:
    found = _two_blocks(scene)
    if found is None:
        return
    at, first, second = found
    stamps = [rfc3339(one.usable_unix_s) or "no usable stamp" for one in (first, second)]
    yield Sighting(
        message=f"a second clock block stands behind the first (first: {stamps[0]}, second: {stamps[1]})",
        offset=at + first.layout.size,
        found=f"two blocks of layout {first.layout.name}",
        expected="one",
    )


def _younger_known(scene: Scene) -> bool:
    found = _two_blocks(scene)
    if found is None:
        return False
    stamps = [one.usable_unix_s for one in found[1:]]
    return None not in stamps and stamps[0] != stamps[1]


def _keep_younger(scene: Scene) -> SaveFile | None:
    found = _two_blocks(scene)
    if found is None:
        return None
    at, first, second = found
    a, b = first.usable_unix_s, second.usable_unix_s
    if first != second and (a is None or b is None or a == b):
        return None  # nobody knows which is the younger
    kept = second if a is not None and b is not None and b > a else first
    return SaveFile(memory=scene.data[:at], block=kept)


def _block_inside(scene: Scene) -> SaveFile | None:
    """The image and the block in the middle of an image that was padded behind it."""
    if scene.save is not None and scene.save.block is not None:
        return None
    data = scene.data
    for at in MEMORY_SIZES_BYTES:
        for layout in block_layouts(scene.also):
            raw, rest = data[at : at + layout.size], data[at + layout.size :]
            if rest and rest.count(rest[:1]) == len(rest) and convincing(raw, layout, scene.now_s):
                return SaveFile(memory=data[:at], block=ClockBlock(layout=layout, raw=raw))
    return None


def _see_inside(scene: Scene) -> Iterator[Sighting]:
    found = _block_inside(scene)
    if found is None or found.block is None:
        return
    at, size = len(found.memory), found.block.layout.size
    rest = scene.data[at + size :]
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
        remedy="'repair' keeps the younger, where both stamps tell which that is",
        see=_see_doubled,
        mend=_keep_younger,
        certain=_younger_known,
    ),
    Fault(
        code="block-inside",
        severity="warning",
        title="a clock block in the middle of a padded image",
        remedy="'repair --also block-inside' cuts the padding off, so that the block is behind the memory",
        see=_see_inside,
        mend=_block_inside,
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
