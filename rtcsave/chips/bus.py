"""What every sequence is replayed on: a bus that is not ours."""

from __future__ import annotations

from inspect import iscoroutinefunction
from typing import Protocol

from rtcsave.errors import BadArgument, shown


class Bus(Protocol):
    """What a sequence is replayed on: a chip, or anything that reads, writes and waits.

    The methods may name their parameters as they like, and none may be a coroutine.
    """

    def read(self, address: int, /) -> int | None:
        """Read a byte; None where nothing answers."""

    def write(self, address: int, value: int, /) -> object:
        """Write a byte."""

    def wait(self, microseconds: int, /) -> object:
        """Let at least so much time pass before the next access."""


def check_bus(bus: object, what: str, remedy: str = "") -> None:
    """Raise `BadArgument` for what lacks one of the accesses of a bus, or has a coroutine for one."""
    accesses = {name: getattr(bus, name, None) for name in ("read", "write", "wait")}
    missing = [name for name, access in accesses.items() if not callable(access)]
    if missing:
        raise BadArgument(
            f"the {what} has no {' and no '.join(missing)}",
            found=shown(bus),
            expected="read(address), write(address, value) and wait(microseconds)",
            remedy=remedy,
        )
    for name, access in accesses.items():
        refuse_coroutine(access, f"{name} of the {what}", remedy)


def refuse_coroutine(function: object, what: str, remedy: str) -> None:
    """Raise `BadArgument` for a coroutine where a plain function is called."""
    if iscoroutinefunction(function):
        raise BadArgument(
            f"{what} is a coroutine, which nothing would wait for",
            found=shown(function),
            expected="a plain function",
            remedy=remedy,
        )
