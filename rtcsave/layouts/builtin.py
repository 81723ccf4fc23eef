"""The layouts that every installation knows: clock blocks as the trade appends them, bare dumps.

Ten 32-bit words (running, then latched registers) and a stamp of 64 or 32 bits: common practice,
no standard describes it. The bare dumps are the registers in the order of their indices.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import Final

from rtcsave.clocks import CalendarClock, Clock, CounterClock, MinuteClock
from rtcsave.errors import BadArgument
from rtcsave.layouts.fields import Field, Order
from rtcsave.layouts.table import Layout, check_layout_type, register_words
from rtcsave.stamps import UNIX_32, UNIX_64, StampForm

_ORDER_WORDS: Final[dict[Order, str]] = {"little": "little-endian", "big": "big-endian"}


def _word_block(name: str, order: Order, stamp: StampForm) -> Layout:
    return Layout(
        name=name,
        size=40 + stamp.size,
        clock=CounterClock.kind,
        fields=(
            *register_words(CounterClock.REGISTERS, "running", 4, order, 0),
            *register_words(CounterClock.REGISTERS, "latched", 4, order, 20),
            Field(name="stamp", offset=40, size=stamp.size, part="stamp", order=order),
        ),
        stamp=stamp,
        summary=f"ten 32-bit {_ORDER_WORDS[order]} words, running then latched, "
        f"and a {8 * stamp.size}-bit stamp",
    )


def _nibbles(clock: type[Clock], name: str, size: int, summary: str) -> Layout:
    return Layout(
        name=name,
        size=size,
        clock=clock.kind,
        fields=tuple(register_words(clock.REGISTERS[:size], "running", 1, "little", 0)),
        standalone=True,
        summary=f"{summary}, a nibble a byte",
    )


BUILT_IN: Final[tuple[Layout, ...]] = (
    _word_block("block48", "little", UNIX_64),
    _word_block("block44", "little", UNIX_32),
    _word_block("block48-be", "big", UNIX_64),
    _word_block("block44-be", "big", UNIX_32),
    Layout(
        name="registers5",
        size=5,
        clock=CounterClock.kind,
        fields=tuple(register_words(CounterClock.REGISTERS, "running", 1, "little", 0)),
        standalone=True,
        summary="the five running registers, a byte each",
    ),
    Layout(
        name="registers10",
        size=10,
        clock=CounterClock.kind,
        fields=(
            *register_words(CounterClock.REGISTERS, "running", 1, "little", 0),
            *register_words(CounterClock.REGISTERS, "latched", 1, "little", 5),
        ),
        standalone=True,
        summary="the running, then the latched registers, a byte each",
    ),
    _nibbles(MinuteClock, "minutes6", 6, "minute of day and day counter, locations 10h to 15h"),
    _nibbles(MinuteClock, "minutes12", 12, "the same, then the event time, 58h to 5Dh"),
    _nibbles(CalendarClock, "calendar26", 26, "registers 0 to 12 of bank 0, then of bank 1"),
)


LAYOUTS: Final[Mapping[str, Layout]] = MappingProxyType(
    {layout.name: layout for layout in BUILT_IN}
)
"""The built-in layouts by name."""


def layout_named(layout: object, also: tuple[Layout, ...] = ()) -> Layout:
    """The layout of that name, or the one given; `BadArgument` with the nearest name if unknown."""
    if not isinstance(layout, str):
        return check_layout_type(layout)
    known = {known_layout.name: known_layout for known_layout in (*BUILT_IN, *also)}
    if layout in known:
        return known[layout]
    from difflib import get_close_matches

    near = get_close_matches(layout.lower(), known, n=1, cutoff=0.5)
    raise BadArgument(
        "unknown layout",
        found=repr(layout),
        expected="one of " + ", ".join(known),
        remedy=f"did you mean {near[0]}?" if near else "`LAYOUTS` has the built-in ones",
    )
