"""Clocks, register bytes and clock blocks."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import Final

from hypothesis import strategies as st

from rtcsave.clocks import CalendarClock, Clock, CounterClock, MinuteClock
from rtcsave.errors import BadArgument, shown
from rtcsave.layouts import BUILT_IN, ClockBlock, Layout, layout_named
from rtcsave.layouts.fields import CLOCKS
from rtcsave.units import COUNTER_PERIOD_S, DAY_S

NOW: Final = 1_790_856_000
"""2026-10-01T12:00:00Z: the present for which the saves that are drawn are healthy or damaged."""

_KINDS: Final = tuple(CLOCKS)


def clocks(kind: str | None = None, *, in_range: bool = True) -> st.SearchStrategy[Clock]:
    """Clocks of a kind (`counter`, `minutes`, `calendar`; None: any), running and without carry.

    With `in_range=False` any clock that the registers can hold, flags, invalid digits and dates included.
    """
    if kind is None:
        return st.one_of(*(clocks(each_kind, in_range=in_range) for each_kind in _KINDS))
    if not in_range:
        return registers(kind).map(CLOCKS[kind].from_registers)
    check_kind(kind)
    made: dict[str, st.SearchStrategy[Clock]] = {
        CounterClock.kind: st.integers(0, COUNTER_PERIOD_S - 1).map(CounterClock.from_seconds),
        MinuteClock.kind: st.builds(
            MinuteClock,
            minute_of_day=st.integers(0, 1_439),
            day_counter=st.integers(0, 4_095),
            event_minutes=st.integers(0, 1_439),
            event_days=st.integers(0, 4_095),
        ),
        CalendarClock.kind: st.builds(
            _calendar, st.integers(0, CalendarClock.period_s - 1), st.integers(0, 6)
        ),
    }
    return made[kind]


def _calendar(seconds: int, weekday: int) -> Clock:
    return CalendarClock.from_seconds(seconds).with_values(weekday=weekday)


def registers(kind: str = CounterClock.kind) -> st.SearchStrategy[bytes]:
    """Register bytes as a chip of that kind can hold them: any value of the bits that exist."""
    check_kind(kind)
    masks = [register.mask for register in CLOCKS[kind].REGISTERS]
    return st.tuples(*(st.integers(0, mask).map(_within(mask)) for mask in masks)).map(bytes)


def _within(mask: int) -> Callable[[int], int]:
    return lambda value: value & mask


def check_kind(kind: object) -> None:
    """Raise `BadArgument` for a kind of clock that is unknown."""
    if not isinstance(kind, str) or kind not in CLOCKS:
        raise BadArgument("unknown kind of clock", found=shown(kind), expected=", ".join(_KINDS))


def blocks(
    layouts: Iterable[str | Layout] = BUILT_IN, *, in_range: bool = True, now: int = NOW
) -> st.SearchStrategy[ClockBlock]:
    """Clock blocks in any of some layouts, described ones too: stamped in the year before `now`, if they
    have a stamp; with `in_range=False` any registers and any stamp, stray bits and unknown bytes."""
    known = [layout_named(layout) for layout in layouts]
    return st.sampled_from(known).flatmap(lambda layout: _block(layout, in_range, now))


def _block(layout: Layout, in_range: bool, now: int) -> st.SearchStrategy[ClockBlock]:
    if not in_range:
        raw = st.binary(min_size=layout.size, max_size=layout.size)
        return raw.map(lambda data: ClockBlock(layout=layout, raw=data))
    kind = layout.clock

    stored = {bits.field for field in layout.part("running") for bits in field.bits}

    def make(running: Clock, latched_s: int, saved_s: int) -> ClockBlock:
        latched = None
        running = running.with_values(
            **{name: 0 for name in running.values() if name not in stored}
        )
        if layout.part("latched"):
            latched = running.shifted(-min(latched_s, running.to_seconds()))[0]
            if not any(latched.registers()):
                latched = running
        stamped = None if layout.stamp is None else saved_s
        return ClockBlock.new(running, saved_at=stamped, latched=latched, layout=layout)

    running = clocks(kind)
    if kind == CounterClock.kind:  # far enough from its end not to overflow before `now`
        running = st.integers(1, 146 * DAY_S).map(CounterClock.from_seconds)
    unit_s = CLOCKS[kind].resolution_s
    return st.builds(
        make,
        running,
        st.integers(0, 90).map(lambda n: n * unit_s),
        st.integers(now - 365 * DAY_S, now),
    )
