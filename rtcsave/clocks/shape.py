"""What every clock value has in common, so that nobody needs to ask which kind it is."""

from __future__ import annotations

import contextlib
from abc import ABC, abstractmethod
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import ClassVar, Final, NamedTuple, Self

from rtcsave.errors import BadArgument, shown

LARGEST_PPM: Final = 100_000
"""A tenth: no clock runs that much faster or slower than true time."""


class ClockField(NamedTuple):
    """One field of a clock: its width in bits and, for a number, how many values are proper.

    `proper` is None for a flag (halt, carry): a flag has no range to leave.
    """

    name: str
    width: int
    proper: int | None = None

    @property
    def is_flag(self) -> bool:
        """Whether the field is a single bit that reads as True or False."""
        return self.proper is None


@dataclass(frozen=True, slots=True, kw_only=True)
class Bits:
    """`width` bits of a stored word, from bit `at` up, are `width` bits of a clock's field.

    They land in the field from its bit `onto` up, so a field may be split over several words.
    With `bcd` the bits are decimal digits of four bits each, the last of which may be narrower,
    and `onto` counts digits.
    """

    field: str
    width: int
    at: int = 0
    onto: int = 0
    bcd: bool = False

    @property
    def mask(self) -> int:
        """The bits of the stored word that are meant."""
        return ((1 << self.width) - 1) << self.at


class Register(NamedTuple):
    """One register of a clock: its address on the bus and what its bits mean."""

    name: str
    address: int
    bits: tuple[Bits, ...]

    @property
    def mask(self) -> int:
        """The valid bits; all others always read back 0."""
        mask = 0
        for part in self.bits:
            mask |= part.mask
        return mask


class OutOfRange(NamedTuple):
    """A field whose value counting never reaches, and the least and the most that would be proper."""

    name: str
    value: int
    low: int
    high: int


class Clock(ABC):
    """A clock's registers as a value, with the rules by which they count.

    Every kind names its `FIELDS` and `REGISTERS`, the field at the `top` that goes over, its
    resolution and its period in seconds, and counts with `advance`. An overflow that never comes is None.
    """

    __slots__ = ()

    kind: ClassVar[str]
    top: ClassVar[str]
    FIELDS: ClassVar[tuple[ClockField, ...]]
    REGISTERS: ClassVar[tuple[Register, ...]]
    resolution_s: ClassVar[int]
    period_s: ClassVar[int]

    @property
    @abstractmethod
    def in_range(self) -> bool:
        """Whether every field shows a value that the clock reaches by counting."""

    @property
    @abstractmethod
    def halted(self) -> bool:
        """Whether the clock stands still."""

    @property
    @abstractmethod
    def carried(self) -> bool:
        """Whether the clock says that its counter went over at some time."""

    @property
    @abstractmethod
    def seconds_to_overflow(self) -> int | None:
        """Seconds of running until the counter goes over; None for a clock that never will."""

    @abstractmethod
    def advance(self, seconds: int) -> Self:
        """Return the clock as it reads after that many seconds of real time."""

    @abstractmethod
    def to_seconds(self) -> int:
        """The reading of a clock in range, as seconds since it last read zero."""

    @abstractmethod
    def registers(self) -> bytes:
        """The clock's registers, one byte each."""

    @classmethod
    @abstractmethod
    def from_registers(cls, data: bytes, stray: str = "refuse") -> Self:
        """The clock that these register bytes hold."""

    @classmethod
    @abstractmethod
    def from_words(cls, words: Sequence[int]) -> Self:
        """The clock in words of a block that hold one register each; stray bits are dropped."""

    @abstractmethod
    def as_time(self) -> tuple[Self, int]:
        """The clock in range that reads the time this one says, and how often that goes over."""

    @abstractmethod
    def zeroed(self) -> Self:
        """The clock with every register past its proper range at zero, as counting makes it."""

    @abstractmethod
    def shifted(self, seconds: int) -> tuple[Self, int]:
        """The clock in range set forward, or back, and how often that went past an end.

        Negative below zero. Flags stay, a halted clock is set too. `BadArgument` for a clock past
        its range, and for a shift that its resolution cannot show.
        """

    @abstractmethod
    def with_overflow_mark(self) -> Self:
        """The clock with the mark of an overflow, where it has such a mark."""

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
        """Whether registers past their range still say one time for certain."""
        return True

    def illegal_digits(self) -> tuple[tuple[str, int], ...]:
        """Registers that hold no proper digit, for clocks that count in decimal."""
        return ()

    def refuse_out_of_range(self) -> None:
        """Raise `BadArgument` for the first field past its proper range."""
        for one in self.out_of_range():
            raise BadArgument(
                f"the clock says no time: {one.name} is past its proper range",
                found=str(one.value),
                expected=f"{one.low} to {one.high}",
                remedy="repair first: it becomes the time that it says (a date that does not exist only "
                "with --also register-past-range)",
            )

    def overflows_within(self, seconds: int) -> int:
        """How often the counter goes over while the clock counts that many seconds."""
        first, counted_s = self.seconds_to_overflow, whole_seconds(seconds)
        if first is None or counted_s < first:
            return 0
        return 1 + (counted_s - first) // self.period_s

    def out_of_range(self) -> tuple[OutOfRange, ...]:
        """Fields past their proper range, with what would be proper."""
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
        raise BadArgument(
            f"these are not the fields of a {cls.kind} clock",
            found=shown(values),
            expected=", ".join(names),
        )


def refuse_misfits(clock: Clock) -> None:
    """Raise `BadArgument` for the first field of a clock whose value does not fit its width."""
    for field in clock.FIELDS:
        value = getattr(clock, field.name)
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


def signed_seconds(value: object, resolution_s: int, name: str = "seconds") -> int:
    """Return `value` if it is a whole number that a clock can show; raise `BadArgument` if not."""
    if type(value) is not int:
        raise BadArgument(
            f"{name} must be a whole number",
            found=f"{shown(value)} ({type(value).__name__})",
            expected="an int",
        )
    if value % resolution_s:
        raise BadArgument(
            f"{name} must be a multiple of what the clock can show",
            found=f"{shown(value)} s",
            expected=f"a multiple of {resolution_s} s",
        )
    return value


def take_time(parts: Mapping[str, int], names: Sequence[str]) -> tuple[int, ...]:
    """The parts of a typed time by name, in order; `BadArgument` if they are not just those."""
    if not isinstance(parts, Mapping) or set(parts) != set(names):
        raise BadArgument(
            "this is not how that clock shows a time",
            found=shown(parts),
            expected=", ".join(names),
        )
    return tuple(parts[name] for name in names)


def whole_seconds(value: object, name: str = "seconds") -> int:
    """Return `value` if it is a whole number of seconds, 0 or more; raise `BadArgument` if not."""
    if type(value) is not int:
        raise BadArgument(
            f"{name} must be a whole number",
            found=f"{shown(value)} ({type(value).__name__})",
            expected="an int, 0 or more",
        )
    if value < 0:
        raise BadArgument(
            f"{name} must not be negative",
            found=shown(value),
            expected="0 or more",
            remedy="a clock cannot count backward",
        )
    return value


def take_registers(data: object, registers: Sequence[Register], stray: str, kind: str) -> bytes:
    """Return register bytes with the bits past each register's width gone.

    `stray="refuse"` raises `BadArgument` where such a bit is set, `stray="drop"` clears it.
    """
    if stray not in ("refuse", "drop"):
        raise BadArgument("stray is unknown", found=shown(stray), expected="'refuse' or 'drop'")
    if not isinstance(data, (bytes, bytearray, memoryview)):
        raise BadArgument("registers must be bytes", found=type(data).__name__, expected="bytes")
    held = bytes(data)
    if len(held) != len(registers):
        raise BadArgument(
            f"the {kind} clock has {len(registers)} registers",
            found=f"{len(held)} bytes",
            expected=f"{len(registers)} bytes, in the order "
            + ", ".join(register.name for register in registers),
        )
    kept = bytes(byte & register.mask for byte, register in zip(held, registers, strict=True))
    if kept != held and stray == "refuse":
        at = next(i for i, (a, b) in enumerate(zip(held, kept, strict=True)) if a != b)
        raise BadArgument(
            f"bits past the width of register {registers[at].name}",
            where=f"byte {at}",
            found=f"{held[at]:02X}h",
            expected=f"no bit outside {registers[at].mask:02X}h",
            remedy="pass stray='drop' to drop them",
        )
    return kept


def check_rate(ppm: float) -> float:
    """Return a rate in ppm that a clock can have at all; `BadArgument` for any other number."""
    if isinstance(ppm, (int, float)) and not isinstance(ppm, bool) and abs(ppm) < LARGEST_PPM:
        return ppm
    raise BadArgument(
        "this is no rate of a clock",
        found=f"{shown(ppm)} ppm",
        expected=f"less than ±{LARGEST_PPM:,} ppm",
    )
