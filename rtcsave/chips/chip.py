"""What the three chips share: time that passes, a state to go back to, a save's block in and out."""

from __future__ import annotations

from typing import ClassVar, Generic, Self, TypeVar

from rtcsave.chips.divider import TICKS_PER_S, checked_seconds, clock_of_kind, ticks_of
from rtcsave.clocks import Clock
from rtcsave.errors import BadArgument, shown
from rtcsave.layouts import ClockBlock, Layout, layout_named
from rtcsave.layouts.codec import codec
from rtcsave.stamps import EARLIEST_USABLE_S, LAST_DATE_S
from rtcsave.when import Instant, exact_seconds

C = TypeVar("C", bound=Clock)
S = TypeVar("S")


class Chip(Generic[C, S]):
    """A clock on a bus that remembers the block it was made from.

    All that it holds are values that do not change, so a copy of a chip is a copy.
    """

    kind: ClassVar[str]
    default_layout: ClassVar[str]
    _clock_type: type[C]
    _state_type: type[S]
    _ticks_per_unit: ClassVar[int] = TICKS_PER_S

    _block: ClockBlock | None = None
    _ticks: int = 0
    _part: float = 0.0

    def __init__(self, clock: C | None = None) -> None:
        raise NotImplementedError

    def snapshot(self) -> C:
        """The running clock as it is now."""
        raise NotImplementedError

    @property
    def state(self) -> S:
        """All of the chip as one value: take it at every frame, and set it to rewind."""
        raise NotImplementedError

    @state.setter
    def state(self, given: object) -> None:
        raise NotImplementedError

    @classmethod
    def from_state(cls, state: S) -> Self:
        """The chip as it was when `state` was taken; `BadArgument` for the state of another kind."""
        chip = cls()
        chip.state = state
        return chip

    def _checked_state(self, state: object) -> S:
        if not isinstance(state, self._state_type):
            raise BadArgument(f"this is no state of a {self.kind} chip", found=shown(state))
        return state

    def run(self, seconds: float | None = None, *, ticks: int | None = None) -> None:
        """Let time pass: `seconds`, or `ticks` of 1/32,768 s."""
        raise NotImplementedError

    def wait(self, microseconds: float) -> None:
        """Let time pass between two accesses, as a bus does."""
        self.run(seconds=checked_seconds(microseconds) / 1_000_000)

    def _pass_time(self, seconds: float | None, ticks: int | None) -> int:
        """Let time pass; how many units of the clock that completes. Parts of a tick add up."""
        if seconds is not None and ticks is None:
            exact = checked_seconds(seconds) * TICKS_PER_S + self._part
            passed = int(exact)
            self._part = exact - passed
        else:
            passed = ticks_of(seconds, ticks)
        total = self._ticks + passed
        if total < self._ticks_per_unit:
            self._ticks = total
            return 0
        units, self._ticks = divmod(total, self._ticks_per_unit)
        return units

    def _restart_unit(self) -> None:
        """Begin a new second (or minute)."""
        self._ticks, self._part = 0, 0.0

    @property
    def divider_ticks(self) -> int:
        """Ticks of 1/32,768 s since the clock last counted."""
        return self._ticks

    @property
    def fraction_s(self) -> float:
        """Seconds since the clock last counted: below 1, below 60 for a clock of minutes."""
        return (self._ticks + self._part) / TICKS_PER_S

    @property
    def _is_running(self) -> bool:
        """Whether the clock counts."""
        return True

    def _take_latched(self, block: ClockBlock) -> None:
        """Take the latched registers of a block, where the chip has such."""

    def _latched_clock(self) -> Clock | None:
        """The clock in the latched registers, None where the chip has none."""
        return None

    @classmethod
    def from_block(cls, block: ClockBlock, *, at: Instant | None = None) -> Self:
        """The chip that holds a save's clock.

        The registers are right at the whole second of `at`, and its fraction becomes the divider's. A
        clock that counts minutes is that far into its minute as `at` is after the block's stamp. None: at
        the beginning of a second. `BadArgument` for what is no block, or a block of another kind of clock.
        """
        chip = cls(clock_of_kind(check_block(block).running, cls._clock_type))
        chip._block = block
        chip._take_latched(block)
        if at is not None:
            chip._set_fraction(chip._fraction_at(exact_seconds(at, "at")))
        return chip

    def _fraction_at(self, at: tuple[int, float]) -> float:
        """How long before an instant the clock last counted, if its registers are right for it."""
        return at[1]

    def _set_fraction(self, seconds: float) -> None:
        exact = seconds * TICKS_PER_S
        self._ticks = int(exact)
        self._part = exact - self._ticks

    def _right_at(self, saved_at: tuple[int, float]) -> int:
        """The Unix second for which the block that `to_block(saved_at)` makes is right."""
        return saved_at[0]

    def to_block(
        self, saved_at: Instant | None, *, layout: str | Layout | None = None
    ) -> ClockBlock:
        """The chip's clock as a save's block, stamped at an instant; None writes an absent stamp.

        The registers are those of the whole second of `saved_at`, to the nearest. So playing and saving a
        thousand times loses no time, if the chip ran as long as real time passed. The block is made from the
        one that the chip came from (`from_block`): constants, padding, stray bits and unknown bytes stay.
        In another layout, or for a chip that came from none, it is made from that layout's blank.

        In a layout without a stamp the block carries the instant instead, for the save that takes it: it
        becomes the time of the file. A clock that counts minutes is stamped at the second at which its
        minute began.
        """
        source = self._block
        target = layout_named(layout or (self.default_layout if source is None else source.layout))
        if source is None or source.layout != target:
            source = ClockBlock(layout=target, raw=codec(target).blank())
        block = source.with_clock(self._clock_at(saved_at))
        latched = self._latched_clock()
        if latched is not None and target.part("latched"):
            block = block.with_clock(latched, "latched")
        right_at_s = None if saved_at is None else self._right_at(_said(saved_at))
        if target.stamp is None:
            return block.carrying(right_at_s)
        return block.with_stamp(right_at_s)

    def _clock_at(self, saved_at: Instant | None) -> C:
        """The clock as it showed, or will show, at the whole second of an instant, to the nearest."""
        clock = self.snapshot()
        if saved_at is None or not self._is_running:
            return clock
        ahead_s = self.fraction_s - exact_seconds(saved_at, "saved_at")[1]
        if ahead_s >= 0.5:
            return clock.advance(1)
        if ahead_s < -0.5 and clock.in_range and clock.to_seconds():
            return clock.shifted(-1)[0]
        return clock

    def __repr__(self) -> str:
        return f"<{type(self).__name__} {self.snapshot().reading()}>"


def check_block(block: object) -> ClockBlock:
    """Return `block` if it is one; `BadArgument` if not."""
    if isinstance(block, ClockBlock):
        return block
    raise BadArgument(
        "this is no clock block", found=shown(block), remedy="a save has one: its clock_block"
    )


def _said(saved_at: Instant) -> tuple[int, float]:
    """The instant of a save in two parts; `BadArgument` for one at which no save was written."""
    whole_s, fraction = exact_seconds(saved_at, "saved_at")
    if EARLIEST_USABLE_S <= whole_s <= LAST_DATE_S:
        return whole_s, fraction
    raise BadArgument(
        "no save was written at that instant",
        found=shown(saved_at),
        expected="a date from 1995 to 9999",
        remedy="give Unix seconds (`time.time()`), not those of another clock and no milliseconds",
    )


def say_state(kind: str, clock: Clock, ticks: int, more: str) -> str:
    """The short text of a state."""
    return f"<{kind} {clock.reading()} and {ticks / TICKS_PER_S:.3f} s{more}>"
