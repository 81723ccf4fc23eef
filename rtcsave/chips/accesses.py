"""One access to a clock on a bus, as data: what every sequence is made of."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, Literal, NamedTuple, get_args

from rtcsave.errors import BadArgument, shown

AccessKind = Literal["write", "read", "expect", "poll"]

AGAIN: Final = "_again"
"""A register that is read a second time stands under its name with this after it."""
BEFORE: Final = "_before"
"""What was there before a register is written, or copied, stands under its name with this after it."""

_KINDS: Final = get_args(AccessKind)
_LAST_ADDRESS: Final = 0xFFFF


@dataclass(frozen=True, slots=True, kw_only=True)
class Access:
    """One access: write a byte, read one under a name, expect one, or poll until it is there.

    `mask` says which bits of a read, an expectation or a poll count. An access with `due` is the one that
    sets the clock going: it belongs at the sequence's instant. `keep` names a read of before: a write or an
    expectation takes the bits outside its mask from what that gave, and a read must give the same; where it
    does not, stop, close the cartridge, and begin again.
    `BadArgument` for a kind that there is not, and for what is no byte.
    """

    kind: AccessKind
    """`write`, `read`, `expect` or `poll`."""
    address: int
    """The address on the bus."""
    value: int | None = None
    """The byte to write, to expect or to wait for; None for a read."""
    mask: int = 0xFF
    name: str = ""
    """The register: that under which a read is found, or that which a write changes."""
    note: str = ""
    """What it is for, in words."""
    due: bool = False
    keep: str = ""

    def __post_init__(self) -> None:
        if self.kind not in _KINDS:
            raise BadArgument(
                "unknown kind of access", found=shown(self.kind), expected=", ".join(_KINDS)
            )
        if (self.value is None) != (self.kind == "read"):
            raise BadArgument(f"wrong value for a {self.kind}", found=shown(self.value))
        _refuse_past(self.address, "address", _LAST_ADDRESS)
        _refuse_past(self.mask, "mask", 0xFF)
        if self.value is not None:
            _refuse_past(self.value, "value", 0xFF)


def _refuse_past(number: object, what: str, last: int) -> None:
    if type(number) is not int or not 0 <= number <= last:
        raise BadArgument(
            f"wrong {what} of an access", found=shown(number), expected=f"0 to {last}"
        )


class Plan(NamedTuple):
    """The accesses of one sequence for a kind of clock, those that leave the cartridge in order where it
    fails, and the microseconds between every two of them."""

    kind: str
    steps: Sequence[Access]
    closing: Sequence[Access]
    spacing_us: int = 0

    @property
    def sets_clock(self) -> bool:
        """Whether it sets a clock; else it only reads one."""
        return any(step.due for step in self.steps)


def write(address: int, value: int, note: str, *, name: str = "", due: bool = False) -> Access:
    """A write of a byte, with what it is for and the register that it changes."""
    return Access(kind="write", address=address, value=value, note=note, name=name, due=due)
