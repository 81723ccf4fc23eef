"""Register accesses as data: what puts a clock on a cartridge, and what reads it back.

A sequence does nothing by itself: a flasher loops over its steps, or replays them on a bus.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any, Final

from rtcsave.chips.accesses import Access, Plan
from rtcsave.chips.answers import clock_in, doubts_of
from rtcsave.chips.bus import Bus
from rtcsave.chips.calendar_accesses import read_calendar, write_calendar
from rtcsave.chips.counter_accesses import read_counter, write_counter
from rtcsave.chips.minute_accesses import read_minutes, write_minutes
from rtcsave.chips.replaying import replay
from rtcsave.clocks import CalendarClock, Clock, CounterClock, MinuteClock
from rtcsave.errors import BadArgument, NotTaken, StampUnusable, shown
from rtcsave.layouts import ClockBlock
from rtcsave.when import Instant, dated, rfc3339, unix_seconds

LATEST_S: Final = 0.1
"""An instant that has passed by less is still taken."""


@dataclass(frozen=True, slots=True, kw_only=True, repr=False)
class AccessSequence:
    """Ordered accesses for one kind of clock.

    `at_unix_s` is the instant for which the clock is right, None for whenever: the access that is
    `due` is to be done then. Iterating gives the accesses.
    """

    clock_kind: str
    """The kind of clock: `counter`, `minutes` or `calendar`."""
    steps: tuple[Access, ...]
    """The accesses, in order."""
    closing: tuple[Access, ...] = ()
    """The accesses that leave the cartridge in order where a replay fails."""
    spacing_us: int = 0
    """Microseconds to leave between every two accesses."""
    at_unix_s: int | None = None

    def __iter__(self) -> Iterator[Access]:
        return iter(self.steps)

    def __len__(self) -> int:
        return len(self.steps)

    @property
    def due_index(self) -> int | None:
        """The index of the access that is due at `at_unix_s`; None in a sequence that only reads."""
        return next((at for at, step in enumerate(self.steps) if step.due), None)

    @property
    def lead_us(self) -> int:
        """Microseconds of waits before the access that is due: start at least so much earlier."""
        return self.spacing_us * (self.due_index or 0)

    def clock(self, found: Mapping[str, int]) -> Clock:
        """The clock in what this sequence found when it was replayed; nothing is invented.

        It is right for the instant at which the first register was read; a calendar clock's for that at which
        `seconds_1` was. `NotTaken` where a register was not read, where two reads of one differ, and where
        bits are set that no register has: then most likely nothing answers.
        """
        return clock_in(self.clock_kind, found)

    def doubts(self, found: Mapping[str, int]) -> tuple[str, ...]:
        """What is to be said of the clock in what was found, though it may be right; mostly nothing.

        Raises what `clock` raises.
        """
        return doubts_of(self.clock_kind, found)

    def rows(self) -> list[dict[str, Any]]:
        """The accesses as plain values, numbered from 1, for a table, JSON or CSV; last the closing ones.

        `closing` is true for those that are done only where a step before failed. `at` is the instant of
        the step that is due, and else None.
        """
        numbered = enumerate((*self.steps, *self.closing), 1)
        return [
            {
                "step": number,
                "clock": self.clock_kind,
                "closing": number > len(self.steps),
                "kind": step.kind,
                "address": step.address,
                "value": step.value,
                "mask": step.mask if step.mask != 0xFF else None,
                "wait_us": self.spacing_us if number > 1 else 0,
                "name": step.name,
                "note": step.note,
                "due": step.due and self.at_unix_s is not None,
                "at": rfc3339(self.at_unix_s) if step.due else None,
                "keep": step.keep,
            }
            for number, step in numbered
        ]

    def replay(self, bus: Bus, at_due: Callable[[], object] | None = None) -> dict[str, int]:
        """Do the accesses on a bus, with the waits between them; what was read, by name.

        `at_due` is called just before the access that is due: sleep in it until the instant comes, or give
        `sleep_until_due`. What was written is read back before the clock is set going (the minute-of-day
        clock: after). Whatever happens, the accesses that close the cartridge are tried. After a failure a
        counter clock may stay halted: write it again.

        A sequence that only reads is done again where two reads of a register differ, at most 8 times, and
        where an answer is wrong or missing, at most 3 times; `failed_readings` in what was found says how
        often, where it did.

        `NotTaken` for an answer that is not as expected, a poll that never comes true, or a bus that is too
        slow; it carries the access, the register, and both values. `BadArgument` for what is no bus, and for
        a sequence with an instant that nothing waits for; nothing was done then.
        """
        if self.at_unix_s is not None and at_due is None:
            raise BadArgument(
                "nothing waits for the instant of this sequence",
                expected="at_due, a function that returns at the instant",
                remedy="give sleep_until_due of the sequence, or your own; nothing was done on the bus",
            )
        plan = Plan(self.clock_kind, self.steps, self.closing, self.spacing_us)
        return replay(plan, bus, at_due)

    def sleep_until_due(self) -> None:
        """Sleep until the instant of the sequence, by the system's clock: an `at_due` for `replay`.

        `NotTaken` where the instant has passed by more than 0.1 s: the clock would be late. `BadArgument` for
        a sequence without an instant.
        """
        if self.at_unix_s is None:
            raise BadArgument("this sequence has no instant", remedy="make it with at")
        left_s = self.at_unix_s - time.time()
        if left_s < -LATEST_S:
            raise NotTaken(
                "the instant has passed: the clock would be late",
                found=f"{-left_s:.1f} s after {dated(self.at_unix_s)}",
                remedy="choose an instant further ahead, and write the clock again",
            )
        time.sleep(max(0.0, left_s))

    def __repr__(self) -> str:
        due = "" if self.at_unix_s is None else f", due at {rfc3339(self.at_unix_s)}"
        return f"<AccessSequence for a {self.clock_kind} clock: {len(self.steps)} accesses{due}>"


def sequence_to_write(clock: Clock | ClockBlock, at: Instant | None = None) -> AccessSequence:
    """The accesses that put a clock on a cartridge, so that it shows `clock` at the instant `at`.

    Of a block it is the running clock, with `at` advanced from the instant for which it is right (its stamp,
    else the one that it carries) to `at`. A minute-of-day clock begins a minute when it is set: a block's is
    due at its first whole minute from `at` on, as `at_unix_s` says; a `MinuteClock` given as such must
    begin its minute at `at`. A fraction of a second of `at` is cut off: wait for `at_unix_s`.

    A clock that is to run is released by the last register write, which is then due; one that is to
    stay halted stays halted. What was written is read back. `BadArgument` for what is no clock;
    `StampUnusable` for a block that does not say when it is right, or says a later instant.

    >>> from rtcsave.chips.counter_chip import CounterChip
    >>> chip = CounterChip()
    >>> _ = sequence_to_write(CounterClock.from_reading("12d03:04:05")).replay(chip)
    >>> reading = sequence_to_read("counter")
    >>> reading.clock(reading.replay(chip)).reading()
    '12d03:04:05'
    """
    at_s = None if at is None else unix_seconds(at, "at")
    if isinstance(clock, ClockBlock):
        clock, at_s = _running_at(clock, at_s)
    if not isinstance(clock, Clock) or clock.kind not in _WRITERS:
        raise BadArgument(
            "this is not a clock", found=shown(clock), expected="a clock or its block"
        )
    return _sequence(_WRITERS[clock.kind](clock), at_s)


def _running_at(block: ClockBlock, at_s: int | None) -> tuple[Clock, int | None]:
    """A block's running clock as it is at an instant, or at the first whole unit of it after."""
    clock = block.running
    if at_s is None:
        return clock, None
    from_s = block.carried_s if block.usable_unix_s is None else block.usable_unix_s
    if from_s is None or from_s > at_s:
        raise StampUnusable(
            "the block does not say when its clock was right"
            if from_s is None
            else "the block's clock is right at a later instant",
            found=dated(from_s) or "no usable stamp",
            expected=f"an instant not after {dated(at_s)}",
            remedy="advance the save to the instant first, with saved_at",
        )
    at_s += (from_s - at_s) % clock.resolution_s
    return clock.advance(at_s - from_s), at_s


def sequence_to_read(kind: str, *, twice: bool = False) -> AccessSequence:
    """The accesses that read a clock of a kind (`counter`, `minutes`, `calendar`), each register
    under its name; its `clock` makes a clock of what they found.

    With `twice` every register is selected and read two times, for contacts that are noisy; the second
    value stands under its name with `_again` after it. The time of a calendar clock is always read twice, but
    for `seconds_1`; so is its mode, which is written back and looked at.
    """
    if not isinstance(kind, str) or kind not in _READERS:
        raise BadArgument("unknown kind of clock", found=shown(kind), expected=", ".join(_READERS))
    return _sequence(_READERS[kind](twice), None)


_WRITERS: Final[Mapping[str, Callable[[Clock], Plan]]] = {
    CounterClock.kind: write_counter,
    MinuteClock.kind: write_minutes,
    CalendarClock.kind: write_calendar,
}
_READERS: Final[Mapping[str, Callable[[bool], Plan]]] = {
    CounterClock.kind: read_counter,
    MinuteClock.kind: read_minutes,
    CalendarClock.kind: read_calendar,
}


def _sequence(plan: Plan, at_s: int | None) -> AccessSequence:
    return AccessSequence(
        clock_kind=plan.kind,
        steps=tuple(plan.steps),
        closing=tuple(plan.closing),
        spacing_us=plan.spacing_us,
        at_unix_s=at_s,
    )
