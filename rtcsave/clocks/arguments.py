"""What callers give to clocks, checked: whole seconds, register bytes, typed times, rates."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Final

from rtcsave.buffers import as_bytes
from rtcsave.clocks.fields import Register
from rtcsave.errors import BadArgument, number_of, shown
from rtcsave.when import span_seconds

LARGEST_PPM: Final = 100_000
"""A tenth: no clock runs that much faster or slower than true time."""


def signed_seconds(value: object, resolution_s: int, name: str = "seconds") -> int:
    """Return `value` if it is a whole number that a clock can show; raise `BadArgument` if not."""
    number = span_seconds(value, name)
    if number % resolution_s:
        raise BadArgument(
            f"{name} must be a multiple of what the clock can show",
            found=f"{shown(number)} s",
            expected=f"a multiple of {resolution_s} s",
        )
    return number


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
    number = span_seconds(value, name)
    if number < 0:
        raise BadArgument(
            f"{name} must not be negative",
            found=shown(number),
            expected="0 or more",
            remedy="a clock cannot go back",
        )
    return number


def take_registers(data: object, registers: Sequence[Register], stray: str, kind: str) -> bytes:
    """Return register bytes with the bits past each register's width gone.

    `stray="refuse"` raises `BadArgument` where such a bit is set, `stray="drop"` clears it.
    """
    if stray not in ("refuse", "drop"):
        raise BadArgument("stray is unknown", found=shown(stray), expected="'refuse' or 'drop'")
    raw = as_bytes(data, "registers must be bytes")
    if len(raw) != len(registers):
        raise BadArgument(
            f"the {kind} clock has {len(registers)} registers",
            found=number_of(len(raw), "byte"),
            expected=f"{len(registers):,} bytes, in the order "
            + ", ".join(register.name for register in registers),
        )
    kept = bytes(byte & register.mask for byte, register in zip(raw, registers, strict=True))
    if kept != raw and stray == "refuse":
        at = next(i for i, (a, b) in enumerate(zip(raw, kept, strict=True)) if a != b)
        raise BadArgument(
            f"bits past the width of register {registers[at].name}",
            where=f"byte {at}",
            found=f"{raw[at]:02X}h",
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
