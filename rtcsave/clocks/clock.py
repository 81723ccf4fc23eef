"""What the clock values of all kinds have in common."""

from __future__ import annotations

import contextlib
from abc import ABC, abstractmethod
from collections.abc import Mapping, Sequence
from typing import ClassVar, Literal, Self

from rtcsave.buffers import Buffer
from rtcsave.clocks.arguments import take_registers, whole_seconds
from rtcsave.clocks.fields import ClockField, OutOfRange, Register
from rtcsave.errors import BadArgument, shown
from rtcsave.when import Seconds, parse_clock_time


class Clock(ABC):
    """A clock's registers as a value, with the rules by which they count.

    Every kind names its `FIELDS` and `REGISTERS`, the field at the `top` that overflows, its
    resolution and its period in seconds, and counts with `advance`. An overflow that never comes is None.
    """

    __slots__ = ()

    kind: ClassVar[str]
    top: ClassVar[str]
    FIELDS: ClassVar[tuple[ClockField, ...]]
    REGISTERS: ClassVar[tuple[Register, ...]]
    resolution_s: ClassVar[int]
    period_s: ClassVar[int]

    def __post_init__(self) -> None:
        """Raise `BadArgument` for the first field whose value does not fit its width."""
        for field in self.FIELDS:
            value = getattr(self, field.name)
            if field.is_flag:
                if not isinstance(value, bool):
                    raise BadArgument(
                        f"{field.name} is a flag", found=shown(value), expected="True or False"
                    )
            elif type(value) is not int:
                raise BadArgument(
                    f"{field.name} must be a whole number",
                    found=f"{shown(value)} ({type(value).__name__})",
                    expected=f"an int from 0 to {(1 << field.width) - 1}",
                )
            elif not 0 <= value < 1 << field.width:
                raise BadArgument(
                    f"{field.name} does not fit its {field.width} bits",
                    found=shown(value),
                    expected=f"0 to {(1 << field.width) - 1}",
                )

    @property
    def in_range(self) -> bool:
        """Whether every field shows a value that the clock reaches by counting."""
        return not self.out_of_range()

    @property
    def halted(self) -> bool:
        """Whether the clock's halt bit is set; False for a clock that has none."""
        return bool(getattr(self, "halt", False))

    @property
    def carried(self) -> bool:
        """Whether the clock's carry bit says that its counter has overflowed; False where it has none."""
        return bool(getattr(self, "carry", False))

    @property
    @abstractmethod
    def seconds_to_overflow(self) -> int | None:
        """Seconds of running until the counter overflows; None for a clock that never does."""

    @abstractmethod
    def advance(self, seconds: Seconds) -> Self:
        """Return the clock as it reads after that many seconds of real time."""

    @abstractmethod
    def to_seconds(self) -> int:
        """The reading of a clock in range, as seconds since it last read zero."""

    @abstractmethod
    def registers(self) -> bytes:
        """The clock's registers, one byte each."""

    @classmethod
    def from_registers(cls, data: Buffer, *, stray: Literal["refuse", "drop"] = "refuse") -> Self:
        """The clock in register bytes, ordered as `registers()` gives them.

        A bit past a register's width (the masks of `REGISTERS`) raises `BadArgument`, or is dropped with
        `stray="drop"`: the chip itself never holds one.
        """
        return cls.from_words(take_registers(data, cls.REGISTERS, stray, cls.kind))

    @classmethod
    @abstractmethod
    def from_words(cls, words: Sequence[int]) -> Self:
        """The clock in words of a block that hold one register each; stray bits are dropped."""

    @abstractmethod
    def as_time(self) -> tuple[Self, int]:
        """The clock in range that reads the time this one says, and how often that overflows."""

    def zeroed(self) -> Self:
        """The clock with every field that is out of range at its lowest value, as counting makes it."""
        lowest = {field.name: field.low for field in self.out_of_range()}
        return self.with_values(**lowest) if lowest else self

    @abstractmethod
    def shifted(self, seconds: Seconds) -> tuple[Self, int]:
        """The clock in range set forward, or back, and how often that went past an end.

        Negative below zero. Flags stay, a halted clock is set too. `BadArgument` for a clock past
        its range, and for a shift that its resolution cannot show.
        """

    def with_overflow_mark(self) -> Self:
        """The clock with carry set, where it has such a bit."""
        return self.with_values(carry=True) if "carry" in self.values() else self

    @classmethod
    def from_reading(cls, text: str) -> Self:
        """The clock that shows a reading, as `reading()` writes it; the inverse of that.

        What a reading does not show is 0 (flags, an event, a weekday; a leap counter is that of the
        year). `BadArgument` for a text that is no reading of this kind of clock, or does not fit.
        """
        return cls._blank().with_time(parse_clock_time(text))

    @classmethod
    @abstractmethod
    def _blank(cls) -> Self:
        """A clock in range that shows its first instant."""

    @abstractmethod
    def with_time(self, parts: Mapping[str, int]) -> Self:
        """The clock showing a time that was typed, part by part; flags and all else stay.

        `BadArgument` for parts that this kind of clock does not have, or that do not fit.
        """

    @abstractmethod
    def reading(self) -> str:
        """The time that the registers show, for people."""

    @property
    def says_a_time(self) -> bool:
        """Whether registers out of range still say exactly one time."""
        return True

    def illegal_digits(self) -> tuple[tuple[str, int], ...]:
        """Registers that hold no proper digit, for clocks that count in decimal."""
        return ()

    def refuse_out_of_range(self) -> None:
        """Raise `BadArgument` for the first field out of range."""
        for field in self.out_of_range():
            raise BadArgument(
                f"the clock shows no time: {field.name} is out of range",
                found=str(field.value),
                expected=f"{field.low} to {field.high}",
                remedy="repair it first: `plan_repair` brings it into range (an invalid date only by "
                "`also=register-past-range`)",
            )

    def overflows_within(self, seconds: Seconds) -> int:
        """How often the counter overflows while the clock counts that many seconds."""
        first, counted_s = self.seconds_to_overflow, whole_seconds(seconds)
        if first is None or counted_s < first:
            return 0
        return 1 + (counted_s - first) // self.period_s

    def out_of_range(self) -> tuple[OutOfRange, ...]:
        """Fields that are out of range, with what would be in range."""
        return tuple(
            OutOfRange(field.name, getattr(self, field.name), 0, field.proper - 1)
            for field in self.FIELDS
            if field.proper is not None and getattr(self, field.name) >= field.proper
        )

    def values(self) -> dict[str, int | bool]:
        """Every field by name, in the order of the table."""
        return {field.name: getattr(self, field.name) for field in self.FIELDS}

    def with_values(self, **values: int | bool) -> Self:
        """The clock with some fields replaced, by name."""
        return self.from_values({**self.values(), **values})

    @classmethod
    def nearest(cls, values: Mapping[str, int]) -> Self:
        """The clock with these field values, each brought down to the most that its field holds."""
        widths = {field.name: field.width for field in cls.FIELDS}
        if not isinstance(values, Mapping) or not set(values) <= set(widths):
            raise cls._other_fields(values)
        return cls.from_values(
            {name: min(v, (1 << widths[name]) - 1) for name, v in values.items()}
        )

    @classmethod
    def from_values(cls, values: Mapping[str, int]) -> Self:
        """The clock with these field values; flags may be given as 0 and 1.

        `BadArgument` for a field that this kind of clock does not have, and where one that it needs
        is missing.
        """
        flags = {field.name for field in cls.FIELDS if field.is_flag}
        names = [field.name for field in cls.FIELDS]
        if isinstance(values, Mapping) and set(values) <= set(names):
            given = {name: bool(v) if name in flags else v for name, v in values.items()}
            with contextlib.suppress(TypeError):  # for one that is missing
                return cls(**given)
        raise cls._other_fields(values)

    @classmethod
    def _other_fields(cls, values: object) -> BadArgument:
        return BadArgument(
            f"these are not the fields of a {cls.kind} clock",
            found=shown(values),
            expected=", ".join(field.name for field in cls.FIELDS),
        )
