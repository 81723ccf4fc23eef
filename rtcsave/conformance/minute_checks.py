"""The minute-of-day clock's rules, each as a check.

Pan Docs, chapter on memory bank controllers. Which digit lies where in the staging area is assumed.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Final

from rtcsave.chips import Bus
from rtcsave.chips.minute_chip import (
    COMMAND,
    EVENT,
    READY,
    RESPONSE,
    RUN,
    SEMAPHORE,
    STAGING,
    TIME,
    WINDOW_START,
)
from rtcsave.conformance.checking import PAN_DOCS, Checks, NotConforming, expect

_STAGED: Final = f"{PAN_DOCS}; the order of the digits in the staging area is assumed"
_MOST_POLLS: Final = 10_000
_MINUTE_US: Final = 60_000_000
_MARGIN_US: Final = 1_000_000


class _Bus:
    """The accesses of a game, one word each."""

    def __init__(self, bus: Bus) -> None:
        self.bus = bus

    def ready(self) -> None:
        """Map the semaphore and wait until bit 0 is set; bit 7 is not connected."""
        self.bus.write(0x0000, SEMAPHORE)
        value: int | None = 0
        for _ in range(_MOST_POLLS):
            value = self.bus.read(WINDOW_START)
            if value is not None and value & READY:
                return
            self.bus.wait(10)
        raise NotConforming("the semaphore was read 10,000 times", "bit 0 set", value)

    def command(self, command: int, argument: int) -> None:
        self.ready()
        self.bus.write(0x0000, COMMAND)
        self.bus.write(WINDOW_START, command << 4 | argument)
        self.bus.write(0x0000, SEMAPHORE)
        self.bus.write(WINDOW_START, RUN)
        self.ready()

    def response(self) -> int | None:
        self.bus.write(0x0000, RESPONSE)
        value = self.bus.read(WINDOW_START)
        return None if value is None else value & 0xF

    def point_at(self, location: int) -> None:
        self.command(4, location & 0xF)
        self.command(5, location >> 4)

    def put(self, location: int, nibbles: Sequence[int]) -> None:
        self.point_at(location)
        for nibble in nibbles:
            self.command(3, nibble)

    def get(self, location: int, count: int = 6) -> list[int | None]:
        self.point_at(location)
        nibbles = []
        for _ in range(count):
            self.command(1, 0)
            nibbles.append(self.response())
        return nibbles

    def set_time(self, minute: int, day: int) -> None:
        self.put(STAGING, (*_nibbles(minute), *_nibbles(day)))
        self.command(6, 1)


def _nibbles(value: int) -> list[int]:
    return [value & 0xF, value >> 4 & 0xF, value >> 8]


_check: Final = Checks(_Bus)


@_check("status-answers-1", PAN_DOCS)
def _status(clock: _Bus) -> None:
    clock.command(6, 2)
    expect("the status was asked for (62h)", 1, clock.response())


@_check("nibbles-are-kept", PAN_DOCS)
def _kept(clock: _Bus) -> None:
    clock.put(0x7E, (1, 2, 3))
    expect("1, 2, 3 were written from 7Eh on", [1, 2, 3], clock.get(0x7E, 3))


@_check("the-address-steps", PAN_DOCS)
def _steps(clock: _Bus) -> None:
    clock.put(0x2F, (4, 5))
    expect("4, 5 were written from 2Fh on", [5], clock.get(0x30, 1))


@_check("setting-and-copying-the-time", _STAGED)
def _set(clock: _Bus) -> None:
    clock.set_time(755, 300)
    clock.put(STAGING, (0,) * 6)
    clock.command(6, 0)
    expect(
        "minute 755 of day 300 was set, and copied to be read",
        [*_nibbles(755), *_nibbles(300)],
        clock.get(STAGING),
    )


@_check("the-time-lies-at-10h", _STAGED)
def _place(clock: _Bus) -> None:
    clock.set_time(755, 300)
    expect(
        "minute 755 of day 300 was set, and read from 10h on",
        [*_nibbles(755), *_nibbles(300)],
        clock.get(TIME),
    )


@_check("location-06h-is-kept", _STAGED)
def _sixth(clock: _Bus) -> None:
    clock.put(0x06, (7,))
    clock.command(6, 0)
    expect("7 was written to 06h and the time copied", [7], clock.get(0x06, 1))


_COUNTING: Final = (
    ("a-minute-is-a-tick", (755, 300), (756, 300)),
    ("minute-1439-carries-into-days", (1_439, 300), (0, 301)),
    ("day-255-counts-on", (1_439, 255), (0, 256)),
    ("day-4095-to-0", (1_439, 4_095), (0, 0)),
)


def _counts(before: tuple[int, int], after: tuple[int, int]) -> Callable[[_Bus], None]:
    def rule(clock: _Bus) -> None:
        clock.set_time(*before)
        clock.bus.wait(_MINUTE_US + _MARGIN_US)
        expect(
            f"minute {before[0]} of day {before[1]} was set and 61 s passed",
            [*_nibbles(after[0]), *_nibbles(after[1])],
            clock.get(TIME),
        )

    return rule


for _name, _before, _after in _COUNTING:
    _check(_name, _STAGED)(_counts(_before, _after))


@_check("setting-keeps-the-time-to-the-event", _STAGED)
def _event(clock: _Bus) -> None:
    clock.set_time(100, 5)
    clock.put(EVENT, (*_nibbles(160), *_nibbles(7)))
    clock.set_time(0, 9)
    expect(
        "the event was two days and an hour away when the time was set to minute 0 of day 9",
        [*_nibbles(60), *_nibbles(11)],
        clock.get(EVENT),
    )


MINUTE_CHECKS: Final = _check.all
