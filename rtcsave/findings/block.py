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


BLOCK_FAULTS = (
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
