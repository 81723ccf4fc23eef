"""A clock's fields and registers as tables: widths, proper ranges, addresses, which bits mean what."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

from rtcsave.errors import BadDescription, refuse_wrong_types


class ClockField(NamedTuple):
    """One field of a clock: its width in bits and, for a number, how many values are proper.

    `proper` is None for a flag (halt, carry): a flag has no range to leave.
    """

    name: str
    width: int
    proper: int | None = None

    @property
    def values(self) -> int:
        """How many values the bits can hold."""
        return 1 << self.width

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
    """The field of the clock."""
    width: int
    at: int = 0
    onto: int = 0
    bcd: bool = False

    def __post_init__(self) -> None:
        types = {"field": str, "width": int, "at": int, "onto": int, "bcd": bool}
        refuse_wrong_types(self, types)
        if self.width < 1 or self.at < 0 or self.onto < 0:
            raise BadDescription(
                f"bits of {self.field} lie nowhere",
                found=f"{self.width} bits from bit {self.at} onto {self.onto}",
                expected="1 bit or more, from bit 0 or more",
            )

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
