"""Doing the accesses of a sequence on a bus that is not ours: slow, noisy, or gone in the middle."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

from rtcsave.chips.accesses import Access, Plan
from rtcsave.chips.bus import Bus, check_bus, refuse_coroutine
from rtcsave.chips.failures import (
    CONTACTS,
    DIFFERING,
    IN_PART,
    SET_GOING,
    UNCHANGED,
    not_taken,
    say_with,
)
from rtcsave.clocks import CalendarClock, Clock, MinuteClock
from rtcsave.errors import BadArgument, NotTaken, number_of, shown
from rtcsave.layouts.fields import CLOCKS
from rtcsave.when import say_span

MOST_POLLS: Final = 10_000
POLL_US: Final = 100
MOST_READINGS: Final = 8
MOST_FAILED: Final = 3
"""A clock is read again after a wrong or missing answer, until so many readings have failed."""
FAILED_READINGS: Final = "failed_readings"
"""Under this name stands how many readings failed before the one that was taken, where any did."""
SLOWEST_ACCESS_MS: Final = 400
"""Accesses up to here were simulated, and none of the readings failed (tests/properties/test_slow_bus.py)."""
_RETRY_US: Final = 1_300_000
"""The wait after a torn reading, longer by as much after each: no two tries fall on the same second."""
_MOST_TICKS: Final = 60
"""A clock that is further than this from what was written did not tick meanwhile: it is another time."""

_OPEN_BUS: Final = 0xFF
"""What a bus gives where nothing answers: common practice."""


class Replay:
    """One replay of a sequence: what was found so far, and what did not answer as it should."""

    def __init__(self, plan: Plan, bus: Bus, at_due: Callable[[], object] | None) -> None:
        self._plan = plan
        self._bus = bus
        self._at_due = at_due
        self.found: dict[str, int] = {}
        self.is_torn: bool = False
        self._masks: dict[str, int] = {}
        self._answer: int | None = None
        self._wrong: list[NotTaken] = []
        self._registers = {register.name for register in CLOCKS[plan.kind].REGISTERS}
        self._has_written = self._has_changed = self._is_released = self._has_answered = False
        self.is_left_open: bool = False

    def run(self) -> dict[str, int]:
        """Do every access; whatever happens, the last ones that leave the cartridge in order too."""
        try:
            for number, step in enumerate(self._plan.steps, 1):
                if number > 1:
                    self._space()
                if step.due:
                    self._before_due()
                self._do(step, number)
                self._is_released = self._is_released or step.due
            self._refuse_wrong()
        except BaseException as error:
            self._say_changed(error)
            self._close(error)
            raise
        return self.found

    def _space(self) -> None:
        if self._plan.spacing_us:
            self._bus.wait(self._plan.spacing_us)

    def _before_due(self) -> None:
        self._refuse_wrong()  # what was not taken is not set going
        if self._at_due is not None:
            self._at_due()

    def _do(self, step: Access, number: int) -> None:
        if step.kind == "write":
            self._has_written = True  # before it: a write that raises may have been done
            self._has_changed = self._has_changed or bool(step.name) or step.due
            self._bus.write(step.address, self._value(step))
        elif step.kind == "poll":
            self._poll(step, number)
        elif step.kind == "read":
            self._take(step, number)
        else:
            self._compare(step, number)

    def _value(self, step: Access) -> int:
        """The byte to write or to expect, with the bits that are kept."""
        assert step.value is not None
        kept = self.found[step.keep] & ~step.mask if step.keep else 0
        return step.value & step.mask | kept

    def _take(self, step: Access, number: int) -> None:
        """Read a register under its name; a second read has to give what the first gave."""
        value = self._read(step, number, step.mask)
        self.found[step.name] = value
        self._masks[step.name] = step.mask
        first = self.found[step.keep] if step.keep else value
        if value != first:
            self.is_torn = True
            raise not_taken(
                DIFFERING,
                step,
                number,
                (value, first),
                f"{CONTACTS}; then do it again",
            )

    def _compare(self, step: Access, number: int) -> None:
        value = self._read(step, number, step.mask | self._masks.get(step.keep, 0))
        if not step.keep:
            self.found[step.name] = value
        expected = self._value(step)
        if value != expected:
            self._mismatch(step, number, value, expected)

    def _read(self, step: Access, number: int, mask: int) -> int:
        """The bits of an answer that count."""
        value = self._answer = self._bus.read(step.address)
        if value is None:
            again = CONTACTS if self._has_answered else f"{CONTACTS}; it may have no such clock"
            raise not_taken("nothing answers", step, number, (None, step.value), again)
        if type(value) is not int or not 0 <= value <= 0xFF:
            raise BadArgument("a bus reads bytes", found=shown(value), expected="0 to 255, or None")
        self._has_answered = True
        return value & mask

    def _poll(self, step: Access, number: int) -> None:
        value = 0
        for _ in range(MOST_POLLS):
            value = self._read(step, number, step.mask)
            if value == step.value:
                return
            self._bus.wait(POLL_US)
        what = f"the clock is not ready after {number_of(MOST_POLLS, 'poll')}"
        raise not_taken(what, step, number, (value, step.value), CONTACTS)

    def _mismatch(self, step: Access, number: int, value: int, expected: int) -> None:
        """Raise for an answer that nothing explains; note a register, which may have ticked."""
        sets_clock = self._plan.sets_clock
        what = "the clock did not take what was written" if sets_clock else "the answer is wrong"
        if self._answer == _OPEN_BUS:
            what, value = "most likely nothing answers: FFh was read", _OPEN_BUS
        remedy = f"{CONTACTS}; then {'write' if sets_clock else 'read'} the clock again"
        error = not_taken(what, step, number, (value, expected), remedy)
        if step.name not in self._registers:
            raise error
        self._wrong.append(error)

    def _refuse_wrong(self) -> None:
        """Raise for the registers that were not as expected, with what explains it."""
        if not self._wrong:
            return
        error = self._wrong[0]
        ticked_s = self._ticked_s() if self._is_released else None
        if ticked_s is not None:
            error.what = (
                f"the clock shows {say_span(ticked_s)} more than was written: it ticked on meanwhile on a "
                "slow bus, or a bit was wrong"
            )
            error.remedy = "use a quicker bus, or write it again"
        raise error

    def _ticked_s(self) -> int | None:
        """By how much the clock that was read back is later than the one written; None where that is not
        the reason."""
        expected, found = self._read_back("expected"), self._read_back("found")
        if expected is None or found is None or not (expected.in_range and found.in_range):
            return None
        for ticks in range(1, _MOST_TICKS + 1):
            seconds = ticks * expected.resolution_s
            later = expected.advance(seconds)
            if isinstance(later, MinuteClock) and isinstance(found, MinuteClock):
                later = later.with_values(
                    event_minutes=found.event_minutes, event_days=found.event_days
                )
            if later == found:
                return seconds
        return None

    def _read_back(self, what: str) -> Clock | None:
        """The clock that was expected, or found; None where not every register of it was read back."""
        kind = CLOCKS[self._plan.kind]
        expected = {step.name: step.value for step in self._plan.steps if step.kind == "expect"}
        values = self.found if what == "found" else expected
        words = [
            values.get(register.name, None if register.mask else 0) for register in kind.REGISTERS
        ]
        numbers = [value for value in words if value is not None]
        return kind.from_words(numbers) if len(numbers) == len(words) else None

    def _say_changed(self, error: BaseException) -> None:
        """Say with an error whether the clock that was to be set is another now."""
        if self._is_released:
            say_with(error, SET_GOING)
        elif self._plan.sets_clock:
            say_with(error, IN_PART if self._has_changed else UNCHANGED)

    def _close(self, error: BaseException) -> None:
        """Leave the cartridge in order after a failure, as far as the bus still lets us; tried twice."""
        self._wrong.clear()
        failed = self._closing_fails() and self._closing_fails() if self._has_written else None
        if failed is None:
            return
        self.is_left_open = True
        why = failed.what if isinstance(failed, NotTaken) else failed
        what = "closed" if self._plan.kind != CalendarClock.kind else "left as it was"
        then = "take its power away before you take it out"
        if self._plan.kind == CalendarClock.kind:
            then = "the clock may be stopped: write it again"
        say_with(error, f"the cartridge could not be {what} ({why}): {then}")

    def _closing_fails(self) -> Exception | None:
        """Try each closing access, whatever the one before did; the first failure, None for none."""
        failed: Exception | None = None
        for number, step in enumerate(self._plan.closing, len(self._plan.steps) + 1):
            try:
                self._space()
                self._do(step, number)
            except Exception as refused:
                failed = failed or refused
        return failed


def replay(plan: Plan, bus: Bus, at_due: Callable[[], object] | None) -> dict[str, int]:
    """Do accesses on a bus; a plan that only reads is done again where two reads differ or one is wrong."""
    nothing = "nothing was done on the bus"
    check_bus(bus, "bus", nothing)
    if at_due is not None and not callable(at_due):
        raise BadArgument("at_due is no function", found=shown(at_due), remedy=nothing)
    refuse_coroutine(at_due, "at_due", nothing)
    if plan.sets_clock:
        return Replay(plan, bus, at_due).run()
    return _read_again(plan, bus)


def _read_again(plan: Plan, bus: Bus) -> dict[str, int]:
    """Read until a reading holds, a few times at most."""
    failed = 0
    for readings in range(1, MOST_READINGS + 1):
        reading = Replay(plan, bus, None)
        try:
            found = reading.run()
        except NotTaken as error:
            # a calendar clock runs on while it is read: what differs there may have ticked
            has_ticked = reading.is_torn and plan.kind == CalendarClock.kind
            failed += not has_ticked
            if reading.is_torn and readings == MOST_READINGS:
                error.what = (
                    f"two reads of one register differ in each of {MOST_READINGS} readings: the bus is "
                    f"slow, or noisy ({error.register})"
                )
                error.remedy = (
                    f"{CONTACTS}; each access has to be done within {SLOWEST_ACCESS_MS} ms"
                )
            has_had_enough = failed >= MOST_FAILED and not reading.is_torn
            if reading.is_left_open or has_had_enough or readings == MOST_READINGS:
                raise
            if has_ticked:
                bus.wait(readings * _RETRY_US)
        else:
            return {**found, FAILED_READINGS: failed} if failed else found
    raise AssertionError("a reading that fails is raised")
