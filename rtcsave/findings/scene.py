"""What a recogniser may look at: a file as a whole, and the clock block in it, if there is one."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING, Any, Final, Literal, TypeVar

from rtcsave.clocks import Clock
from rtcsave.layouts import ClockBlock, Layout
from rtcsave.layouts.fields import ClockPart
from rtcsave.layouts.places import block_layouts
from rtcsave.savefile import SaveFile
from rtcsave.stamps import Judgement, judge

if TYPE_CHECKING:
    from rtcsave.header import Header

T = TypeVar("T")
PastRange = Literal["as-time", "zero"]
PAST_RANGE: Final[tuple[PastRange, ...]] = ("as-time", "zero")


@dataclass(frozen=True, kw_only=True, repr=False, eq=False)
class Scene:
    """A file: its bytes, what is known of it, and what the user has said for the repair.

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
    _worked_out: dict[Callable[[Scene], Any], Any] = field(init=False, default_factory=dict)

    def once(self, work: Callable[[Scene], T]) -> T:
        """What a function makes of this scene, worked out once for all who ask."""
        if work not in self._worked_out:
            self._worked_out[work] = work(self)
        result: T = self._worked_out[work]
        return result

    @property
    def layouts(self) -> tuple[Layout, ...]:
        """The layouts that a block after a memory image may be in: the one that was named, or any."""
        if self.layout is not None:
            return () if self.layout.standalone else (self.layout,)
        return block_layouts(self.also)

    @cached_property
    def block(self) -> BlockScene | None:
        """The clock block of the save, None where there is none."""
        if self.save is None or self.save.block is None:
            return None
        return BlockScene(file=self, save=self.save, block=self.save.block)

    @property
    def doubt(self) -> str:
        """What to add to a sentence that rests on the header, where its checksum is wrong."""
        is_sound = self.header is None or self.header.checksum_ok
        return "" if is_sound else " (but the header's checksum is wrong)"


@dataclass(frozen=True, kw_only=True, repr=False, eq=False)
class BlockScene:
    """A clock block in its save, and the clocks and the stamp in it."""

    file: Scene
    save: SaveFile
    block: ClockBlock

    @cached_property
    def running(self) -> Clock:
        """The clock in the running registers."""
        return self.block.running

    @cached_property
    def latched(self) -> Clock | None:
        """The clock in the latched registers, None where the layout has none."""
        return self.block.latched

    @cached_property
    def stamp_judged(self) -> Judgement | None:
        """What is wrong with the stamp, None for nothing, or no stamp."""
        form, stamp = self.block.layout.stamp, self.block.stamp
        if form is None or stamp is None:
            return None
        return judge(stamp, form, self.file.now_s)

    @property
    def layout(self) -> Layout:
        """The layout of the block."""
        return self.block.layout

    @property
    def offset(self) -> int:
        """Where the block begins in the file."""
        return len(self.save.memory)

    def clock(self, part: ClockPart) -> Clock | None:
        """The running or the latched clock, if there is one."""
        return self.running if part == "running" else self.latched

    def with_block(self, block: ClockBlock) -> SaveFile:
        """The save with another block."""
        return self.save.with_block(block)

    def offset_of(self, part: ClockPart, name: str) -> int:
        """Where the lowest bits of a clock's field lie in the file."""
        for word in self.layout.part(part):
            if any(bits.field == name for bits in word.bits):
                return self.offset + word.offset
        return self.offset

    def offset_of_word(self, name: str) -> int:
        """Where a word of the block lies in the file, by its name in the layout's table."""
        words = (word.offset for word in self.layout.fields if word.name == name)
        return self.offset + next(words, 0)
