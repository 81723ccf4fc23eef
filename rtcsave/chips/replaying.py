"""Doing the accesses of a sequence on a bus that is not ours: slow, noisy, or gone in the middle."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Final, Protocol

from rtcsave.chips.accesses import AGAIN, Access, Plan
from rtcsave.clocks import Clock, MinuteClock
from rtcsave.errors import BadArgument, NotTaken, number_of, shown
from rtcsave.layouts.fields import CLOCKS
from rtcsave.when import say_span

MOST_POLLS: Final = 10_000
POLL_US: Final = 100
MOST_READINGS: Final = 8
SLOWEST_ACCESS_MS: Final = 400
"""Accesses up to here were simulated, and none of the readings failed (tests/properties/test_slow_bus.py)."""
_RETRY_US: Final = 1_300_000
"""The wait after a torn reading, longer by as much after each: no two tries fall on the same second."""
_MOST_TICKS: Final = 60
"""A clock that is further than this from what was written did not tick meanwhile: it is another time."""

_OPEN_BUS: Final = 0xFF
"""What a bus gives where nothing answers: common practice."""

_CONTACTS: Final = "check that the cartridge sits well, and clean the contacts"


class Bus(Protocol):
    """What a sequence is replayed on: a chip, or anything that reads, writes and waits."""

    def read(self, address: int) -> int | None:
        """Read a byte; None where nothing answers."""

    def write(self, address: int, value: int) -> object:
        """Write a byte."""

    def wait(self, microseconds: int) -> object:
        """Let at least so much time pass before the next access."""


def check_bus(bus: object, what: str, remedy: str = "") -> None:
    """Raise `BadArgument` for what lacks one of the accesses of a bus."""
    missing = [name for name in ("read", "write", "wait") if not callable(getattr(bus, name, None))]
    if missing:
        raise BadArgument(
            f"the {what} has no {' and no '.join(missing)}",
            found=shown(bus),
            expected="read(address), write(address, value) and wait(microseconds)",
            remedy=remedy,
        )


class Replay:
    """One replay of a sequence: what was found so far, and what did not answer as it should."""

    def __init__(self, plan: Plan, bus: Bus, at_due: Callable[[], object] | None) -> None:
        self._plan = plan
        self._bus = bus
        self._at_due = at_due
        self.found: dict[str, int] = {}
        self._answer: int | None = None
        self._wrong: list[NotTaken] = []
        self._registers = {register.name for register in CLOCKS[plan.kind].REGISTERS}

    def run(self) -> dict[str, int]:
        """Do every access; whatever happens, the last ones that leave the cartridge in order too."""
        try:
            for number, step in enumerate(self._plan.steps, 1):
                if number > 1:
                    self._space()
                if step.due:
                    self._before_due()
                self._do(step, number)
            self._refuse_wrong()
        except BaseException as error:
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
            assert step.value is not None
            kept = self.found[step.keep] & ~step.mask if step.keep else 0
            self._bus.write(step.address, step.value & step.mask | kept)
        elif step.kind == "poll":
            self._poll(step, number)
        elif step.kind == "read":
            self.found[step.name] = self._read(step, number)
        else:
            value = self._read(step, number)
            self.found[step.name] = value
            if value != step.value:
                self._mismatch(step, number, value)

    def _read(self, step: Access, number: int) -> int:
        """The bits of an answer that count."""
        value = self._answer = self._bus.read(step.address)
        if value is None:
            raise _not_taken(
                "nothing answers", step, number, None, f"{_CONTACTS}; it may have no such clock"
            )
        if type(value) is not int or not 0 <= value <= 0xFF:
            raise BadArgument("a bus reads bytes", found=shown(value), expected="0 to 255, or None")
        return value & step.mask

    def _poll(self, step: Access, number: int) -> None:
        value = 0
        for _ in range(MOST_POLLS):
            value = self._read(step, number)
            if value == step.value:
                return
            self._bus.wait(POLL_US)
        what = f"the clock is not ready after {number_of(MOST_POLLS, 'poll')}"
        raise _not_taken(what, step, number, value, _CONTACTS)

    def _mismatch(self, step: Access, number: int, value: int) -> None:
        """Raise for an answer that nothing explains; note a register, which may have ticked."""
        what = "the clock did not take what was written"
        if self._answer == _OPEN_BUS:
            what = "most likely nothing answers: FFh was read"
        error = _not_taken(what, step, number, value, f"{_CONTACTS}; then write the clock again")
        if step.name not in self._registers:
            raise error
        self._wrong.append(error)

    def _refuse_wrong(self) -> None:
        """Raise for the registers that were not as expected, with what explains it."""
        if not self._wrong:
            return
        error = self._wrong[0]
        ticked_s = self._ticked_s()
        if ticked_s is not None:
            error.what = (
                f"the bus is slow: the clock ticked on by {say_span(ticked_s)} between the write and the "
                "read-back"
            )
            error.remedy = (
                "the clock was taken and runs; read it to see that it is right, or use a faster bus"
            )
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
        held = [
            values.get(register.name, None if register.mask else 0) for register in kind.REGISTERS
        ]
        numbers = [value for value in held if value is not None]
        return kind.from_words(numbers) if len(numbers) == len(held) else None

    def _close(self, error: BaseException) -> None:
        """Leave the cartridge in order after a failure, as far as the bus still lets us."""
        for step in self._plan.closing:
            if step.keep and step.keep not in self.found:
                continue
            try:
                self._space()
                self._do(step, 0)
            except Exception as failed:
                error.add_note(
                    f"the cartridge could not be closed ({failed}): take its power away before you take it "
                    "out"
                )
                return


def _not_taken(what: str, step: Access, number: int, value: int | None, remedy: str) -> NotTaken:
    """The error for an access that did not give what it should."""
    error = NotTaken(
        f"{what} (access {number}, {step.name or step.note})",
        where=f"address {step.address:04X}h",
        found="" if value is None else f"{value:02X}h",
        expected="the clock's register" if step.value is None else f"{step.value:02X}h",
        remedy=remedy,
    )
    error.access, error.register = number, step.name
    error.expected_value, error.found_value = step.value, value
    return error


def read_differently(found: Mapping[str, int]) -> str:
    """Which registers were another at the second read, in words; nothing where none was."""
    return ", ".join(
        f"{name} {found[name]}, then {found[name + AGAIN]}"
        for name in found
        if found.get(name + AGAIN, found[name]) != found[name]
    )


def replay(plan: Plan, bus: Bus, at_due: Callable[[], object] | None) -> dict[str, int]:
    """Do accesses on a bus; a plan that only reads is done again where two reads differ, 8 times at most."""
    check_bus(bus, "bus", "nothing was done on it")
    differing = ""
    for readings in range(1, MOST_READINGS + 1):
        found = Replay(plan, bus, at_due).run()
        differing = read_differently(found)
        if not differing:
            return found
        bus.wait(readings * _RETRY_US)
    raise NotTaken(
        f"two reads of one register differ in each of {MOST_READINGS} readings: the bus is slow, or noisy",
        found=differing,
        expected=f"each access within {SLOWEST_ACCESS_MS} ms, and the same byte twice",
        remedy=_CONTACTS,
    )
