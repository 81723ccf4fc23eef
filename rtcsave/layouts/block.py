"""A clock block: its layout and its bytes, and the values seen in them."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime
from typing import Final

from rtcsave.clocks import Clock
from rtcsave.errors import BadArgument, DoesNotFit, number_of, shown
from rtcsave.layouts.builtin import layout_named
from rtcsave.layouts.codec import codec
from rtcsave.layouts.fields import ClockPart, Field
from rtcsave.layouts.table import Layout, check_layout_type
from rtcsave.stamps import is_absent, is_usable, unix_or_none
from rtcsave.when import Instant, rfc3339, unix_seconds, utc_datetime

_USUAL: Final = {"counter": "block48", "minutes": "minutes12", "calendar": "calendar26"}
"""The built-in layout that holds all of a clock, by its kind."""


@dataclass(frozen=True, slots=True, kw_only=True, repr=False)
class ClockBlock:
    """The bytes of a clock block (`raw`, every bit of it) and the layout that reads them.

    What it says is worked out when asked. Only `carried_s` is kept beside the bytes: the Unix second for
    which the clock is right, where no usable stamp says it. `dump` gives the file that time. It is no
    part of the bytes, nor of equality.
    """

    layout: Layout
    """The layout that reads the bytes."""
    raw: bytes
    carried_s: int | None = field(default=None, compare=False)

    def __post_init__(self) -> None:
        if type(self.raw) is not bytes or type(self.layout) is not Layout:
            check_layout_type(self.layout)
            raise BadArgument("a block is bytes", found=shown(self.raw), expected="bytes")
        if len(self.raw) != self.layout.size:
            raise BadArgument(
                f"a block of layout {self.layout.name} has {self.layout.size:,} bytes",
                found=number_of(len(self.raw), "byte"),
                expected=number_of(self.layout.size, "byte"),
            )
        if self.carried_s is not None:
            unix_seconds(self.carried_s, "carried_s")

    @classmethod
    def new(
        cls,
        clock: Clock,
        *,
        saved_at: Instant | None = None,
        latched: Clock | None = None,
        layout: str | Layout | None = None,
    ) -> ClockBlock:
        """A block that holds a clock, made from the layout's blank (its constants, zeros elsewhere).

        `saved_at` is the stamp (None: an absent one); in a layout without a stamp the block carries it.
        `latched` is the latched clock (None: the same as the running one, where the layout has latched
        registers). `layout` None is `block48`, or `minutes12` or `calendar26` for such a clock.
        `DoesNotFit` where the layout has no room for one of them.

        >>> from rtcsave.clocks import CounterClock
        >>> ClockBlock.new(CounterClock.from_reading("12d03:04:05"), saved_at=1_773_152_100)
        <ClockBlock block48: 12d03:04:05, 2026-03-10T14:15:00Z>
        """
        if layout is None:
            layout = _USUAL.get(getattr(clock, "kind", ""), "block48")
        target = layout_named(layout)
        block = cls(layout=target, raw=codec(target).blank()).with_clock(clock)
        if latched is not None or target.part("latched"):
            block = block.with_clock(clock if latched is None else latched, "latched")
        if target.stamp is None:
            return block.carrying(None if saved_at is None else unix_seconds(saved_at, "saved_at"))
        return block.with_stamp(saved_at)

    @property
    def running(self) -> Clock:
        """The clock in the running registers; stray bits are not part of it."""
        return codec(self.layout).running(self.raw)

    @property
    def latched(self) -> Clock | None:
        """The clock as last latched, or None where the layout holds no latched registers."""
        return codec(self.layout).clock_in(self.raw, "latched")

    @property
    def stamp(self) -> int | None:
        """The raw stamp (signed for 64 bits, unsigned for 32), None where the layout has none."""
        return codec(self.layout).stamp_in(self.raw)

    @property
    def stamp_absent(self) -> bool:
        """Whether there is a stamp that is absent: 0, or every bit set."""
        form, stamp = self.layout.stamp, self.stamp
        return form is not None and stamp is not None and is_absent(stamp, form)

    @property
    def usable_unix_s(self) -> int | None:
        """The Unix second of a usable stamp: present, and a date from 1995 to 9999; else None."""
        form, stamp = self.layout.stamp, self.stamp
        if form is None or stamp is None or not is_usable(stamp, form):
            return None
        return form.to_unix(stamp)

    @property
    def saved_unix_s(self) -> int | None:
        """The Unix second the stamp means; None where absent or beyond what a date can hold."""
        form, stamp = self.layout.stamp, self.stamp
        return None if form is None or stamp is None else unix_or_none(stamp, form)

    @property
    def saved_at(self) -> datetime | None:
        """The instant the stamp means, as an aware UTC datetime, or None as `saved_unix_s`."""
        unix_s = self.saved_unix_s
        return None if unix_s is None else utc_datetime(unix_s)

    def misfits(self) -> tuple[tuple[Field, int], ...]:
        """The words whose value no clock can hold (invalid digits), each with that value."""
        return codec(self.layout).misfits(self.raw)

    def refuse_misfits(self) -> None:
        """Raise `DoesNotFit` if a word of the clock has a value that no clock can hold."""
        for word, number in self.misfits():
            raise DoesNotFit(
                f"{word.name} says what a {self.layout.clock} clock cannot hold, so nobody knows its time",
                found=f"{number:X}h",
                expected="digits and numbers of its fields",
                remedy="set the clock (`with_time`), or dump it again",
            )

    @property
    def tells_time(self) -> bool:
        """Whether the running registers say a time: no digit is invalid, and a clock can hold every word."""
        return not self.running.illegal_digits() and not self.misfits()

    def refuse_no_time(self) -> None:
        """Raise `DoesNotFit` unless the running registers say a time."""
        self.refuse_misfits()
        for name, nibble in self.running.illegal_digits():
            raise DoesNotFit(
                f"{name} holds an invalid digit, so nobody knows the clock's time",
                found=f"{nibble:X}h",
                expected="a digit, 0 to 9",
                remedy="set the clock (`with_time`), or dump it again",
            )

    def stray(self) -> tuple[tuple[Field, int], ...]:
        """The words that have bits past their register's width, each with those bits."""
        if codec(self.layout).fits(self.raw):
            return ()
        strays = []
        for word in self.layout.fields:
            extra = codec(self.layout).word(self.raw, word) & ~word.mask
            if extra:
                strays.append((word, extra))
        return tuple(strays)

    def carrying(self, unix_s: int | None) -> ClockBlock:
        """The block that carries the Unix second for which its clock is right."""
        return ClockBlock(layout=self.layout, raw=self.raw, carried_s=unix_s)

    def _with_raw(self, raw: bytes) -> ClockBlock:
        return ClockBlock(layout=self.layout, raw=raw, carried_s=self.carried_s)

    def without_stray(self) -> ClockBlock:
        """The block with every bit past a register's width cleared."""
        raw = self.raw
        for word, extra in self.stray():
            raw = codec(self.layout).put_word(
                raw, word, codec(self.layout).word(raw, word) & ~extra
            )
        return self._with_raw(raw)

    def with_clock(self, clock: Clock, part: ClockPart = "running") -> ClockBlock:
        """The block with another running (or latched) clock; stray bits and all else stay.

        A clock of another kind raises `DoesNotFit`, and so do latched registers that the layout does
        not have; `BadArgument` for a part that is neither `running` nor `latched`.
        """
        if not isinstance(clock, Clock):
            raise BadArgument("this is not a clock", found=shown(clock))
        if part not in ("running", "latched"):
            raise BadArgument(
                "there is no such part of a clock", found=shown(part), expected="running or latched"
            )
        if not self.layout.part(part):
            raise DoesNotFit(
                f"layout {self.layout.name} has no {part} registers",
                remedy="convert to a layout that has them",
            )
        if clock.kind != self.layout.clock:
            raise DoesNotFit(
                f"layout {self.layout.name} holds a {self.layout.clock} clock",
                found=f"a {clock.kind} clock",
                remedy="clocks of different kinds cannot be exchanged",
            )
        raw = codec(self.layout).put_clock(self.raw, part, clock)
        stored = codec(self.layout).clock_in(raw, part)
        if stored is not None and stored != clock:
            from rtcsave.layouts.conversion import lost_fields

            raise DoesNotFit(
                f"layout {self.layout.name} cannot hold all of this clock",
                found=lost_fields(clock, stored),
                expected="every field of it",
            )
        return self._with_raw(raw)

    def with_stamp(self, instant: Instant | None) -> ClockBlock:
        """The block stamped at an instant; None writes 0, which is absent.

        `DoesNotFit` where the stamp cannot hold the instant or the layout has no stamp.
        """
        form = self.layout.stamp
        if form is None:
            if instant is None:
                return self
            raise DoesNotFit(
                f"layout {self.layout.name} has no stamp", remedy="convert to a layout with one"
            )
        raw = 0 if instant is None else form.to_raw(unix_seconds(instant))
        return ClockBlock(layout=self.layout, raw=codec(self.layout).put_stamp(self.raw, raw))

    def with_stamp_moved(self, seconds: int) -> ClockBlock:
        """The block with a stamp that says an instant moved by whole seconds, its fraction kept.

        Any other stays as it is; `DoesNotFit` where the stamp cannot hold what it becomes.
        """
        form, stamp, unix_s = self.layout.stamp, self.stamp, self.saved_unix_s
        if form is None or stamp is None or unix_s is None:
            return self
        moved = form.to_raw(unix_s + seconds)
        fraction = stamp % form.counts_per_second
        if moved + fraction < form.bounds[1]:
            moved += fraction
        return self._with_raw(codec(self.layout).put_stamp(self.raw, moved))

    def with_layout(
        self,
        layout: Layout,
        *,
        drop_stamp: bool = False,
        drop_latched: bool = False,
        drop_unknown: bool = False,
    ) -> ClockBlock:
        """The same clock in another layout, stray bits included where its words are alike.

        Without latched registers here, latched becomes running; without a stamp here, absent. A
        present stamp that does not fit raises `DoesNotFit`, unless `drop_stamp` says to write 0
        instead; so do latched registers of their own (unless `drop_latched`), bytes that the
        layout describes no word for, wrong constants and checksums (unless `drop_unknown`), another
        kind of clock, and stray bits with no place to go. In its own layout the block stays as it is.
        """
        if check_layout_type(layout) == self.layout:
            return self
        from rtcsave.layouts.conversion import Drops, converted  # only here: loaded by need

        self.refuse_misfits()
        drop = Drops(stamp=drop_stamp, latched=drop_latched, unknown=drop_unknown)
        block = ClockBlock(layout=layout, raw=converted(self.layout, self.raw, layout, drop))
        usable_s = None if block.usable_unix_s is not None else self.usable_unix_s
        return block.carrying(self.carried_s if usable_s is None else usable_s)

    def __repr__(self) -> str:
        said = rfc3339(self.usable_unix_s) or "no usable stamp"
        return f"<ClockBlock {self.layout.name}: {self.running.reading()}, {said}>"


Layout.block_type = ClockBlock
