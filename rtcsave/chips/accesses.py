"""One access to a clock on a bus, as data: what every sequence is made of."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal

AccessKind = Literal["write", "read", "expect", "wait", "poll"]

ACCESS_WAIT_US: Final = 4
"""Leave 4 µs between accesses to the day-counter clock (Pan Docs)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Access:
    """One step: write a byte, read one under a name, expect one, wait, or poll until it is there.

    `mask` says which bits of a read, an expectation or a poll count. `wait_us` is for a wait. A step
    with `due` is the one that sets the clock going: it belongs at the sequence's instant. A write that
    keeps the bits outside its mask takes them from what was read under the name in `keep`.
    """

    kind: AccessKind
    """`write`, `read`, `expect`, `wait` or `poll`."""
    address: int | None = None
    """The address on the bus; None for a wait."""
    value: int | None = None
    """The byte to write, to expect or to wait for; None for a read and a wait."""
    mask: int = 0xFF
    name: str = ""
    """The register, under which a read is found."""
    wait_us: int = 0
    note: str = ""
    """What it is for, in words."""
    due: bool = False
    keep: str = ""


def write(address: int, value: int, note: str, due: bool = False) -> Access:
    """A write of a byte, with what it is for."""
    return Access(kind="write", address=address, value=value, note=note, due=due)


def spaced(steps: list[Access]) -> list[Access]:
    """The accesses with the wait between every two of them."""
    spaced: list[Access] = []
    for step in steps:
        if spaced:
            spaced.append(Access(kind="wait", wait_us=ACCESS_WAIT_US, note="between accesses"))
        spaced.append(step)
    return spaced
