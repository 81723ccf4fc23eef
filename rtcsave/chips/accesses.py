"""One access to a clock on a bus, as data: what every sequence is made of."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal, NamedTuple

AccessKind = Literal["write", "read", "expect", "poll"]

AGAIN = "_again"
"""A register that is read a second time stands under its name with this after it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Access:
    """One access: write a byte, read one under a name, expect one, or poll until it is there.

    `mask` says which bits of a read, an expectation or a poll count. An access with `due` is the one that
    sets the clock going: it belongs at the sequence's instant. A write that keeps the bits outside its
    mask takes them from what was read under the name in `keep`.
    """

    kind: AccessKind
    """`write`, `read`, `expect` or `poll`."""
    address: int
    """The address on the bus."""
    value: int | None = None
    """The byte to write, to expect or to wait for; None for a read."""
    mask: int = 0xFF
    name: str = ""
    """The register, under which a read is found."""
    note: str = ""
    """What it is for, in words."""
    due: bool = False
    keep: str = ""


class Plan(NamedTuple):
    """The accesses of one sequence for a kind of clock, those that leave the cartridge in order where it
    fails, and the microseconds between every two of them."""

    kind: str
    steps: Sequence[Access]
    closing: Sequence[Access]
    spacing_us: int = 0


def write(address: int, value: int, note: str, due: bool = False) -> Access:
    """A write of a byte, with what it is for."""
    return Access(kind="write", address=address, value=value, note=note, due=due)
