"""A save: the memory image, untouched, and the clock block after it, if there is one."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from datetime import datetime

from rtcsave.buffers import Buffer, as_bytes
from rtcsave.clocks import Clock
from rtcsave.clocks.arguments import whole_seconds
from rtcsave.errors import BadArgument, DoesNotFit, NoClock, StampUnusable, number_of, shown
from rtcsave.layouts import (
    ClockBlock,
    Layout,
    layout_named,
)
from rtcsave.savefile.no_instant import WAYS, no_instant
from rtcsave.savefile.origin import Origin
from rtcsave.stamps import LAST_DATE_S, dated_seconds
from rtcsave.units import MEMORY_SIZES_BYTES
from rtcsave.when import Instant, Seconds, dated, unix_seconds, utc_datetime


@dataclass(frozen=True, slots=True, kw_only=True, repr=False)
class SaveFile:
    """A memory image (empty for a standalone block) and a clock block (None for an image alone).

    `origin` says where it was read, None for bytes; it is no part of equality, and every method
    keeps it. Every method returns a new save; none touches the memory image.
    """

    memory: bytes
    """The memory image, empty for a standalone block."""
    block: ClockBlock | None = None
    """The clock block, None for an image alone."""
    origin: Origin | None = field(default=None, compare=False)

    def __post_init__(self) -> None:
        if type(self.memory) is not bytes:
            object.__setattr__(self, "memory", as_bytes(self.memory, "a memory image is bytes"))
        if self.block is not None and type(self.block) is not ClockBlock:
            raise BadArgument("this is not a clock block", found=shown(self.block))
        if self.memory and len(self.memory) not in MEMORY_SIZES_BYTES:
            raise BadArgument(
                "no memory image has this length",
                found=number_of(len(self.memory), "byte"),
                expected=", ".join(str(size) for size in MEMORY_SIZES_BYTES),
            )
        if self.memory and self.block is not None and self.block.layout.standalone:
            raise DoesNotFit(
                f"layout {self.block.layout.name} is only ever a file of its own",
                found=f"{number_of(len(self.memory), 'byte')} of memory",
                expected="a standalone clock block",
                remedy="keep the clock in a file beside the memory image",
            )
        if not self.memory and self.block is None:
            raise BadArgument("a save without memory and without a clock block holds nothing")

    @property
    def carried_s(self) -> int | None:
        """The Unix second that the block carries, for which its clock is right; None for none."""
        return None if self.block is None else self.block.carried_s

    @property
    def saved_at(self) -> datetime | None:
        """The instant for which the clock is right: the usable stamp's, else a carried one, else None.

        An aware UTC datetime.
        """
        unix_s = None if self.block is None else self.block.usable_unix_s
        unix_s = self.carried_s if unix_s is None else unix_s
        return None if unix_s is None else utc_datetime(unix_s)

    def __repr__(self) -> str:
        block = "no clock block" if self.block is None else repr(self.block)
        return f"<SaveFile: {len(self.memory):,} bytes of memory, {block}>"

    @property
    def clock_block(self) -> ClockBlock:
        """The block, for whoever cannot go on without one: `NoClock` if there is none."""
        if self.block is None:
            raise NoClock(
                "the save has no clock block",
                where="" if self.origin is None else self.origin.path,
                found=f"a memory image of {len(self.memory):,} bytes alone",
                expected="a clock block after it",
                remedy="nothing here keeps time; check that it is the right file",
            )
        return self.block

    def counts_from(self, instant: Instant, saved_at: Instant | None = None) -> tuple[int, int]:
        """The Unix second that an advance starts from, and the seconds to advance from there.

        These reach to `instant`, or for a clock that counts minutes to the last whole one before it.
        The start is `saved_at` if given, else the stamp. `StampUnusable` where the stamp is absent, says
        no date, or is later than the instant.
        """
        block = self.clock_block
        to_s = dated_seconds(instant)
        if saved_at is not None:
            from_s = unix_seconds(saved_at, "saved_at")
            if from_s > to_s:
                raise BadArgument(
                    "`saved_at` is later than the instant to advance to",
                    found=f"saved {dated(from_s)}, to {dated(to_s)}",
                    remedy="give the instant at which the save was written",
                )
            return from_s, _whole(to_s - from_s, block)
        stamped_s = block.usable_unix_s
        if stamped_s is None and self.carried_s is not None:
            if self.carried_s > to_s:
                raise StampUnusable(
                    "the instant that the save carries is later than the instant to advance to",
                    found=f"carried {dated(self.carried_s)}, to {dated(to_s)}",
                    remedy=WAYS,
                )
            return self.carried_s, _whole(to_s - self.carried_s, block)
        if stamped_s is None:
            raise no_instant(block)
        if stamped_s > to_s:
            raise StampUnusable(
                "the stamp is later than the instant to advance to",
                found=f"stamp {dated(stamped_s)}, to {dated(to_s)}",
                remedy="perhaps it is local time, or a clock was wrong; " + WAYS,
            )
        return stamped_s, _whole(to_s - stamped_s, block)

    def advance_to(self, instant: Instant, saved_at: Instant | None = None) -> SaveFile:
        """The save with its running clock advanced from its stamp (or `saved_at`) to `instant`.

        The stamp is set to the instant, of a halted clock too; the latched registers, stray bits
        and the memory stay. A clock that counts minutes counts whole ones and moves the stamp by
        those. In a layout without a stamp `saved_at` is needed, unless the save carries an instant; it
        carries the new one then, and `dump` gives the file that time. Past day 511 the counter
        overflows and sets carry, as the chip does.

        `StampUnusable` if there is nothing to count from, `NoClock` without a block, `DoesNotFit`
        if the stamp cannot hold the instant.
        """
        block = self.clock_block
        block.refuse_misfits()
        from_s, elapsed_s = self.counts_from(instant, saved_at)
        advanced = block.with_clock(block.running.advance(elapsed_s))
        reached_s = from_s + elapsed_s
        if block.layout.stamp is None:
            return replace(self, block=advanced.carrying(reached_s))
        return replace(self, block=advanced.with_stamp(reached_s))

    def advance_by(self, seconds: Seconds) -> SaveFile:
        """The save with its running clock advanced by whole seconds, 0 or more.

        A usable stamp moves by as much; any other stays as it is, and the instant that the save carries
        (else the time of its file) moves instead.
        """
        block = self.clock_block
        block.refuse_misfits()
        by_s = whole_seconds(seconds)
        advanced = block.with_clock(block.running.advance(by_s))
        if block.usable_unix_s is not None:
            return self.with_block(advanced.with_stamp_moved(by_s))
        carried_s = self.carried_s
        if carried_s is None and self.origin is not None:
            carried_s = self.origin.modified_s
        if carried_s is not None:
            carried_s = min(carried_s + by_s, LAST_DATE_S)
        return replace(self, block=advanced.carrying(carried_s))

    def with_clock(self, clock: Clock) -> SaveFile:
        """The save with another running clock; stray bits, latched registers and stamp stay."""
        return self.with_block(self.clock_block.with_clock(clock))

    def with_stamp(self, instant: Instant | None) -> SaveFile:
        """The save stamped at an instant; None writes 0, which is absent."""
        return self.with_block(self.clock_block.with_stamp(instant))

    def with_layout(
        self,
        layout: str | Layout,
        *,
        drop_stamp: bool = False,
        drop_latched: bool = False,
        drop_unknown: bool = False,
    ) -> SaveFile:
        """The save with its clock block in another layout, given by name or as a `Layout`.

        `DoesNotFit` if that layout cannot hold the clock, its stray bits, its stamp (which
        `drop_stamp` lets go), latched registers that differ from the running ones (which
        `drop_latched` lets go), or bytes that no word describes (`drop_unknown`), or is only ever a
        file of its own and there is memory.
        """
        target = layout_named(layout)
        if target.standalone and self.memory:
            raise DoesNotFit(
                f"layout {target.name} is only ever a file of its own",
                found=f"{len(self.memory):,} bytes of memory",
                expected="a standalone clock block",
                remedy="split the clock off into a standalone file (`split`)",
            )
        old = self.clock_block
        block = old.with_layout(
            target,
            drop_stamp=drop_stamp,
            drop_latched=drop_latched,
            drop_unknown=drop_unknown,
        )
        return replace(self, block=block)

    def with_memory(self, memory: Buffer) -> SaveFile:
        """The save with another memory image of a legal length; the clock block stays."""
        return replace(self, memory=as_bytes(memory, "a memory image is bytes"))

    def with_block(self, block: ClockBlock) -> SaveFile:
        """The save with another clock block.

        Where the block carries no instant, it carries on the one of the block before.
        """
        if type(block) is not ClockBlock:
            raise BadArgument("this is not a clock block", found=shown(block))
        if block.carried_s is None and self.carried_s is not None:
            block = block.carrying(self.carried_s)
        return replace(self, block=block)

    def without_block(self) -> SaveFile:
        """The memory image alone; `DoesNotFit` for a standalone block, of which nothing would remain."""
        if not self.memory:
            raise DoesNotFit(
                "nothing would remain",
                found="a standalone clock block",
                expected="a memory image in front of it",
            )
        return replace(self, block=None)


def _whole(seconds: int, block: ClockBlock) -> int:
    """Seconds cut down to what the block's clock can count."""
    return seconds - seconds % block.running.resolution_s


def check_save(save: object) -> SaveFile:
    """Return `save` if it is one; `BadArgument` if not."""
    if isinstance(save, SaveFile):
        return save
    raise BadArgument(
        "this is not a save",
        found=shown(save),
        expected="a SaveFile",
        remedy="load(path) or loads(data) gives one; examine(data) takes any bytes",
    )
