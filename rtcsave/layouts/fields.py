"""The parts of a layout's table: stored words, checksums, the kinds of clock they can hold."""

from __future__ import annotations

import binascii
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import reduce
from operator import xor
from typing import Final, Literal

from rtcsave.clocks import Bits, CalendarClock, Clock, CounterClock, MinuteClock

Order = Literal["little", "big"]
Part = Literal["running", "latched", "stamp", "constant", "checksum"]
ClockPart = Literal["running", "latched"]

CLOCK_PARTS: Final[tuple[ClockPart, ...]] = ("running", "latched")
PARTS: Final[tuple[Part, ...]] = ("running", "latched", "stamp", "constant", "checksum")

CLOCKS: Final[Mapping[str, type[Clock]]] = {
    clock.kind: clock for clock in (CounterClock, MinuteClock, CalendarClock)
}
"""The kinds of clock that a layout can hold."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Field:
    """One stored word: `size` bytes at `offset` from the block's start, in one byte order.

    `part` says what it belongs to; `bits` says which of its bits are which bits of the clock. The
    bits that nothing names are kept, and are stray where one is set. A part `constant` always holds
    the bytes of `constant`.
    """

    name: str
    offset: int
    size: int
    part: Part
    order: Order = "little"
    bits: tuple[Bits, ...] = ()
    constant: bytes = b""

    @property
    def end(self) -> int:
        """The offset of the first byte behind the field."""
        return self.offset + self.size

    @property
    def mask(self) -> int:
        """The bits of the word that mean something; all of them in what is not the clock's."""
        if self.part not in ("running", "latched"):
            return (1 << 8 * self.size) - 1
        mask = 0
        for part in self.bits:
            mask |= part.mask
        return mask


@dataclass(frozen=True, slots=True, kw_only=True)
class Checksum:
    """How a block's checksum is made: over its bytes from `start` up to, not with, `end`.

    `sum-8` and `sum-16` add bytes, `xor` combines them; `crc-16` is the CCITT polynomial 1021h from 0,
    `crc-32` that of ISO 3309.
    """

    kind: str
    start: int
    end: int


SUMS: Final[Mapping[str, Callable[[bytes], int]]] = {
    "sum-8": lambda covered: sum(covered) & 0xFF,
    "sum-16": lambda covered: sum(covered) & 0xFFFF,
    "xor": lambda covered: reduce(xor, covered, 0),
    "crc-16": lambda covered: binascii.crc_hqx(covered, 0),
    "crc-32": binascii.crc32,
}
"""Each kind of checksum; the CRCs from the standard library."""

SUM_BYTES: Final = {"sum-8": 1, "sum-16": 2, "xor": 1, "crc-16": 2, "crc-32": 4}

LARGEST_BLOCK: Final = 1_024
"""More bytes than any clock block has: what is longer is a slip, or meant to hurt."""


def from_bcd(held: int) -> int:
    """The number that decimal digits of four bits each hold; a digit past 9 counts by its value."""
    number, place = 0, 1
    while held:
        number += (held & 0xF) * place
        held >>= 4
        place *= 10
    return number


def to_bcd(number: int) -> int:
    """A number as decimal digits of four bits each."""
    held, shift = 0, 0
    while number:
        held |= number % 10 << shift
        number //= 10
        shift += 4
    return held
