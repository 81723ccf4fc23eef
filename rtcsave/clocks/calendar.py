"""The calendar clock: a general-purpose BCD part with a calendar, an alarm and a leap counter.

Registers, valid bits, leap counter and weekday: the handbook of this part (its title: README,
Sources), chapter 5 section 6, figures 5.26 to 5.32; an operating-system kernel's driver for it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import ClassVar, Self

from rtcsave.clocks.arguments import signed_seconds, take_time, whole_seconds
from rtcsave.clocks.calendar_days import (
    CENTURY_DAYS,
    YEARS,
    date_of_century,
    day_of_century,
    month_days,
)
from rtcsave.clocks.calendar_digits import (
    ALARM_BITS,
    LARGEST,
    REGISTERS,
    fields_in,
    illegal_digits,
    registers_of,
    time_in,
)
from rtcsave.clocks.clock import Clock
from rtcsave.clocks.fields import ClockField, OutOfRange, Register
from rtcsave.errors import BadArgument, shown
from rtcsave.units import DAY_S, HOUR_S, MINUTE_S
from rtcsave.when import Seconds


@dataclass(frozen=True, slots=True, kw_only=True)
class CalendarClock(Clock):
    """Date and time of day in decimal digits, with a leap counter of its own.

    `year` is two digits: which century is the software's business (`full_year`). `hours` is 0 to 23
    in both modes; `twelve_hour` says how the registers hold it. `leap_counter` 0 is a leap year; it
    steps with the year and need not agree with it. Which day `weekday` 0 means is up to the
    software. What proper digits can hold is legal (31 February, minute 75); where a digit of the time is
    none (Ah to Fh, hour 0 or 13 in 12-hour mode), `digits` keeps the 13 registers of the time, empty
    else, and the fields are as near as they can be. `alarm` holds the seven nibbles of the alarm, the
    units of its minutes lowest; no alarm is judged.
    """

    year: int
    month: int
    """1 to 12; 0 to 19 fit the digits."""
    day: int
    """1 to the days of the month; 0 to 39 fit the digits."""
    weekday: int
    hours: int
    minutes: int
    """0 to 59; to 79 fit the digits."""
    seconds: int
    """0 to 59; to 79 fit the digits."""
    leap_counter: int = 0
    twelve_hour: bool = False
    alarm: int = 0
    digits: bytes = field(default=b"", repr=False)

    kind: ClassVar[str] = "calendar"
    top: ClassVar[str] = "year"
    resolution_s: ClassVar[int] = 1
    period_s: ClassVar[int] = CENTURY_DAYS * DAY_S
    FIELDS: ClassVar[tuple[ClockField, ...]] = (
        ClockField(name="year", width=7, proper=YEARS),
        ClockField(name="month", width=5, proper=13),
        ClockField(name="day", width=6, proper=32),
        ClockField(name="weekday", width=3, proper=7),
        ClockField(name="hours", width=6, proper=24),
        ClockField(name="minutes", width=7, proper=60),
        ClockField(name="seconds", width=7, proper=60),
        ClockField(name="leap_counter", width=2, proper=4),
        ClockField(name="twelve_hour", width=1),
        ClockField(name="alarm", width=28, proper=1 << 28),
    )
    REGISTERS: ClassVar[tuple[Register, ...]] = REGISTERS

    def __post_init__(self) -> None:
        super(CalendarClock, self).__post_init__()
        for name, largest in LARGEST.items():
            if getattr(self, name) > largest:
                raise BadArgument(
                    f"{name} does not fit its digits",
                    found=str(getattr(self, name)),
                    expected=f"0 to {largest}",
                )

        if self.alarm & ~ALARM_BITS:
            raise BadArgument(
                "alarm has bits that its registers do not have",
                found=f"{self.alarm:07X}h",
                expected=f"no bit outside {ALARM_BITS:07X}h",
            )

    @property
    def leap(self) -> bool:
        """Whether the clock itself takes this year for a leap year: its counter is 0."""
        return self.leap_counter == 0

    @property
    def in_range(self) -> bool:
        """Whether every digit is one, and date and time of day exist by the clock's own calendar."""
        return not self.digits and not self.out_of_range()

    def out_of_range(self) -> tuple[OutOfRange, ...]:
        """Fields out of range, with what would be proper.

        Fields with an invalid digit are left to `illegal_digits`.
        """
        limits = {
            "year": (0, 99), "month": (1, 12), "day": (1, 31), "weekday": (0, 6),
            "hours": (0, 23), "minutes": (0, 59), "seconds": (0, 59),
        }  # fmt: skip
        if 1 <= self.month <= 12:
            limits["day"] = (1, month_days(self.month, self.leap))
        for name, _ in self.illegal_digits():
            limits.pop(name.partition("_")[0], None)
        return tuple(
            OutOfRange(name, getattr(self, name), low, high)
            for name, (low, high) in limits.items()
            if not low <= getattr(self, name) <= high
        )

    def illegal_digits(self) -> tuple[tuple[str, int], ...]:
        """Registers of the time that hold no proper digit: name and nibble."""
        return illegal_digits(self.digits, self.twelve_hour)

    @property
    def counts(self) -> bool:
        """Whether date and time exist, so that the clock counts; any weekday will do."""
        return not self.digits and not self._past_counting()

    def _past_counting(self) -> tuple[OutOfRange, ...]:
        return tuple(field for field in self.out_of_range() if field.name != "weekday")

    @property
    def says_a_time(self) -> bool:
        """Whether only the time of day is out of range: then what it says is certain."""
        date = {field.name for field in self.out_of_range()} & {"year", "month", "day"}
        return not self.digits and not date

    @property
    def seconds_to_overflow(self) -> int:
        """Seconds of running until the two digits of the year return to 00."""
        return self.period_s - self.as_time()[0].to_seconds()

    def advance(self, seconds: Seconds) -> Self:
        """Return the clock as it reads that many seconds later, in constant time.

        Months have their days, February 29 in a year whose leap counter is 0; the counter and
        the weekday step along. `BadArgument` for a clock out of range: no source says how the
        part counts from an invalid date.
        """
        by_s = whole_seconds(seconds)
        return self._at(self.to_seconds() + by_s)[0] if by_s else self

    def to_seconds(self) -> int:
        """Seconds since the year 00 began, by the clock's own leap years; refused if out of range."""
        if self.digits:
            name, nibble = self.illegal_digits()[0]
            raise BadArgument(
                f"the clock shows no time: {name} holds an invalid digit",
                found=f"{nibble:X}h",
                expected="a digit, 0 to 9",
                remedy="set it, or repair the save",
            )
        if self._past_counting():
            self.refuse_out_of_range()
        return self._day_of_century() * DAY_S + self._second_of_day()

    def _second_of_day(self) -> int:
        return self.hours * HOUR_S + self.minutes * MINUTE_S + self.seconds

    @property
    def _phase(self) -> int:
        """The leap counter of the year 00."""
        return (self.leap_counter - self.year) % 4

    def _day_of_century(self) -> int:
        """Days since the year 00 began, to a date whose month exists."""
        return day_of_century(self.year, self.month, self.day, self._phase)

    def _at(self, n: int) -> tuple[Self, int]:
        """The clock that many seconds after the year 00 began, the weekday stepped along, and how
        often the century ended."""
        moved_days = n // DAY_S - self._day_of_century()
        overflows, rest = divmod(n, self.period_s)
        days, second = divmod(rest, DAY_S)
        year, month, day = date_of_century(days, self._phase)
        clock = self.with_values(
            year=year,
            month=month,
            day=day,
            weekday=(self.weekday + moved_days) % 7,
            hours=second // HOUR_S,
            minutes=second // MINUTE_S % 60,
            seconds=second % 60,
            leap_counter=(self._phase + year) % 4,
        )
        return clock, overflows

    def full_year(self, year_base: int) -> int:
        """The year in four digits, for software whose year 00 is `year_base` (1980, 2000)."""
        return year_base + self.year

    def registers(self) -> bytes:
        """26 nibbles, a byte each: registers 0 to 12 of bank 0, then of bank 1."""
        return registers_of(self.values(), self.digits)

    @classmethod
    def from_words(cls, words: Sequence[int]) -> Self:
        """The clock in 26 words, a nibble each; other bits are dropped."""
        try:
            n = bytes(
                word & register.mask for word, register in zip(words, cls.REGISTERS, strict=True)
            )
            clock = cls.from_values(fields_in(n))
            return clock if clock.registers() == n else replace(clock, digits=n[:13])
        except (TypeError, ValueError):
            raise BadArgument(
                "these are no words of a clock", found=shown(words), expected="26 whole numbers"
            ) from None

    @classmethod
    def nearest(cls, values: Mapping[str, int]) -> Self:
        """The clock with these field values, each brought down to the most that its digits hold."""
        capped = {name: min(value, LARGEST.get(name, value)) for name, value in values.items()}
        capped["leap_counter"] = min(capped["leap_counter"], 3)
        capped["alarm"] &= ALARM_BITS
        return cls.from_values(capped)

    def as_time(self) -> tuple[Self, int]:
        """The clock in range that reads the time this one says, and how often the century overflows.

        Minute 75 is an hour and 15 minutes, 31 February the third or second of March; invalid
        digits count by their value; a month or a day 0 is taken for 1.
        """
        if self.in_range:
            return self, 0
        said = time_in(self.registers())
        years, month = divmod(max(said["month"], 1) - 1, 12)
        centuries, year = divmod(said["year"] + years, YEARS)
        base = self.with_values(
            year=year,
            month=month + 1,
            day=1,
            weekday=self.weekday % 7,
            hours=0,
            minutes=0,
            seconds=0,
            leap_counter=(self.leap_counter + years) % 4,
        )
        passed_s = (max(said["day"], 1) - 1) * DAY_S
        passed_s += said["hours"] * HOUR_S + said["minutes"] * MINUTE_S + said["seconds"]
        clock, overflows = base._at(base.to_seconds() + passed_s)
        return clock.with_values(weekday=base.weekday), centuries + overflows

    def zeroed(self) -> Self:
        """The clock with each field that is out of range at its lowest value."""
        if self.in_range:
            return self
        lowest = {field.name: field.low for field in self.out_of_range()}
        result = self.with_values(**lowest)
        return result if result.in_range else result.with_values(day=1)

    def shifted(self, seconds: Seconds) -> tuple[Self, int]:
        """The clock in range set forward or back, and how often that went past a century's end."""
        return self._at(self.to_seconds() + signed_seconds(seconds, 1))

    @classmethod
    def _blank(cls) -> Self:
        return cls.from_seconds(0)

    @classmethod
    def from_seconds(cls, n: int, *, leap_counter: int = 0) -> Self:
        """The clock that reads `n` seconds since the year 00 began, 24-hour mode, weekday 0 then.

        `leap_counter` is the one of the year 00: 0 for a year 00 that is a leap year.
        """
        start = cls(
            year=0,
            month=1,
            day=1,
            weekday=0,
            hours=0,
            minutes=0,
            seconds=0,
            leap_counter=leap_counter,
        )
        if whole_seconds(n, "n") >= cls.period_s:
            raise BadArgument(
                "the clock tells only a hundred years apart",
                found=f"{shown(n)} s",
                expected=f"0 to {cls.period_s - 1} s",
            )
        return start._at(n)[0]

    @classmethod
    def from_reading(cls, text: str) -> Self:
        """The clock that shows a date and a time: `26-03-10 14:15:00`; weekday 0, the year's leap counter."""
        clock = super(CalendarClock, cls).from_reading(text)
        return clock.with_values(leap_counter=clock.year % 4)

    def with_time(self, parts: Mapping[str, int]) -> Self:
        """The clock showing a date and a time of day; weekday and leap counter stay."""
        names = ("year", "month", "day", "hour", "minute", "second")
        year, month, day, hour, minute, second = take_time(parts, names)
        clock = self.with_values(
            year=year % YEARS, month=month, day=day, hours=hour, minutes=minute, seconds=second
        )
        clock.refuse_out_of_range()
        return clock

    def reading(self) -> str:
        """Date and time: `26-03-10 14:15:00`."""
        return (
            f"{self.year:02d}-{self.month:02d}-{self.day:02d} "
            f"{self.hours:02d}:{self.minutes:02d}:{self.seconds:02d}"
        )
