"""Accesses of a program to a clock on a bus."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final, Literal, NamedTuple

from hypothesis import strategies as st

from rtcsave.chips import Bus
from rtcsave.clocks import CalendarClock, CounterClock, MinuteClock
from rtcsave.strategies.values import check_kind
from rtcsave.units import DAY_S


class BusAccess(NamedTuple):
    """One access of a program that knows nothing of the clock: a read, a write, or a wait."""

    kind: Literal["read", "write", "wait"]
    address: int = 0
    value: int = 0
    microseconds: int = 0

    def on(self, bus: Bus) -> Any:
        """Do it."""
        if self.kind == "read":
            return bus.read(self.address)
        if self.kind == "write":
            return bus.write(self.address, self.value)
        return bus.wait(self.microseconds)


_ADDRESSES: Final[Mapping[str, tuple[int, ...]]] = {
    CounterClock.kind: (
        0x0000,
        0x4000,
        0x6000,
        0xA000,
        0x1FFF,
        0x5FFF,
        0x7FFF,
        0xBFFF,
        0x2000,
        0xC000,
    ),
    MinuteClock.kind: (0x0000, 0xA000, 0x1FFF, 0xBFFF, 0x4000),
    CalendarClock.kind: tuple(range(16)),
}
_VALUES: Final[Mapping[str, tuple[int, ...]]] = {
    CounterClock.kind: (0x00, 0x01, 0x08, 0x09, 0x0A, 0x0B, 0x0C, 0x40, 0xC1, 0xFF),
    MinuteClock.kind: (0x00, 0x0B, 0x0C, 0x0D, 0xFE, 0x10, 0x31, 0x40, 0x51, 0x60, 0x61, 0x62),
    CalendarClock.kind: tuple(range(16)),
}


def accesses(kind: str = CounterClock.kind) -> st.SearchStrategy[list[BusAccess]]:
    """Accesses of a program to a clock of a kind: those of its bus, mostly with values that mean something,
    and waits from a microsecond to a day."""
    check_kind(kind)
    addresses = st.sampled_from(_ADDRESSES[kind])
    values = st.one_of(st.sampled_from(_VALUES[kind]), st.integers(0, 0xFF))
    waits = st.sampled_from(
        (1, 4, 1_000, 16_743, 500_000, 1_000_000, 60_000_000, DAY_S * 1_000_000)
    )
    return st.lists(
        st.one_of(
            st.builds(BusAccess, st.just("write"), addresses, values),
            st.builds(BusAccess, st.just("read"), addresses),
            st.builds(BusAccess, st.just("wait"), microseconds=waits),
        ),
        max_size=40,
    )
