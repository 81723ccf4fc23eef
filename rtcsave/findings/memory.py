"""Findings of the memory image. It is looked at, and repaired only where a step is named."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from rtcsave.findings.entry import FindingKind, Sighting
from rtcsave.findings.remains import INSIDE
from rtcsave.findings.scene import Scene
from rtcsave.findings.unpowered import BLANK, UNPOWERED, is_blank, looks_unpowered
from rtcsave.layouts import ClockBlock
from rtcsave.layouts.places import convincing
from rtcsave.savefile import SaveFile
from rtcsave.units import MEMORY_SIZES_BYTES


def _see_blank(scene: Scene) -> Iterator[Sighting]:
    memory = scene.save.memory if scene.save is not None else b""
    if is_blank(memory):
        yield Sighting(
            message=BLANK,
            offset=0,
            found=f"{len(memory):,} bytes of {memory[0]:02X}h",
            expected="a game's data",
        )


def _see_power_up(scene: Scene) -> Iterator[Sighting]:
    memory = scene.save.memory if scene.save is not None else b""
    if looks_unpowered(memory):
        yield Sighting(
            message=UNPOWERED,
            offset=0,
            found=f"{len(memory):,} bytes, nearly all of them 00h or FFh",
            expected="a game's data",
        )


def _image(scene: Scene) -> tuple[bytes, ClockBlock | None]:
    """The memory image and the block after it, also where that image is of no size one can have."""
    save, data = scene.save, scene.data
    if save is not None:
        return save.memory, save.block
    for layout in scene.layouts:
        raw = data[-layout.size :]
        if len(data) > layout.size and convincing(raw, layout, scene.now_s):
            return data[: -layout.size], ClockBlock(layout=layout, raw=raw)
    return data, None


def _resized(scene: Scene, size: int) -> SaveFile:
    memory, block = _image(scene)
    return SaveFile(memory=memory[:size], block=block)


def _expected_bytes(scene: Scene) -> int | None:
    """The memory that the program image's header promises, where it differs from the save's memory."""
    header = scene.header
    if header is None or header.memory_bytes is None:
        return None
    return None if header.memory_bytes == len(_image(scene)[0]) else header.memory_bytes


def _sized(scene: Scene, words: str, offset: int = 0) -> Sighting:
    assert scene.header is not None
    return Sighting(
        message=f"{words}{scene.doubt}",
        offset=offset,
        found=f"{len(_image(scene)[0]):,} bytes",
        expected=f"{scene.header.memory_bytes:,} bytes",
    )


def _see_short(scene: Scene) -> Iterator[Sighting]:
    size = _expected_bytes(scene)
    shortest = 1 if scene.save is not None else MEMORY_SIZES_BYTES[0]
    if size is not None and shortest <= len(_image(scene)[0]) < size:
        yield _sized(scene, "the memory image is shorter than the program's cartridge keeps")


def _blank_tail(scene: Scene) -> int | None:
    """The size that the header says, if all of the memory after it is blank."""
    size = _expected_bytes(scene)
    if size is None:
        return None
    tail = _image(scene)[0][size:]
    return size if size and is_blank(tail) else None


def _see_padded(scene: Scene) -> Iterator[Sighting]:
    size = _blank_tail(scene)
    if size is not None and not _has_block_inside(scene):
        words = "the memory image is padded to more than the program's cartridge keeps"
        yield _sized(scene, words, size)


def _cut_padding(scene: Scene) -> SaveFile | None:
    size = _blank_tail(scene)
    return None if size is None or size not in MEMORY_SIZES_BYTES else _resized(scene, size)


LONGEST_PATTERN: Final = 512
"""Periods up to this may be a game's own pattern: without a header they prove no smaller image."""


def _mirrored_size(scene: Scene) -> int | None:
    """The size of the smaller image that the memory repeats; None where it repeats none."""
    memory, header = _image(scene)[0], scene.header
    promised = None if header is None else header.memory_bytes
    if promised is not None and promised >= len(memory):
        return None  # as it should be, or too short, which is another finding
    for size in (promised, *MEMORY_SIZES_BYTES):
        if not size or size >= len(memory) or size not in MEMORY_SIZES_BYTES:
            continue
        part = memory[:size]
        if memory[size : 2 * size] != part:
            continue
        if part.count(part[:1]) == size or memory != part * (len(memory) // size):
            continue
        if size == promised or (size > LONGEST_PATTERN and not _is_pattern(part)):
            return size
    return None


def _is_pattern(part: bytes) -> bool:
    """Whether bytes only repeat a short pattern."""
    return any(part[period:] == part[:-period] for period in range(1, LONGEST_PATTERN + 1))


def _see_mirrored(scene: Scene) -> Iterator[Sighting]:
    size = _mirrored_size(scene)
    if size is not None:
        length = len(_image(scene)[0])
        yield Sighting(
            message=f"the memory repeats its first {size:,} bytes: a smaller image, mirrored",
            offset=size,
            found=f"{length:,} bytes, {length // size} times the same",
            expected=f"{size:,} bytes",
        )


def _cut_mirrors(scene: Scene) -> SaveFile | None:
    size = _mirrored_size(scene)
    return None if size is None else _resized(scene, size)


def _has_block_inside(scene: Scene) -> bool:
    return any(True for _ in INSIDE.see(scene))


def _see_long(scene: Scene) -> Iterator[Sighting]:
    size = _expected_bytes(scene)
    if size is None or scene.save is None or len(scene.save.memory) <= size:
        return
    if not (_mirrored_size(scene) or _blank_tail(scene) or _has_block_inside(scene)):
        # else one of these says more
        yield _sized(scene, "the memory image is longer than the program's cartridge keeps")


MEMORY_KINDS = (
    FindingKind(
        code="memory-short",
        severity="error",
        title="the memory image is shorter than the program's header says",
        remedy="dump it again: the bytes that are missing are in no file",
        see=_see_short,
    ),
    FindingKind(
        code="memory-padded",
        severity="warning",
        title="the memory image is padded to more than the program's header says",
        remedy="`also=memory-padded` cuts the blank tail off; the backup keeps the old length",
        see=_see_padded,
        repairs=_cut_padding,
    ),
    FindingKind(
        code="memory-mirrored",
        severity="warning",
        title="the memory image is a smaller one, repeated",
        remedy="`also=memory-mirrored` keeps the first; the backup keeps the old length",
        see=_see_mirrored,
        repairs=_cut_mirrors,
    ),
    FindingKind(
        code="memory-long",
        severity="warning",
        title="the memory image is longer than the program's header says",
        remedy="check that the save belongs to the program",
        see=_see_long,
    ),
    FindingKind(
        code="memory-blank",
        severity="warning",
        title="the whole memory image is FFh or 00h",
        remedy="clean the contacts and dump again before anything is written back; keep older "
        "dumps: what the cell lost is in no newer one",
        see=_see_blank,
    ),
    FindingKind(
        code="memory-power-up",
        severity="note",
        title="the memory image looks like RAM that lost its power: long runs of 00h and FFh, or stripes",
        remedy="compare with an older dump; clean the contacts and dump again before anything is "
        "written back",
        see=_see_power_up,
    ),
)
