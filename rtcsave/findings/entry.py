"""The shape of a finding, and of the entry that recognises and repairs one kind of them."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from typing import Final, Literal, NamedTuple

from rtcsave.errors import AmbiguousLayout, DoesNotFit, FileFault
from rtcsave.findings.scene import BlockScene, Scene
from rtcsave.layouts import Place
from rtcsave.layouts.places import fits_whole, largest_memory, mostly_fits
from rtcsave.savefile import SaveFile, dumps, loads

Severity = Literal["note", "warning", "error"]
Repair = Literal["default", "named", "saved-at", "none"]

SEVERITIES: Final[tuple[Severity, ...]] = ("note", "warning", "error")
"""From worth knowing, over going on gives a wrong time or loses something, to cannot be true."""


def rank_of(severity: Severity | None) -> int:
    """How bad a severity is, to compare: 0 for none, then 1 for a note to 3 for an error."""
    return 0 if severity is None else 1 + SEVERITIES.index(severity)


@dataclass(frozen=True, slots=True, kw_only=True, repr=False)
class Finding:
    """Something worth knowing about a save: what, how bad, where, and what to do about it.

    `code` is its kind in `FINDINGS`. `offset` counts bytes from the start of the file (None: the file
    as a whole); `found`, `expected` and `remedy` are for people. `repair` says what repairs it in this
    file: the `default` plan, a step that is `named`, the `saved-at` that only the user knows, or `none`.
    """

    code: str
    severity: Severity
    """`note`, `warning` or `error`."""
    message: str
    """What was found, in a sentence."""
    offset: int | None
    found: str
    expected: str
    remedy: str
    repair: Repair = "none"

    def __repr__(self) -> str:
        return f"<Finding {self.severity}: {self.code} at {self.offset}, {self.message[:80]}>"


class Sighting(NamedTuple):
    """One place where something was seen; an empty `remedy` is that of its kind."""

    message: str
    offset: int | None
    found: str
    expected: str
    remedy: str = ""


See = Callable[[Scene], Iterable[Sighting]]
Repairs = Callable[[Scene], SaveFile | None]
Judge = Callable[[Scene], bool]


def _never(scene: Scene) -> bool:
    return False


def always(scene: Scene) -> bool:
    """For entries whose repair is certain whenever they are seen."""
    return True


class FindingKind(NamedTuple):
    """One kind of finding: its code, severity and words, how it is seen and how it is repaired.

    `see` yields where it is in a file. `repairs` returns the repaired save, or None where it cannot
    (None instead of a function: nothing repairs it). `certain` says whether the default plan may
    repair it. `saved_at` says whether it is repaired only when the user said when the save was
    written ("needed"), or whether that is another way to repair it ("helps").
    """

    code: str
    severity: Severity
    title: str
    remedy: str
    see: See
    repairs: Repairs | None = None
    certain: Judge = _never
    saved_at: Literal["", "helps", "needed"] = ""

    @property
    def repair(self) -> str:
        """What repairs it where anything can, in words: for the tables of help and guides."""
        if self.repairs is None:
            return "no step"
        if self.saved_at == "needed":
            return "with `saved_at`"
        return f"`also={self.code}`" if self.certain is _never else "by default, where certain"

    def findings(self, scene: Scene) -> list[Finding]:
        """What this entry has to say about a file."""
        sightings = list(self.see(scene))
        if not sightings:
            return []
        repair = self.judged(scene)
        return [
            Finding(
                code=self.code,
                severity=self.severity,
                message=sighting.message,
                offset=sighting.offset,
                found=sighting.found,
                expected=sighting.expected,
                remedy=sighting.remedy or self.remedy,
                repair=repair,
            )
            for sighting in sightings
        ]

    def judged(self, scene: Scene) -> Repair:
        """What repairs it in this file."""
        after = self.repaired(scene)
        if after is None:
            return "saved-at" if self.saved_at and scene.saved_at_s is None else "none"
        return "default" if self.certain(scene) and is_safe(scene, after) else "named"

    def repaired(self, scene: Scene) -> Scene | None:
        """The file after the repair, its bytes read as those before were read; None for no change."""
        if self.repairs is None:
            return None
        try:
            repaired = self.repairs(scene)
        except DoesNotFit:  # the layout cannot hold it
            return None
        if repaired is None or repaired == scene.save:
            return None
        data, save = dumps(repaired), repaired
        if scene.is_read:
            read_again = _read_again(data, scene, repaired)
            if read_again is None:
                return None
            save = read_again
        return replace(scene, data=data, save=save)


def _read_again(data: bytes, scene: Scene, repaired: SaveFile) -> SaveFile | None:
    """The save in repaired bytes; None where they are none: such a repair would not be the last.

    They are read as the next run would read them, by the layout that was named. Zeros that read in two
    ways are right all the same.
    """
    try:
        return loads(data, scene.layout, scene.also, scene.now_s)
    except AmbiguousLayout:
        return repaired if fits_whole(data, scene.also) else None
    except FileFault:
        return None


def is_safe(before: Scene, after: Scene) -> bool:
    """Whether a step may be taken by default, whatever layouts are described or named.

    It must leave every byte alone that could be memory: those of the largest memory image that the file
    can begin with. Only where the caller named the layout does the block begin where that layout says.
    And the block must be one: where less than seven of ten words fit, the layout may be another.
    """
    if before.block is not None:
        block = before.block.block
        if not mostly_fits(block.raw, Place(memory_bytes=0, layout=block.layout)):
            return False
    if before.layout is not None and before.save is not None:
        size = len(before.save.memory)
    else:
        size = largest_memory(len(before.data))
    return before.data[:size] == after.data[:size]


def seen_in_block(see: Callable[[BlockScene], Iterable[Sighting]]) -> See:
    """A recogniser of files from one of blocks: it sees nothing where there is no block."""
    return lambda scene: () if scene.block is None else see(scene.block)


def repaired_in_block(repairs: Callable[[BlockScene], SaveFile | None]) -> Repairs:
    """A repair of files from one of blocks."""
    return lambda scene: None if scene.block is None else repairs(scene.block)


def certain_in_block(certain: Callable[[BlockScene], bool]) -> Judge:
    """A judgement of files from one of blocks."""
    return lambda scene: scene.block is not None and certain(scene.block)
