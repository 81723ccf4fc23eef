"""The parts of a layout's table: stored words, checksums, the kinds of clock they can hold."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import reduce
from operator import xor
from typing import Final, Literal, NamedTuple

from rtcsave.clocks import Bits, CalendarClock, Clock, CounterClock, MinuteClock
from rtcsave.errors import BadDescription, number_of, refuse_wrong_types, shown

Order = Literal["little", "big"]
Part = Literal["running", "latched", "stamp", "constant", "checksum"]
ClockPart = Literal["running", "latched"]

CLOCK_PARTS: Final[tuple[ClockPart, ...]] = ("running", "latched")
PARTS: Final[tuple[Part, ...]] = ("running", "latched", "stamp", "constant", "checksum")

CLOCKS: Final[Mapping[str, type[Clock]]] = {
    clock.kind: clock for clock in (CounterClock, MinuteClock, CalendarClock)
}
"""The kinds of clock that a layout can hold."""


NAME: Final = re.compile(r"[^\W\d_][\w.-]{0,63}")
"""A field's name, as JSON, the diff of bytes and messages give it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Field:
    """One stored word: `size` bytes at `offset` from the block's start, in one byte order.

    `part` says what it belongs to; `bits` says which of its bits are which bits of the clock. The
    bits that nothing names are kept, and are stray where one is set. A part `constant` always holds
    the bytes of `constant`.
    """

    name: str
    """Its name, of its own in the layout."""
    offset: int
    size: int
    part: Part
    order: Order = "little"
    """Its byte order: `little` or `big`."""
    bits: tuple[Bits, ...] = ()
    constant: bytes = b""

    def __post_init__(self) -> None:
        refuse_wrong_types(
            self, {"name": str, "offset": int, "size": int, "bits": tuple, "constant": bytes}
        )
        if not NAME.fullmatch(self.name):
            raise BadDescription(
                f"field {self.name!r} has a name that is none",
                found=shown(self.name),
                expected="1 to 64 letters, digits, '_', '-' and '.', beginning with a letter",
            )
        if self.order not in ("little", "big"):
            raise BadDescription(
                f"field {self.name} has an unknown order",
                found=shown(self.order),
                expected="little or big",
            )
        if self.part == "constant" and len(self.constant) != self.size:
            raise BadDescription(
                f"constant {self.name} does not fill its field",
                found=number_of(len(self.constant), "byte"),
                expected=number_of(self.size, "byte"),
            )
        self._refuse_odd_bits()

    def _refuse_odd_bits(self) -> None:
        taken = 0
        for bits in self.bits:
            if type(bits) is not Bits:
                raise BadDescription("bits are a tuple of Bits", where=self.name, found=shown(bits))
            if bits.at + bits.width > 8 * self.size:
                raise BadDescription(
                    f"bits of {self.name} lie outside its {8 * self.size} bits",
                    found=f"bits {bits.at} to {bits.at + bits.width - 1}",
                    expected=f"bits 0 to {8 * self.size - 1}",
                )
            if taken & bits.mask:
                raise BadDescription(
                    f"bits of {self.name} are named twice",
                    found=f"bits {bits.at} to {bits.at + bits.width - 1} once more",
                    expected="each bit named once",
                )
            taken |= bits.mask

    @property
    def end(self) -> int:
        """The offset of the first byte after the field."""
        return self.offset + self.size

    @property
    def mask(self) -> int:
        """The bits of the word that mean something; all bits in a word that is not of the clock."""
        if self.part not in ("running", "latched"):
            return (1 << 8 * self.size) - 1
        mask = 0
        for part in self.bits:
            mask |= part.mask
        return mask


class Sum(NamedTuple):
    """A kind of checksum: the bytes that it needs, and how it is made over some bytes."""

    size: int
    of: Callable[[bytes], int]


def _crc_16(covered: bytes) -> int:
    import binascii  # few layouts have a checksum

    return binascii.crc_hqx(covered, 0)


def _crc_32(covered: bytes) -> int:
    import binascii

    return binascii.crc32(covered)


SUMS: Final[Mapping[str, Sum]] = {
    "sum-8": Sum(1, lambda covered: sum(covered) & 0xFF),
    "sum-16": Sum(2, lambda covered: sum(covered) & 0xFFFF),
    "xor": Sum(1, lambda covered: reduce(xor, covered, 0)),
    "crc-16": Sum(2, _crc_16),
    "crc-32": Sum(4, _crc_32),
}
"""Each kind of checksum; the CRCs from the standard library. The one place to add one."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Checksum:
    """How a block's checksum is made: over its bytes from `start` up to, not with, `end`.

    `sum-8` and `sum-16` add bytes, `xor` combines them; `crc-16` is the CCITT polynomial 1021h from 0,
    `crc-32` that of ISO 3309.
    """

    kind: str
    """A key of the table of kinds: `sum-8`, `sum-16`, `xor`, `crc-16`, `crc-32`."""
    start: int
    end: int

    def __post_init__(self) -> None:
        refuse_wrong_types(self, {"kind": str, "start": int, "end": int})
        if self.kind not in SUMS:
            raise BadDescription("unknown checksum", found=self.kind, expected=", ".join(SUMS))
        if not 0 <= self.start < self.end:
            raise BadDescription(
                "the checksum covers no bytes",
                found=f"bytes {self.start} to {self.end - 1}",
                expected="a first byte and one after the last",
            )


LARGEST_BLOCK: Final = 1_024
"""More bytes than any clock block has: a longer one is a mistake or an attack."""


def from_bcd(digits: int) -> int:
    """The number that decimal digits of four bits each hold; a digit past 9 counts by its value."""
    number, place = 0, 1
    while digits:
        number += (digits & 0xF) * place
        digits >>= 4
        place *= 10
    return number


def to_bcd(number: int) -> int:
    """A number as decimal digits of four bits each."""
    digits, shift = 0, 0
    while number:
        digits |= number % 10 << shift
        number //= 10
        shift += 4
    return digits
