"""How one register of the counter clock counts, in its range and out of it.

Counting out of range: hardware measurements, public domain.
"""

from __future__ import annotations

from typing import NamedTuple


class Range(NamedTuple):
    """How many values of a register are proper, and how many its bits can hold."""

    proper_values: int
    values: int


def step(value: int, ticks: int, register: Range) -> tuple[int, int]:
    """Count `ticks` on a register: its new value, and how often it carried into the next one.

    In its proper range it returns to 0 at the end of that and carries; out of range it first runs out
    its bit width and returns to 0 without carrying.
    """
    proper, width = register
    if value >= proper:
        out = width - value
        if ticks < out:
            return value + ticks, 0
        value, ticks = 0, ticks - out
    carries, value = divmod(value + ticks, proper)
    return value, carries


def ticks_for(carries: int, value: int, register: Range) -> int:
    """Ticks after which a register has carried that often: the inverse of `step`."""
    start = register.values if value >= register.proper_values else 0
    return start - value + carries * register.proper_values
