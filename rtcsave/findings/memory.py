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


MEMORY_FAULTS = (
    Fault(
        code="memory-blank",
        severity="warning",
        title="the whole memory image is FFh or 00h",
        remedy="clean the contacts and dump again before anything is written back; keep older "
        "dumps: what the cell lost is in no newer one",
        see=_see_blank,
    ),
)
