"""Faults of the clock block as a whole."""

from __future__ import annotations

from collections.abc import Iterator

from rtcsave.findings.entry import Fault, Scene, Sighting
from rtcsave.layouts import ClockBlock, Place
from rtcsave.layouts.detection import cut_short
from rtcsave.savefile import SaveFile


def _rest(scene: Scene) -> tuple[Place, bytes, ClockBlock | None] | None:
    """Where a cut-off block begins, what is left of it, and that filled up with zeros to a block
    if its running registers are all there."""
    place = None if scene.save is not None else cut_short(scene.data)
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
