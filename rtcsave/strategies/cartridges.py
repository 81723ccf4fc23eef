"""Histories of a cartridge, with the truth kept."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, NamedTuple

from hypothesis import strategies as st

from rtcsave.clocks import CounterClock
from rtcsave.layouts import ClockBlock
from rtcsave.savefile import SaveFile
from rtcsave.strategies.values import NOW
from rtcsave.units import COUNTER_PERIOD_S, DAY_S


class Dump(NamedTuple):
    """A save of a cartridge, and the true instant at which its clock was read, in Unix seconds."""

    save: SaveFile
    at_s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class CartridgeHistory:
    """What happened to a cartridge, and the dumps that were made of it, with the truth kept."""

    rate_ppm: float
    """How much faster than true time its crystal runs."""
    events: tuple[str, ...]
    """What happened, in words, in order."""
    dumps: tuple[Dump, ...]
    """The dumps, oldest first: two or more."""

    @property
    def elapsed_s(self) -> float:
        """The true time between the first dump and the last."""
        return self.dumps[-1].at_s - self.dumps[0].at_s


_Event = tuple[str, int]


def histories(*, now: int = NOW) -> st.SearchStrategy[CartridgeHistory]:
    """Histories of a day-counter cartridge: it runs with a drift, is halted, stops, is set, and is dumped
    again and again, with stamps that are right to the second or that lie."""
    off_s: st.SearchStrategy[int] = st.sampled_from((0, 0, 0, 5, 3600, -3600))
    events = st.lists(
        st.one_of(
            st.tuples(st.just("ran"), st.integers(1, 200 * DAY_S)),
            st.tuples(st.just("halted"), st.integers(1, 30 * DAY_S)),
            st.tuples(st.just("stopped"), st.integers(1, 30 * DAY_S)),
            st.tuples(st.just("set"), st.integers(0, COUNTER_PERIOD_S - 1)),
            st.tuples(st.just("dumped"), off_s),
        ),
        max_size=6,
    )
    return st.builds(
        _history,
        st.integers(0, COUNTER_PERIOD_S - 1),
        st.integers(-100, 100),
        events,
        st.just(now - 4 * 365 * DAY_S),
    )


def _history(start_s: int, rate_ppm: int, events: list[_Event], began_s: int) -> CartridgeHistory:
    clock, at_s, phase_s = CounterClock.from_seconds(start_s), float(began_s), 0.0
    event_words: list[str] = []
    made: list[Dump] = []

    def dump(lie_s: int) -> None:
        block = ClockBlock.new(clock, saved_at=int(at_s) + lie_s)
        made.append(Dump(SaveFile(memory=_MEMORY, block=block), at_s))
        event_words.append("dumped" if not lie_s else f"dumped, the stamp {lie_s:+d} s off")

    dump(0)
    for what, value in events:
        if what == "ran":
            phase_s += value * (1 + rate_ppm / 1e6)
            clock, phase_s = clock.advance(int(phase_s)), phase_s % 1
            at_s += value
            event_words.append(f"ran for {value} s")
        elif what in ("halted", "stopped"):
            at_s += value
            event_words.append(f"{what} for {value} s")
        elif what == "set":
            clock, phase_s = CounterClock.from_seconds(value, carry=clock.carry), 0.0
            event_words.append(f"set to {clock.reading()}")
        else:
            dump(value)
    dump(0)
    return CartridgeHistory(rate_ppm=rate_ppm, events=tuple(event_words), dumps=tuple(made))


_MEMORY: Final = bytes((at * 31 + 7) % 251 for at in range(2_048))
