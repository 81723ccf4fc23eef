"""The minute-of-day clock: a 12-bit minute of the day, a 12-bit day counter, an event time.

A 4-bit microcontroller keeps them as nibbles, the least significant first: Pan Docs, chapter on
memory bank controllers. What the source is silent on is assumed, and said to be.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import ClassVar, Final, Self

from rtcsave.clocks.arguments import signed_seconds, take_time, whole_seconds
from rtcsave.clocks.clock import Clock
from rtcsave.clocks.fields import Bits, ClockField, Register
from rtcsave.errors import BadArgument, shown
from rtcsave.units import DAY_S, MINUTE_S
from rtcsave.when import Seconds

MINUTES_PER_DAY: Final = 1_440
DAYS: Final = 4_096
_WIDTH: Final = 4_096


def _nibbles(field: str, first: int) -> tuple[Register, ...]:
    return tuple(
        Register(
            name=f"{field}_{digit}",
            address=first + digit,
            bits=(Bits(field=field, width=4, onto=4 * digit),),
        )
        for digit in range(3)
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class MinuteClock(Clock):
    """The minute of the day (0 to 1439), a day counter (0 to 4095), and the time of an event.

    It shows no seconds: `advance` takes whole minutes only. A minute of the day past 1439 is legal,
    and assumed to count up to 4095 and then to return to 0 without a new day; so is day 0 after
    4095, of which nothing is kept. The source says of both only that the minute rolls over at 1440.
    """

    minute_of_day: int
    """0 to 1439 in range; 12 bits."""
    day_counter: int
    """0 to 4095; 12 bits."""
    event_minutes: int = 0
    """The minute of the day of the event; 12 bits."""
    event_days: int = 0
    """The day of the event; 12 bits."""

    kind: ClassVar[str] = "minutes"
    top: ClassVar[str] = "day_counter"
    resolution_s: ClassVar[int] = MINUTE_S
    period_s: ClassVar[int] = DAYS * DAY_S
    FIELDS: ClassVar[tuple[ClockField, ...]] = (
        ClockField(name="minute_of_day", width=12, proper=MINUTES_PER_DAY),
        ClockField(name="day_counter", width=12, proper=DAYS),
        ClockField(name="event_minutes", width=12, proper=_WIDTH),
        ClockField(name="event_days", width=12, proper=_WIDTH),
    )
    REGISTERS: ClassVar[tuple[Register, ...]] = (
        *_nibbles("minute_of_day", 0x10),
        *_nibbles("day_counter", 0x13),
        *_nibbles("event_minutes", 0x58),
        *_nibbles("event_days", 0x5B),
    )

    @property
    def seconds_to_overflow(self) -> int:
        """Seconds of running until the day counter returns to 0."""
        days = DAYS - self.day_counter
        start = _WIDTH if self.minute_of_day >= MINUTES_PER_DAY else 0
        return (start - self.minute_of_day + days * MINUTES_PER_DAY) * MINUTE_S

    def advance(self, seconds: Seconds) -> Self:
        """Return the clock as it reads that many seconds later: whole minutes, 0 or more."""
        left = signed_seconds(whole_seconds(seconds), MINUTE_S) // MINUTE_S
        minute = self.minute_of_day
        if minute >= MINUTES_PER_DAY:
            out = _WIDTH - minute
            if left < out:
                return self.with_values(minute_of_day=minute + left)
            minute, left = 0, left - out
        days, minute = divmod(minute + left, MINUTES_PER_DAY)
        return self.with_values(minute_of_day=minute, day_counter=(self.day_counter + days) % DAYS)

    def to_seconds(self) -> int:
        """The reading as seconds since day 0, 00:00; `BadArgument` if out of range."""
        self.refuse_out_of_range()
        return self._said_s()

    def _said_s(self) -> int:
        return self.day_counter * DAY_S + self.minute_of_day * MINUTE_S

    @classmethod
    def from_seconds(cls, n: int) -> Self:
        """The clock that reads `n` seconds since day 0, 00:00: whole minutes below the period."""
        total_s = signed_seconds(whole_seconds(n, "n"), MINUTE_S, "n")
        if total_s >= cls.period_s:
            raise BadArgument(
                f"the clock tells only {DAYS} days apart",
                found=f"{shown(total_s)} s",
                expected=f"0 to {cls.period_s - MINUTE_S} s",
            )
        day, rest = divmod(total_s, DAY_S)
        return cls(minute_of_day=rest // MINUTE_S, day_counter=day)

    def registers(self) -> bytes:
        """Twelve nibbles, a byte each: locations 10h to 15h, then 58h to 5Dh."""
        fields = (self.minute_of_day, self.day_counter, self.event_minutes, self.event_days)
        return bytes(value >> shift & 0xF for value in fields for shift in (0, 4, 8))

    @classmethod
    def from_words(cls, words: Sequence[int]) -> Self:
        """The clock in twelve words, a nibble each; other bits are dropped."""
        try:
            values = [
                sum((words[first + digit] & 0xF) << 4 * digit for digit in range(3))
                for first in (0, 3, 6, 9)
            ]
            return cls(
                minute_of_day=values[0],
                day_counter=values[1],
                event_minutes=values[2],
                event_days=values[3],
            )
        except (TypeError, ValueError):
            raise BadArgument(
                "these are no words of a clock", found=shown(words), expected="twelve whole numbers"
            ) from None

    def as_time(self) -> tuple[Self, int]:
        """The clock in range that reads the time this one says, and how often it overflows."""
        overflows, rest = divmod(self._said_s(), self.period_s)
        return self._at(rest), overflows

    def _at(self, n: int) -> Self:
        there = self.from_seconds(n)
        return self.with_values(minute_of_day=there.minute_of_day, day_counter=there.day_counter)

    def shifted(self, seconds: Seconds) -> tuple[Self, int]:
        """The clock in range set forward or back by whole minutes, and the overflows that makes."""
        said = self.to_seconds() + signed_seconds(seconds, MINUTE_S)
        overflows, rest = divmod(said, self.period_s)
        return self._at(rest), overflows

    @classmethod
    def _blank(cls) -> Self:
        return cls.from_seconds(0)

    @classmethod
    def from_reading(cls, text: str) -> Self:
        """The clock that shows a reading: `12d03:04`, or out of range `12d+1500min`; no event."""
        odd = re.fullmatch(r"(\d{1,4})d\+(\d{1,4})min", text) if isinstance(text, str) else None
        if odd is not None:
            return cls(day_counter=int(odd[1]), minute_of_day=int(odd[2]))
        return super(MinuteClock, cls).from_reading(text)

    def with_time(self, parts: Mapping[str, int]) -> Self:
        """The clock showing a day, an hour and a minute."""
        day, hour, minute, second = take_time(parts, ("day", "hour", "minute", "second"))
        if second:
            raise BadArgument("the minute clock shows no seconds", found=f"{second} s")
        return self.with_values(day_counter=day, minute_of_day=hour * 60 + minute)

    def reading(self) -> str:
        """The time as a reading: `12d03:04`; a minute out of range as `12d+1500min`."""
        if not self.in_range:
            return f"{self.day_counter}d+{self.minute_of_day}min"
        return f"{self.day_counter}d{self.minute_of_day // 60:02d}:{self.minute_of_day % 60:02d}"
