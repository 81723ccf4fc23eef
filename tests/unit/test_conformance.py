"""Deliberately wrong clocks are caught, each by the check that names its fault."""

from __future__ import annotations

from typing import Any

import pytest

from rtcsave import BadArgument, CalendarChip, CounterChip, MinuteChip, conformance
from rtcsave.conformance import Failure, NotConforming


class ForgetsCarry(CounterChip):
    def run(self, seconds: float | None = None, *, ticks: int | None = None) -> None:
        super().run(seconds, ticks=ticks)
        self._clock = self._clock.with_values(carry=False)


class RestartsOnMinutes(CounterChip):
    def write(self, address: int, value: int) -> None:
        super().write(address, value)
        if address == 0xA000 and self._select == 0x09:
            self._restart_unit()


class KeepsTheFractionOnSeconds(CounterChip):
    def _restart_unit(self) -> None:
        pass


class LatchesLate(CounterChip):
    def write(self, address: int, value: int) -> None:
        super().write(address, value)
        if 0x6000 <= address <= 0x7FFF and value == 0:
            self._latched = self._clock.registers()


class ReadsLive(CounterChip):
    def read(self, address: int) -> int | None:
        self._latched = self._clock.registers()
        return super().read(address)


class NeverCloses(CounterChip):
    def write(self, address: int, value: int) -> None:
        self._open = True
        super().write(address, value or 0x0A if address < 0x2000 else value)


class CarriesPastRange(CounterChip):
    """Takes 63 seconds for a minute and more."""

    def run(self, seconds: float | None = None, *, ticks: int | None = None) -> None:
        self._clock = self._clock.as_time()[0]
        super().run(seconds, ticks=ticks)


class KeepsEveryBit(CounterChip):
    def read(self, address: int) -> int | None:
        value = super().read(address)
        return value | 0x80 if value and self._select == 0x08 else value


class LosesTheFractionOnHalt(CounterChip):
    def write(self, address: int, value: int) -> None:
        super().write(address, value)
        if self._clock.halt:
            self._restart_unit()


class RunsWhileHalted(CounterChip):
    def run(self, seconds: float | None = None, *, ticks: int | None = None) -> None:
        halted = self._clock.halt
        self._clock = self._clock.with_values(halt=False)
        super().run(seconds, ticks=ticks)
        self._clock = self._clock.with_values(halt=halted)


class ForgetsTheEvent(MinuteChip):
    def _set_time(self, staged: bytes) -> None:
        self._set_nibbles(0x10, staged)


class ADayOf1440Days(MinuteChip):
    def run(self, seconds: float | None = None, *, ticks: int | None = None) -> None:
        super().run(seconds, ticks=ticks)
        if self._nibbles[0x14] == 0 and self._nibbles[0x15] == 1:
            self._set_nibbles(0x13, bytes(3))


class LeapYearByItsDigits(CalendarChip):
    def run(self, seconds: float | None = None, *, ticks: int | None = None) -> None:
        clock = self.snapshot()
        self._set(0, clock.with_values(leap_counter=clock.year % 4).registers())
        super().run(seconds, ticks=ticks)


class TimerStopsTheDivider(CalendarChip):
    def run(self, seconds: float | None = None, *, ticks: int | None = None) -> None:
        if self.timer_enabled:
            super().run(seconds, ticks=ticks)


WRONG: list[tuple[str, Any, str]] = [
    ("counter", ForgetsCarry, "overflow-sets-carry"),
    ("counter", RestartsOnMinutes, "writing-minutes-keeps-the-fraction"),
    ("counter", KeepsTheFractionOnSeconds, "writing-seconds-begins-a-second"),
    ("counter", LatchesLate, "latch-needs-00-then-01"),
    ("counter", ReadsLive, "latched-registers-stay"),
    ("counter", NeverCloses, "closed-drops-writes"),
    ("counter", CarriesPastRange, "seconds-63-to-0-no-carry"),
    ("counter", KeepsEveryBit, "valid-bits"),
    ("counter", LosesTheFractionOnHalt, "halt-freezes-the-fraction"),
    ("counter", RunsWhileHalted, "halted-no-tick"),
    ("minutes", ForgetsTheEvent, "setting-keeps-the-time-to-the-event"),
    ("minutes", ADayOf1440Days, "day-255-counts-on"),
    ("calendar", LeapYearByItsDigits, "leap-counter-1-has-none"),
    ("calendar", TimerStopsTheDivider, "the-fraction-runs-on-while-the-timer-is-off"),
]


@pytest.mark.parametrize(("kind", "make_bus", "name"), WRONG, ids=[w[1].__name__ for w in WRONG])
def test_a_wrong_clock_is_caught(kind: str, make_bus: Any, name: str) -> None:
    report = conformance.run(kind, make_bus)
    assert not report.ok
    failure = next(failure for failure in report.failures if failure.name == name)
    assert failure.source
    assert failure.expected != failure.seen
    assert len(report.passed) > len(report.failures)  # and it is not blamed for everything
    check = next(check for check in conformance.checks(kind) if check.name == name)
    with pytest.raises(NotConforming, match="expected"):
        check.require(make_bus)


def test_the_report_of_a_right_clock() -> None:
    report = conformance.run("counter", CounterChip)
    assert (report.ok, report.failures, report.left_out) == (True, (), ())
    assert len(report.passed) == len(conformance.checks("counter")) == 32
    assert str(report) == "counter: 32 passed, 0 failed, 0 left out"
    assert repr(report) == "<ConformanceReport counter: 32 passed, 0 failed, 0 left out>"


def test_the_report_of_a_wrong_one() -> None:
    report = conformance.run("counter", ForgetsCarry, lacks=("fraction",))
    assert str(report).splitlines()[:2] == [
        "counter: 24 passed, 2 failed, 6 left out",
        "FAIL overflow-sets-carry: 3Bh 3Bh 17h FFh 01h was written and a second passed: expected 00h 00h 00h "
        "00h 80h, seen 00h 00h 00h 00h 00h (Pan Docs, memory bank controllers; hardware measurements, "
        "public domain)",
    ]


class TestWhatAClockLacks:
    def test_its_checks_are_left_out(self) -> None:
        for need, kept in (("latch", 29), ("open", 30), ("halt", 29), ("fraction", 26)):
            assert len(conformance.checks("counter", lacks=(need,))) == kept  # type: ignore[arg-type]
        assert len(conformance.checks("counter", lacks="latch")) == 29  # type: ignore[arg-type]

    def test_a_clock_that_reads_live_passes_without_the_latch(self) -> None:
        assert conformance.run("counter", ReadsLive, lacks=("latch",)).ok

    def test_a_clock_of_whole_seconds_passes_without_fractions(self) -> None:
        class WholeSeconds(CounterChip):
            owed_us = 0.0

            def wait(self, microseconds: float) -> None:
                self.owed_us += microseconds
                whole, self.owed_us = divmod(self.owed_us, 1_000_000)
                self.run(seconds=whole)

        assert conformance.run("counter", WholeSeconds, lacks=("fraction",)).ok
        assert not conformance.run("counter", WholeSeconds).ok


def test_a_clock_that_raises_fails_and_does_not_stop_the_rest() -> None:
    class Unfinished:
        def read(self, address: int) -> int | None:
            return 0

        def write(self, address: int, value: int) -> None:
            raise NotImplementedError("soon")

        def wait(self, microseconds: int) -> None:
            pass

    report = conformance.run("counter", Unfinished)
    assert not report.passed
    assert len(report.failures) == 32
    assert report.failures[0] == Failure(
        name="valid-bits",
        source="hardware measurements, public domain",
        situation="an access",
        expected="an answer",
        seen="NotImplementedError: soon",
    )


def test_a_clock_that_never_gets_ready_is_given_up() -> None:
    report = conformance.run("minutes", lambda: MinuteChip(busy_polls=10**9))
    assert {failure.situation for failure in report.failures} == {
        "the semaphore was read 10,000 times"
    }


@pytest.mark.parametrize(
    "call",
    [
        lambda: conformance.checks("sundial"),
        lambda: conformance.run("sundial", CounterChip),
        lambda: conformance.checks("counter", lacks=("legs",)),  # type: ignore[arg-type]
        lambda: conformance.run("counter", CounterChip()),  # type: ignore[arg-type]
        lambda: conformance.run("counter", object),  # type: ignore[arg-type]
    ],
)
def test_what_is_not_there(call: Any) -> None:
    with pytest.raises(BadArgument):
        call()


@pytest.mark.parametrize("kind", ["counter", "minutes", "calendar"])
def test_every_check_has_a_name_of_its_own_and_a_source(kind: str) -> None:
    checks = conformance.checks(kind)
    assert len(checks) == len({check.name for check in checks})
    for check in checks:
        assert any(title in check.source for title in ("Pan Docs", "measurements", "handbook"))
