"""Register accesses as data: what puts a clock on a cartridge, and what reads it back.

A sequence does nothing by itself: a flasher loops over its steps, a chip replays them. Order and
waits: Pan Docs, chapter on memory bank controllers.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from fractions import Fraction
from typing import Any, Final, Protocol

from rtcsave.chips.accesses import Access
from rtcsave.chips.calendar_accesses import read_calendar, ticked_on, write_calendar
from rtcsave.chips.counter_accesses import read_counter, write_counter
from rtcsave.chips.divider import TICKS_PER_S
from rtcsave.chips.minute_accesses import read_minutes, write_minutes
from rtcsave.clocks import CalendarClock, Clock, CounterClock, MinuteClock
from rtcsave.errors import BadArgument, NotTaken, shown
from rtcsave.layouts.fields import CLOCKS
from rtcsave.when import Instant, rfc3339, unix_seconds

MOST_POLLS: Final = 10_000
POLL_US: Final = 100
MOST_READINGS: Final = 8
SLOWEST_ACCESS_MS: Final = 400
"""Accesses up to here were simulated, and none of the readings failed (tests/properties/test_slow_bus.py)."""
_RETRY_TICKS: Final = 13 * TICKS_PER_S // 10
"""The wait after a torn reading, longer by as much after each: no two tries fall on the same second."""


class Bus(Protocol):
    """What a sequence is replayed on: a chip, or anything that reads, writes and lets time pass."""

    def read(self, address: int) -> int | None:
        """Read a byte."""

    def write(self, address: int, value: int) -> None:
        """Write a byte."""

    def run(self, seconds: float | None = None, *, ticks: int | None = None) -> None:
        """Let time pass."""


@dataclass(frozen=True, slots=True, kw_only=True, repr=False)
class AccessSequence:
    """Ordered steps for one kind of clock.

    `at_unix_s` is the instant for which the clock is right, None for whenever: the step that is
    `due` is to be done then. Iterating gives the steps.
    """

    clock_kind: str
    """The kind of clock: `counter`, `minutes` or `calendar`."""
    steps: tuple[Access, ...]
    """The accesses, in order."""
    at_unix_s: int | None = None

    def __iter__(self) -> Iterator[Access]:
        return iter(self.steps)

    def __len__(self) -> int:
        return len(self.steps)

    @property
    def last_write(self) -> int | None:
        """The index of the step that is due at `at_unix_s`; None in a sequence that only reads."""
        return next((at for at, step in enumerate(self.steps) if step.due), None)

    @property
    def lead_us(self) -> int:
        """Microseconds of waits before the step that is due: start at least so much earlier."""
        last = self.last_write
        return 0 if last is None else sum(step.wait_us for step in self.steps[:last])

    def clock(self, found: Mapping[str, int]) -> Clock:
        """The clock in what this sequence found when it was replayed.

        `NotTaken` where a register was not read, or where a calendar clock ticked on between the reads of
        a digit: replay it again.
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
        if changed := ticked_on(found):
            raise NotTaken(
                "the clock ticked on while it was read", found=changed, remedy="read it again"
            )
        return CLOCKS[self.clock_kind].from_registers(
            bytes(found.get(register.name, 0) for register in registers), stray="drop"
        )

    def rows(self) -> list[dict[str, Any]]:
        """The steps as plain values, numbered from 1, for a table, JSON or CSV."""
        return [
            {
                "step": number,
                "kind": step.kind,
                "address": step.address,
                "value": step.value,
                "mask": step.mask if step.kind != "wait" and step.mask != 0xFF else None,
                "wait_us": step.wait_us or None,
                "name": step.name,
                "note": step.note,
                "due": step.due and self.at_unix_s is not None,
                "keep": step.keep,
            }
            for number, step in enumerate(self.steps, 1)
        ]

    def replay(self, chip: Bus) -> dict[str, int]:
        """Do the steps on a chip, through its own read, write and run; what was read, by name.

        A calendar clock that ticked on while it was read is read again, at most 8 times. `NotTaken` for the
        first expectation that fails, a poll that never comes true, or a bus that is too slow.
        """
        changed = ""
        for readings in range(1, MOST_READINGS + 1):
            found = self._replay_once(chip)
            changed = ticked_on(found)
            if not changed:
                return found
            chip.run(ticks=readings * _RETRY_TICKS)
        raise NotTaken(
            f"the bus is too slow: the clock ticked on during each of {MOST_READINGS} readings",
            found=changed,
            expected=f"each access within {SLOWEST_ACCESS_MS} ms",
            remedy="use a faster bus, or check the contacts",
        )

    def _replay_once(self, chip: Bus) -> dict[str, int]:
        """Do the steps once; what was read, by name."""
        found: dict[str, int] = {}
        owed = Fraction(0)
        for number, step in enumerate(self.steps, 1):
            if step.kind == "write":
                assert step.address is not None
                assert step.value is not None
                kept = found[step.keep] & ~step.mask if step.keep else 0
                chip.write(step.address, step.value & step.mask | kept)
            elif step.kind == "wait":
                owed += Fraction(step.wait_us * TICKS_PER_S, 1_000_000)
                chip.run(ticks=int(owed))
                owed -= int(owed)
            elif step.kind == "poll":
                _poll(chip, step, number)
            else:
                value = _masked(chip, step, number)
                if step.kind == "read":
                    found[step.name] = value
                elif value != step.value:
                    raise _not_taken(step, number, f"{value:02X}h")
        return found

    def __repr__(self) -> str:
        due = "" if self.at_unix_s is None else f", due at {rfc3339(self.at_unix_s)}"
        return f"<AccessSequence for a {self.clock_kind} clock: {len(self.steps)} accesses{due}>"


def _masked(chip: Bus, step: Access, number: int) -> int:
    assert step.address is not None
    value = chip.read(step.address)
    if value is None:
        raise NotTaken(
            f"step {number}: nothing answers ({step.note or step.name})",
            where=f"address {step.address:04X}h",
            expected="the clock's register",
            remedy="check the contacts, and that the cartridge has this kind of clock",
        )
    return value & step.mask


def _poll(chip: Bus, step: Access, number: int) -> None:
    for _ in range(MOST_POLLS):
        if _masked(chip, step, number) == step.value:
            return
        chip.run(ticks=POLL_US * TICKS_PER_S // 1_000_000)
    raise _not_taken(step, number, f"something else after {MOST_POLLS} polls")


def _not_taken(step: Access, number: int, found: str) -> NotTaken:
    return NotTaken(
        f"step {number} did not find what it should ({step.note or step.name})",
        where=f"address {step.address:04X}h",
        found=found,
        expected=f"{step.value or 0:02X}h",
        remedy="the clock was not taken: check the contacts and write it again",
    )


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
    writers = {
        CounterClock.kind: write_counter,
        MinuteClock.kind: write_minutes,
        CalendarClock.kind: write_calendar,
    }
    if not isinstance(clock, Clock) or clock.kind not in writers:
        raise BadArgument("this is not a clock", found=shown(clock))
    at_s = None if at is None else unix_seconds(at, "at")
    return AccessSequence(
        clock_kind=clock.kind, steps=tuple(writers[clock.kind](clock)), at_unix_s=at_s
    )


def sequence_to_read(kind: str) -> AccessSequence:
    """The accesses that read a clock of a kind (`counter`, `minutes`, `calendar`), each register
    under its name; its `clock` makes a clock of what they found."""
    readers = {
        CounterClock.kind: read_counter,
        MinuteClock.kind: read_minutes,
        CalendarClock.kind: read_calendar,
    }
    if not isinstance(kind, str) or kind not in readers:
        raise BadArgument("unknown kind of clock", found=shown(kind), expected=", ".join(readers))
    return AccessSequence(clock_kind=kind, steps=tuple(readers[kind]()))
