"""Findings of the latched registers against the running ones."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from rtcsave.findings.entry import FindingKind, Sighting, repaired_in_block, seen_in_block
from rtcsave.findings.scene import BlockScene
from rtcsave.savefile import SaveFile
from rtcsave.when import say_span

EXCHANGED_WITHIN_S: Final = 600
"""How much later a latched time may be than the running one for the two to look exchanged: games
latch the time often, so a latched time is seldom minutes older than the running one. A clock that
was set back is usually off by more."""


def _latched_ahead_s(scene: BlockScene) -> int:
    """By how much the latched time is later than the running time; 0 where it is not."""
    running, latched = scene.running, scene.latched
    if latched is None or not (running.in_range and latched.in_range):
        return 0
    if running.carried:  # the counter may have overflowed since the time was latched
        return 0
    return max(0, latched.to_seconds() - running.to_seconds())


def _latched_sighting(scene: BlockScene, message: str) -> Sighting:
    assert scene.latched is not None
    return Sighting(
        message=message,
        offset=scene.offset_of("latched", "seconds"),
        found=f"latched {scene.latched.reading()}, running {scene.running.reading()}",
        expected="latched no later than running",
    )


def _see_latched_later(scene: BlockScene) -> Iterator[Sighting]:
    if _latched_ahead_s(scene) > EXCHANGED_WITHIN_S:
        yield _latched_sighting(scene, "the latched time is later than the running time")


def _see_exchanged(scene: BlockScene) -> Iterator[Sighting]:
    ahead_s = _latched_ahead_s(scene)
    if 0 < ahead_s <= EXCHANGED_WITHIN_S:
        yield _latched_sighting(
            scene,
            f"the latched time is {say_span(ahead_s)} later than the running time: they look "
            "exchanged",
        )


def _exchange(scene: BlockScene) -> SaveFile | None:
    running, latched = scene.running, scene.latched
    if latched is None:
        return None
    block = scene.block.with_clock(latched).with_clock(running, "latched")
    return scene.with_block(block)


def _see_latched_zero(scene: BlockScene) -> Iterator[Sighting]:
    running, latched = scene.running, scene.latched
    if latched is None:
        return
    if any(running.registers()) and not any(latched.registers()):
        yield Sighting(
            message="the latched registers are all zero, the running ones are not",
            offset=scene.offset_of("latched", "seconds"),
            found="latched all 0",
            expected=f"a time shortly before {running.reading()}",
        )


def _latch_running(scene: BlockScene) -> SaveFile | None:
    return scene.with_block(scene.block.with_clock(scene.block.running, "latched"))


LATCHED_KINDS = (
    FindingKind(
        code="latched-zero",
        severity="note",
        title="the latched registers are all zero",
        remedy="the tool that wrote it keeps none; `also=latched-zero` latches the running time",
        see=seen_in_block(_see_latched_zero),
        repairs=repaired_in_block(_latch_running),
    ),
    FindingKind(
        code="latched-exchanged",
        severity="warning",
        title="the running and the latched registers look exchanged",
        remedy="`also=latched-exchanged` exchanges them, if nobody set the clock back a little",
        see=seen_in_block(_see_exchanged),
        repairs=repaired_in_block(_exchange),
    ),
    FindingKind(
        code="latched-later",
        severity="note",
        title="the latched time is later than the running time",
        remedy="the clock was set back, or the two disagree; `also=latched-later` "
        "latches the running time",
        see=seen_in_block(_see_latched_later),
        repairs=repaired_in_block(_latch_running),
    ),
)
