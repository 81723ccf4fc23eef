"""Faults of the memory image. It is looked at, never mended unasked."""

from __future__ import annotations

from collections.abc import Iterator

from rtcsave.findings.entry import Fault, Scene, Sighting


def _see_blank(scene: Scene) -> Iterator[Sighting]:
    memory = scene.save.memory if scene.save is not None else b""
    if memory and memory[0] in (0x00, 0xFF) and memory.count(memory[:1]) == len(memory):
        yield Sighting(
            message="the whole memory is blank: the cell was dead when it was dumped, or it was "
            "never written",
            offset=0,
            found=f"{len(memory)} bytes of {memory[0]:02X}h",
            expected="a game's data",
        )


def _expected_bytes(scene: Scene) -> int | None:
    """The memory that the program's header promises, where it differs from what is there."""
    header = scene.header
    if scene.save is None or header is None or header.memory_bytes is None:
        return None
    return None if header.memory_bytes == len(scene.save.memory) else header.memory_bytes


def _sized(scene: Scene, words: str) -> Sighting:
    assert scene.save is not None
    assert scene.header is not None
    doubt = "" if scene.header.checksum_ok else " (but the header's checksum is wrong)"
    return Sighting(
        message=f"{words}{doubt}",
        offset=0,
        found=f"{len(scene.save.memory)} bytes",
        expected=f"{scene.header.memory_bytes} bytes",
    )


def _see_short(scene: Scene) -> Iterator[Sighting]:
    size = _expected_bytes(scene)
    if size is not None and scene.save is not None and 0 < len(scene.save.memory) < size:
        yield _sized(scene, "the memory image is shorter than the program's cartridge keeps")


def _see_long(scene: Scene) -> Iterator[Sighting]:
    size = _expected_bytes(scene)
    if size is not None and scene.save is not None and len(scene.save.memory) > size:
        yield _sized(scene, "the memory image is longer than the program's cartridge keeps")


MEMORY_FAULTS = (
    Fault(
        code="memory-short",
        severity="error",
        title="the memory image is shorter than the program's header says",
        remedy="nothing can bring back what is not there: dump it again",
        see=_see_short,
    ),
    Fault(
        code="memory-long",
        severity="warning",
        title="the memory image is longer than the program's header says",
        remedy="check that the save belongs to the program",
        see=_see_long,
    ),
    Fault(
        code="memory-blank",
        severity="warning",
        title="the whole memory image is FFh or 00h",
        remedy="clean the contacts and dump again before anything is written back; keep older "
        "dumps: what the cell lost is in no newer one",
        see=_see_blank,
    ),
)
