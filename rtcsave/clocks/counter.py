"""The day-counter clock: seconds, minutes, hours, a 9-bit day counter, halt and carry.

Fields, widths and proper ranges: Pan Docs, memory bank controllers, "Clock Counter Registers".
Masks and counting out of range: hardware measurements, public domain.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import ClassVar, Final, Self, TypeVar

from rtcsave.clocks.arguments import signed_seconds, take_time, whole_seconds
from rtcsave.clocks.clock import Clock
from rtcsave.clocks.fields import Bits, ClockField, Register
from rtcsave.clocks.registers import Range, step, ticks_for
from rtcsave.errors import BadArgument, shown
from rtcsave.units import COUNTER_DAYS, COUNTER_PERIOD_S, DAY_S, HOUR_S, MINUTE_S
from rtcsave.when import Seconds

FIELDS: Final = (
    ClockField(name="seconds", width=6, proper=60),
    ClockField(name="minutes", width=6, proper=60),
    ClockField(name="hours", width=5, proper=24),
    ClockField(name="day_counter", width=9, proper=COUNTER_DAYS),
    ClockField(name="halt", width=1),
    ClockField(name="carry", width=1),
)
_SECONDS, _MINUTES, _HOURS = (Range(field.proper or 0, field.values) for field in FIELDS[:3])


@dataclass(frozen=True, slots=True, kw_only=True)
class CounterClock(Clock):
    """The registers of the day-counter clock, 6, 6, 5 and 9 bits wide, with two flags.

    A value out of range (61 seconds, 29 hours) is legal here, as it is in the chip; one
    that does not fit its bits raises `BadArgument`.

    >>> CounterClock(seconds=59, minutes=59, hours=23, day_counter=511).advance(1)
    CounterClock(seconds=0, minutes=0, hours=0, day_counter=0, halt=False, carry=True)
    """

    seconds: int
    """0 to 59 in range; 6 bits."""
    minutes: int
    """0 to 59 in range; 6 bits."""
    hours: int
    """0 to 23 in range; 5 bits."""
    day_counter: int
    """0 to 511; 9 bits."""
    halt: bool = False
    """Whether the clock is halted."""
    carry: bool = False
    """Whether the day counter has overflowed since software cleared the bit."""

    kind: ClassVar[str] = "counter"
    top: ClassVar[str] = "day_counter"
    resolution_s: ClassVar[int] = 1
    period_s: ClassVar[int] = COUNTER_PERIOD_S
    FIELDS: ClassVar[tuple[ClockField, ...]] = FIELDS
    REGISTERS: ClassVar[tuple[Register, ...]] = (
        Register(name="seconds", address=0x08, bits=(Bits(field="seconds", width=6),)),
        Register(name="minutes", address=0x09, bits=(Bits(field="minutes", width=6),)),
        Register(name="hours", address=0x0A, bits=(Bits(field="hours", width=5),)),
        Register(name="day_low", address=0x0B, bits=(Bits(field="day_counter", width=8),)),
        Register(
            name="day_high",
            address=0x0C,
            bits=(
                Bits(field="day_counter", width=1, onto=8),
                Bits(field="halt", width=1, at=6),
                Bits(field="carry", width=1, at=7),
            ),
        ),
    )

    @property
    def in_range(self) -> bool:
        """Whether seconds, minutes and hours are in their proper range; the quick form of the table's."""
        return (
            self.seconds < _SECONDS.proper_values
            and self.minutes < _MINUTES.proper_values
            and self.hours < _HOURS.proper_values
        )

    @property
    def seconds_to_overflow(self) -> int | None:
        """Seconds of running until the day counter returns to 0 and sets carry.

        None for a halted clock. A register out of range is counted as the chip does.
        """
        if self.halt:
            return None
        hours = ticks_for(COUNTER_DAYS - self.day_counter, self.hours, _HOURS)
        minutes = ticks_for(hours, self.minutes, _MINUTES)
        return ticks_for(minutes, self.seconds, _SECONDS)

    def advance(self, seconds: Seconds) -> Self:
        """Return the clock as it reads that many seconds later, as the chip itself counts.

        `seconds` is a whole number, 0 or more, of any size; a fraction, a bool or a negative
        number raises `BadArgument`. The time taken does not depend on it. A halted clock comes
        back unchanged; carry is set when the day counter goes past 511, and never cleared.
        """
        left = whole_seconds(seconds)
        if self.halt:
            return self
        new_seconds, left = step(self.seconds, left, _SECONDS)
        new_minutes, left = step(self.minutes, left, _MINUTES)
        new_hours, left = step(self.hours, left, _HOURS)
        overflows, new_day = divmod(self.day_counter + left, COUNTER_DAYS)
        carry = self.carry or overflows > 0
        return _fitting(type(self), new_seconds, new_minutes, new_hours, new_day, False, carry)

    def to_seconds(self) -> int:
        """The reading as seconds since day 0, 00:00:00: 0 to 44,236,799.

        `BadArgument` if a register is out of range: such a clock says no single time.
        """
        if not self.in_range:
            self.refuse_out_of_range()
        return self._said_s()

    def _said_s(self) -> int:
        return (
            self.day_counter * DAY_S + self.hours * HOUR_S + self.minutes * MINUTE_S + self.seconds
        )

    @classmethod
    def from_seconds(cls, n: int, *, halt: bool = False, carry: bool = False) -> Self:
        """The clock that reads `n` seconds since day 0, 00:00:00; `n` from 0 to 44,236,799."""
        total_s = whole_seconds(n, "n")
        if total_s >= COUNTER_PERIOD_S:
            raise BadArgument(
                "the clock tells only 512 days apart",
                found=f"{shown(total_s)} s",
                expected=f"0 to {COUNTER_PERIOD_S - 1} s",
                remedy="advance() a clock to have overflows set carry",
            )
        day, rest = divmod(total_s, DAY_S)
        hour, rest = divmod(rest, HOUR_S)
        minute, second = divmod(rest, MINUTE_S)
        return cls(
            seconds=second, minutes=minute, hours=hour, day_counter=day, halt=halt, carry=carry
        )

    def registers(self) -> bytes:
        """The five register bytes: seconds, minutes, hours, day low, day high with the flags."""
        high = self.day_counter >> _DAY_TOP.onto | self.halt << _HALT.at | self.carry << _CARRY.at
        low = self.day_counter & _DAY_LOW_MASK
        return bytes((self.seconds, self.minutes, self.hours, low, high))

    @classmethod
    def from_words(cls, words: Sequence[int]) -> Self:
        """The clock in five words, one register each, that a layout took from a block.

        Bits past a register's width are dropped. The quick way in; for bytes of a caller's own use
        `from_registers`, which says what is wrong.
        """
        try:
            second, minute, hour, low, high = words
            day_top, halt, carry = _DAY_HIGH[high & _DAY_HIGH_MASK]
            return _fitting(
                cls,
                second & _SECONDS_MASK,
                minute & _MINUTES_MASK,
                hour & _HOURS_MASK,
                low & _DAY_LOW_MASK | day_top,
                halt,
                carry,
            )
        except (TypeError, ValueError):
            raise BadArgument(
                "these are no words of a clock", found=shown(words), expected="five whole numbers"
            ) from None

    def as_time(self) -> tuple[Self, int]:
        """The clock in range that reads the time this one says, and how often it overflows.

        61 s is 1 min 1 s, 29 h is 1 day 5 h. The second value is 1 where that lands past day
        511 (the returned clock then has carry set), else 0. Flags are kept.
        """
        overflows, rest = divmod(self._said_s(), COUNTER_PERIOD_S)
        return type(self).from_seconds(
            rest, halt=self.halt, carry=self.carry or overflows > 0
        ), overflows

    def shifted(self, seconds: Seconds) -> tuple[Self, int]:
        """The clock in range set forward or back by whole seconds, and the overflows that makes."""
        said = self.to_seconds() + signed_seconds(seconds, self.resolution_s)
        overflows, rest = divmod(said, COUNTER_PERIOD_S)
        return type(self).from_seconds(rest, halt=self.halt, carry=self.carry), overflows

    @classmethod
    def _blank(cls) -> Self:
        return cls.from_seconds(0)

    def with_time(self, parts: Mapping[str, int]) -> Self:
        """The clock showing a day, an hour, a minute and a second; flags stay."""
        day, hour, minute, second = take_time(parts, ("day", "hour", "minute", "second"))
        return self.with_values(day_counter=day, hours=hour, minutes=minute, seconds=second)

    def reading(self) -> str:
        """The registers as a reading: `12d03:04:05`."""
        return f"{self.day_counter}d{self.hours:02d}:{self.minutes:02d}:{self.seconds:02d}"


_new = object.__new__
_set_seconds = CounterClock.__dict__["seconds"].__set__
_set_minutes = CounterClock.__dict__["minutes"].__set__
_set_hours = CounterClock.__dict__["hours"].__set__
_set_day_counter = CounterClock.__dict__["day_counter"].__set__
_set_halt = CounterClock.__dict__["halt"].__set__
_set_carry = CounterClock.__dict__["carry"].__set__

_C = TypeVar("_C", bound=CounterClock)


def _fitting(
    cls: type[_C], seconds: int, minutes: int, hours: int, day_counter: int, halt: bool, carry: bool
) -> _C:
    """The clock with values that fit their widths, which the caller knows: the checks could not fail,
    so the slots are set directly, which is measurably quicker."""
    clock = _new(cls)
    _set_seconds(clock, seconds)
    _set_minutes(clock, minutes)
    _set_hours(clock, hours)
    _set_day_counter(clock, day_counter)
    _set_halt(clock, halt)
    _set_carry(clock, carry)
    return clock


# The masks are those of the table above.
_SECONDS_MASK, _MINUTES_MASK, _HOURS_MASK, _DAY_LOW_MASK, _DAY_HIGH_MASK = (
    register.mask for register in CounterClock.REGISTERS
)
_DAY_TOP, _HALT, _CARRY = CounterClock.REGISTERS[4].bits
_DAY_HIGH: Final = tuple(
    ((high & _DAY_TOP.mask) << _DAY_TOP.onto, high & _HALT.mask != 0, high & _CARRY.mask != 0)
    for high in range(256)
)
"""What the fifth register says, for each value of it: the top of the day counter, halt and carry."""
