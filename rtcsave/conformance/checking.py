"""What a check is, what it says where a clock fails it, and the report of all of them."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Final, Generic, Literal, TypeVar

from rtcsave.chips import Bus
from rtcsave.chips.bus import check_bus
from rtcsave.errors import BadArgument, shown

Need = Literal["fraction", "halt", "latch", "open"]
NEEDS: Final[tuple[Need, ...]] = ("fraction", "halt", "latch", "open")
"""What a simpler clock may do without: a fraction of a second, a halt bit, a latch, being opened."""

MakeBus = Callable[[], Bus]
W = TypeVar("W")

PAN_DOCS: Final = "Pan Docs, memory bank controllers"
SECOND_US: Final = 1_000_000
MARGIN_US: Final = 10_000
"""How far a wait stays away from a tick, so that a clock that counts in cycles passes."""


class NotConforming(AssertionError):
    """A clock fails a check: what was done, what was expected, and what was seen."""

    def __init__(self, situation: str, expected: object, seen: object) -> None:
        super().__init__(f"{situation}: expected {_said(expected)}, seen {_said(seen)}")
        self.situation: str = situation
        self.expected: str = _said(expected)
        self.seen: str = _said(seen)


def _said(value: object) -> str:
    """A value for people: bytes in hexadecimal."""
    if isinstance(value, (list, tuple)):
        return " ".join("nothing" if byte is None else f"{byte:02X}h" for byte in value)
    return str(value)


@dataclass(frozen=True, slots=True, kw_only=True)
class Failure:
    """One check that a clock fails."""

    name: str
    """The check's name."""
    source: str
    """Where the rule is published."""
    situation: str
    """What was done, in words."""
    expected: str
    seen: str

    def __str__(self) -> str:
        return f"{self.name}: {self.situation}: expected {self.expected}, seen {self.seen} ({self.source})"


@dataclass(frozen=True, slots=True, kw_only=True, repr=False)
class Check:
    """One rule of a kind of clock that can be tried on a bus.

    `needs` is what a clock must have for it: `fraction` (of a second), `halt`, `latch`, `open`.
    """

    name: str
    """Its name, of its own among the checks of its kind."""
    source: str
    """Where the rule is published; "assumed" where no source says it."""
    needs: tuple[Need, ...] = ()
    try_on: Callable[[Any], None]
    """What it does to a bus; for `require` and `run`."""

    def require(self, make_bus: MakeBus) -> None:
        """Raise `NotConforming`, an `AssertionError`, if a clock fails the check.

        `make_bus` makes a clock with the accesses of `Bus`, as it is when nothing was ever written to
        it. Under pytest this is a test a check:

            @pytest.mark.parametrize("check", conformance.checks("counter"), ids=str)
            def test_clock(check): check.require(make_bus)
        """
        if not callable(make_bus):
            raise BadArgument("make_bus is a function that makes a clock", found=shown(make_bus))
        bus = make_bus()
        check_bus(bus, "clock")
        self.try_on(bus)

    def failure(self, make_bus: MakeBus) -> Failure | None:
        """What is wrong with a clock by this check, None for nothing; whatever it raises is a failure."""
        try:
            self.require(make_bus)
        except NotConforming as error:
            situation, expected, seen = error.situation, error.expected, error.seen
        except BadArgument:
            raise
        except Exception as error:  # it is somebody's clock, at the beginning of its life
            situation, expected = "an access", "an answer"
            seen = f"{type(error).__name__}: {error}"
        else:
            return None
        return Failure(
            name=self.name, source=self.source, situation=situation, expected=expected, seen=seen
        )

    def __str__(self) -> str:
        return self.name

    def __repr__(self) -> str:
        return f"<Check {self.name}: {self.source}>"


class Checks(Generic[W]):
    """The checks of one kind of clock as they are written down: each a function of a bus in its own words."""

    def __init__(self, in_words: Callable[[Bus], W]) -> None:
        self._in_words = in_words
        self._checks: list[Check] = []

    def __call__(
        self, name: str, source: str, *needs: Need
    ) -> Callable[[Callable[[W], None]], None]:
        """Take the function that follows as a check."""

        def add(rule: Callable[[W], None]) -> None:
            def try_on(bus: Bus) -> None:
                rule(self._in_words(bus))

            self._checks.append(Check(name=name, source=source, needs=needs, try_on=try_on))

        return add

    @property
    def all(self) -> tuple[Check, ...]:
        """The checks, in the order in which they were written down."""
        return tuple(self._checks)


@dataclass(frozen=True, slots=True, kw_only=True, repr=False)
class ConformanceReport:
    """What a clock was found to do: the checks that it passes, those that it fails, and those left out."""

    kind: str
    """The kind of clock."""
    passed: tuple[str, ...]
    """The names of the checks that it passes."""
    failures: tuple[Failure, ...]
    """The checks that it fails, each with what was expected and seen."""
    left_out: tuple[str, ...]
    """The names of the checks that were not tried, since the clock lacks what they need."""

    @property
    def ok(self) -> bool:
        """Whether no check that was tried failed; those left out do not count."""
        return not self.failures

    def __str__(self) -> str:
        head = (
            f"{self.kind}: {len(self.passed)} passed, {len(self.failures)} failed, "
            f"{len(self.left_out)} left out"
        )
        lines = [head, *(f"FAIL {failure}" for failure in self.failures)]
        lines += [f"left out {name}" for name in self.left_out]
        return "\n".join(lines)

    def __repr__(self) -> str:
        return f"<ConformanceReport {str(self).splitlines()[0]}>"


def expect(situation: str, expected: object, seen: object) -> None:
    """Raise `NotConforming` unless what was seen is what was expected."""
    if expected != seen:
        raise NotConforming(situation, expected, seen)
