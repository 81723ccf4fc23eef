"""Register accesses as data: what puts a clock on a cartridge, and what reads it back.

A sequence does nothing by itself: a flasher loops over its steps, or replays them on a bus.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any, Final

from rtcsave.chips.accesses import Access, Plan
from rtcsave.chips.calendar_accesses import read_calendar, write_calendar
from rtcsave.chips.counter_accesses import read_counter, write_counter
from rtcsave.chips.minute_accesses import read_minutes, write_minutes
from rtcsave.chips.replaying import Bus, read_differently, replay
from rtcsave.clocks import CalendarClock, Clock, CounterClock, MinuteClock
from rtcsave.errors import BadArgument, NotTaken, shown
from rtcsave.layouts.fields import CLOCKS
from rtcsave.when import Instant, rfc3339, unix_seconds


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

        `NotTaken` where a register was not read, where two reads of one differ, and where bits are set
        that no register has: then most likely nothing answers.
        """
        registers = CLOCKS[self.clock_kind].REGISTERS
        if not isinstance(found, Mapping):
            raise BadArgument("this is not what a sequence found", found=shown(found))
        missing = [r.name for r in registers if r.mask and r.name not in found]
        if missing:
            raise NotTaken(
                "registers were not read",
                found=", ".join(sorted(found)) or "nothing",
                expected=", ".join(missing),
                remedy="replay a sequence that reads this kind of clock",
            )
        if differing := read_differently(found):
            raise NotTaken(
                "two reads of one register differ: the clock ticked on meanwhile, or the contacts are bad",
                found=differing,
                remedy="read it again",
            )
        values = [found.get(register.name, 0) for register in registers]
        read = [v for v, register in zip(values, registers, strict=True) if register.mask]
        stray = [
            f"{register.name} {value:02X}h"
            for register, value in zip(registers, values, strict=True)
            if value & ~register.mask
        ]
        if stray or set(read) in ({0x0F}, {0xFF}):
            raise NotTaken(
                "the answers are no clock: most likely nothing answers",
                found=", ".join(stray) or f"{read[0]:02X}h everywhere",
                expected="no bit that the registers do not have",
                remedy="check that there is a cartridge and that it sits well, clean the contacts, and open "
                "the clock before you read it",
            )
        return CLOCKS[self.clock_kind].from_registers(bytes(values))

    def doubts(self, found: Mapping[str, int]) -> tuple[str, ...]:
        """What is to be said of the clock in what was found, though it may be right; mostly nothing."""
        if any(value for name, value in found.items() if name != "mode"):
            return ()
        return (
            "every register reads 0: that is a clock at zero, or nothing answers; read it again a second "
            "later, and check the contacts if it is still 0",
        )

    def rows(self) -> list[dict[str, Any]]:
        """The accesses as plain values, numbered from 1, for a table, JSON or CSV."""
        return [
            {
                "step": number,
                "kind": step.kind,
                "address": step.address,
                "value": step.value,
                "mask": step.mask if step.mask != 0xFF else None,
                "wait_us": self.spacing_us if number > 1 else 0,
                "name": step.name,
                "note": step.note,
                "due": step.due and self.at_unix_s is not None,
                "keep": step.keep,
            }
            for number, step in enumerate(self.steps, 1)
        ]

    def replay(self, bus: Bus, at_due: Callable[[], object] | None = None) -> dict[str, int]:
        """Do the accesses on a bus, with the waits between them; what was read, by name.

        `at_due` is called just before the access that is due: sleep in it until the instant comes. What
        was written is read back before the clock is set going (the minute-of-day clock: after). Whatever
        happens, the accesses that close the cartridge are tried; that they were taken is not looked at. After
        a failure a counter clock may stay halted: write it again. Without `at_due` nothing waits for `at`.

        A sequence that only reads is done again where two reads of a register differ, at most 8 times.
        `NotTaken` for an answer that is not as expected, a poll that never comes true, or a bus that is too
        slow; it carries the access, the register, and both values.
        """
        plan = Plan(self.clock_kind, self.steps, self.closing, self.spacing_us)
        return replay(plan, bus, at_due)

    def __repr__(self) -> str:
        due = "" if self.at_unix_s is None else f", due at {rfc3339(self.at_unix_s)}"
        return f"<AccessSequence for a {self.clock_kind} clock: {len(self.steps)} accesses{due}>"


def sequence_to_write(clock: Clock, at: Instant | None = None) -> AccessSequence:
    """The accesses that put a clock on a cartridge, so that it shows `clock` at the instant `at`.

    A clock that is to run is released by the last register write, which is then due; one that is to
    stay halted stays halted. What was written is read back. `BadArgument` for what is no clock.

    >>> from rtcsave.chips.counter_chip import CounterChip
    >>> chip = CounterChip()
    >>> _ = sequence_to_write(CounterClock.from_reading("12d03:04:05")).replay(chip)
    >>> reading = sequence_to_read("counter")
    >>> reading.clock(reading.replay(chip)).reading()
    '12d03:04:05'
    """
    if not isinstance(clock, Clock) or clock.kind not in _WRITERS:
        raise BadArgument("this is not a clock", found=shown(clock))
    at_s = None if at is None else unix_seconds(at, "at")
    return _sequence(_WRITERS[clock.kind](clock), at_s)


def sequence_to_read(kind: str, *, twice: bool = False) -> AccessSequence:
    """The accesses that read a clock of a kind (`counter`, `minutes`, `calendar`), each register
    under its name; its `clock` makes a clock of what they found.

    With `twice` every register is read two times, for contacts that are noisy; the second value stands
    under its name with `_again` after it. It is not selected or latched anew for that, so a write that is
    lost is not noticed. The time of a calendar clock is always read twice, but for `seconds_1`; its mode is
    read once and written back, so a wrong bit in that read may stop the timer.
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
