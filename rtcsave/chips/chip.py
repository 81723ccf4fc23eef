"""What the three chips share: a save's block goes in and comes out again with every bit it had."""

from __future__ import annotations

from typing import ClassVar, Generic, Self, TypeVar

from rtcsave.chips.divider import clock_of_kind
from rtcsave.clocks import Clock
from rtcsave.errors import BadArgument, shown
from rtcsave.layouts import ClockBlock, Layout, layout_named
from rtcsave.layouts.codec import codec
from rtcsave.when import Instant

C = TypeVar("C", bound=Clock)


class Chip(Generic[C]):
    """A clock on a bus that remembers the block it was made from."""

    kind: ClassVar[str]
    default_layout: ClassVar[str]
    _clock_type: type[C]
    _block: ClockBlock | None = None

    def __init__(self, clock: C | None = None) -> None:
        raise NotImplementedError

    def snapshot(self) -> C:
        """The running clock as it is now."""
        raise NotImplementedError

    def _take_latched(self, block: ClockBlock) -> None:
        """Take the latched registers of a block, where the chip has such."""

    def _latched_clock(self) -> Clock | None:
        """The clock in the latched registers, None where the chip has none."""
        return None

    @classmethod
    def from_block(cls, block: ClockBlock) -> Self:
        """The chip that holds a save's clock, at the beginning of a second.

        `BadArgument` for what is no block, or a block of another kind of clock.
        """
        if not isinstance(block, ClockBlock):
            raise BadArgument("this is no clock block", found=shown(block))
        chip = cls(clock_of_kind(block.running, cls._clock_type))
        chip._block = block
        chip._take_latched(block)
        return chip

    def to_block(
        self, stamp: Instant | None = None, layout: str | Layout | None = None
    ) -> ClockBlock:
        """The chip's clock as a save's block, stamped at an instant; None writes an absent stamp.

        It is made from the block that the chip came from (`from_block`), so that constants, padding,
        stray bits and unknown bytes stay; in another layout, or for a chip that came from none, from
        that layout's blank. The fraction of the current second is not kept: no block has room for it.
        """
        source = self._block
        target = layout_named(layout or (self.default_layout if source is None else source.layout))
        if source is None or source.layout != target:
            source = ClockBlock(layout=target, raw=codec(target).blank())
        block = source.with_clock(self.snapshot())
        latched = self._latched_clock()
        if latched is not None and target.part("latched"):
            block = block.with_clock(latched, "latched")
        return block.with_stamp(stamp)

    def __repr__(self) -> str:
        return f"<{type(self).__name__} {self.snapshot().reading()}>"
