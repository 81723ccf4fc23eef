"""The shape of a finding, and of the entry that recognises and mends one kind of fault."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from typing import Any, Final, Literal, NamedTuple, TypeVar

from rtcsave.clocks import Clock
from rtcsave.header import Header
from rtcsave.layouts import ClockBlock, Layout
from rtcsave.layouts.detection import block_layouts
from rtcsave.layouts.fields import Part
from rtcsave.savefile import SaveFile
from rtcsave.stamps import Judgement, judge

T = TypeVar("T")
Severity = Literal["note", "warning", "error"]
PastRange = Literal["as-time", "zero"]

SEVERITIES: Final[tuple[Severity, ...]] = ("note", "warning", "error")
"""From worth knowing, over going on gives a wrong time or loses something, to cannot be true."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """Something worth knowing about a save: what, how bad, where, and what to do about it.

    `offset` counts bytes from the start of the file (None: the file as a whole); `found` and
    `expected` are for people.
    """

    code: str
    severity: Severity
    message: str
    offset: int | None
    found: str
    expected: str
    remedy: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Scene:
    """All that a recogniser may look at, and what the user has said for the mending.

    `save` is None where the bytes are no save that `loads` takes. `layout` is the one that the caller
    named; `is_read` says that the save was read from the bytes, by that layout and those of `also`.
    """

    data: bytes
    save: SaveFile | None
    now_s: int
    header: Header | None = None
    also: tuple[Layout, ...] = ()
    layout: Layout | None = None
    is_read: bool = False
    saved_at_s: int | None = None
    past_range: PastRange = "as-time"
    block: ClockBlock | None = field(init=False)
    running: Clock | None = field(init=False)
    latched: Clock | None = field(init=False)
    stamp_judged: Judgement | None = field(init=False)
    _worked_out: dict[Callable[[Scene], Any], Any] = field(
        init=False, repr=False, compare=False, default_factory=dict
    )

    def __post_init__(self) -> None:
        """Work out once what most recognisers ask for."""
        put = object.__setattr__
        block = None if self.save is None else self.save.block
        put(self, "block", block)
        put(self, "running", None if block is None else block.running)
        put(self, "latched", None if block is None else block.latched)
        judged = None
        if block is not None and block.layout.stamp is not None and block.stamp is not None:
            judged = judge(block.stamp, block.layout.stamp, self.now_s)
        put(self, "stamp_judged", judged)

    def once(self, work: Callable[[Scene], T]) -> T:
        """What a function makes of this scene, worked out once for all who ask."""
        if work not in self._worked_out:
            self._worked_out[work] = work(self)
        found: T = self._worked_out[work]
        return found

    @property
    def layouts(self) -> tuple[Layout, ...]:
        """The layouts that a block after a memory image may be in: the one that was named, or any."""
        if self.layout is not None:
            return () if self.layout.alone else (self.layout,)
        return block_layouts(self.also)

    def clock(self, part: Part) -> Clock | None:
        """The running or the latched clock, if there is one."""
        return self.running if part == "running" else self.latched

    @property
    def block_offset(self) -> int:
        """Where the clock block begins in the file."""
        return 0 if self.save is None else len(self.save.memory)

    def offset_of(self, part: Part, name: str) -> int:
        """Where the lowest bits of a clock's field (or the stamp) lie in the file."""
        assert self.block is not None
        for one in self.block.layout.part(part):
            if part == "stamp" or any(bits.field == name for bits in one.bits):
                return self.block_offset + one.offset
        return self.block_offset

    def offset_of_word(self, name: str) -> int:
        """Where a word of the block lies in the file, by its name in the layout's table."""
        assert self.block is not None
        return self.block_offset + next(
            (one.offset for one in self.block.layout.fields if one.name == name), 0
        )


class Sighting(NamedTuple):
    """One place where a fault was seen."""

    message: str
    offset: int | None
    found: str
    expected: str
    remedy: str = ""


def _never(scene: Scene) -> bool:
    return False


def always(scene: Scene) -> bool:
    """For entries whose mending is certain whenever the fault is seen."""
    return True


class Fault(NamedTuple):
    """One kind of fault: its code, severity and words, how it is seen and how it is mended.

    `see` yields where it is in a scene. `mend` returns the mended save, or None where it cannot
    (None instead of a function: nothing mends it). `certain` says whether the default plan may
    mend it unasked. `saved_at` says whether it is mended only when the user said when the save was
    written ("needed"), or whether that is another way to mend it ("helps").
    """

    code: str
    severity: Severity
    title: str
    remedy: str
    see: Callable[[Scene], Iterable[Sighting]]
    mend: Callable[[Scene], SaveFile | None] | None = None
    certain: Callable[[Scene], bool] = _never
    saved_at: Literal["", "helps", "needed"] = ""

    @property
    def mended_unasked(self) -> bool:
        """Whether the default plan ever mends it."""
        return self.mend is not None and self.certain is not _never

    def findings(self, scene: Scene) -> list[Finding]:
        """What this entry has to say about a scene."""
        return [
            Finding(
                code=self.code,
                severity=self.severity,
                message=one.message,
                offset=one.offset,
                found=one.found,
                expected=one.expected,
                remedy=one.remedy or self.remedy,
            )
            for one in self.see(scene)
        ]
