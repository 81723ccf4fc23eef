"""The kinds of history that are measured, and one history of a kind."""

from __future__ import annotations

import math
import random
from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

from bench.histories import (
    DAY,
    FIRST,
    HOUR,
    PERIOD,
    RATE_SD_PPM,
    YEAR,
    Clock,
    Event,
    History,
    Scene,
    banked_before,
    banked_now,
    by_zone,
    carry_cleared,
    halt_for_dump,
    halted_later,
    halted_throughout,
    log_length,
    more_hours,
    new_cell,
    one_hour,
    one_in_twenty,
    quarters,
    released,
    reversed_files,
    set_by,
    stamp_off,
    stopped_for,
    stopped_throughout,
    untouched,
    up_to_ten,
    whole_days,
)

from rtcsave import CalendarClock, CounterClock, MinuteClock


@dataclass(frozen=True, slots=True)
class Kind:
    """A kind of history. `first` says that the cause must come first in 98 of 100."""

    name: str
    event: Event
    clock: str = "counter"
    crystal: Callable[[random.Random], float] = lambda chance: chance.gauss(0, RATE_SD_PPM)
    longest_s: float = 7 * YEAR
    late: Callable[[random.Random], float] = one_in_twenty
    halted_at_first: bool = False
    first: bool = False
    surely_agreed: bool = False


KINDS: Final = (
    Kind("untouched", untouched, first=True),
    Kind("untouched, carry cleared", carry_cleared, first=True),
    Kind("untouched, crystal to 45 ppm", untouched,
         crystal=lambda chance: chance.uniform(-45, 45), first=True),
    Kind("untouched, crystal 20 to 45 ppm", untouched,
         crystal=lambda chance: chance.choice((-1, 1)) * chance.uniform(20, 45)),
    Kind("healthy, 20 ppm, two years", untouched, crystal=lambda chance: chance.uniform(-20, 20),
         longest_s=2 * YEAR, first=True, surely_agreed=True),
    Kind("healthy, every stamp 0-10 s late", untouched, longest_s=2 * YEAR, late=up_to_ten,
         crystal=lambda chance: chance.uniform(-20, 20), surely_agreed=True),
    Kind("halt set for the dump", halt_for_dump),
    Kind("halted throughout", halted_throughout, halted_at_first=True, first=True),
    Kind("halted later on", halted_later, first=True),
    Kind("halted at first, released", released, halted_at_first=True, first=True),
    Kind("stopped throughout", stopped_throughout, first=True),
    Kind("stopped, any part", stopped_for(lambda s: s.chance.uniform(0, s.span_s))),
    Kind("stopped, log-uniform", stopped_for(lambda s: log_length(s.chance, s.span_s))),
    Kind("stopped, exactly 3 h", stopped_for(lambda s: 3 * HOUR)),
    Kind("set, log-uniform", set_by(lambda s: log_length(s.chance, 200 * DAY))),
    Kind("set, any reading", set_by(lambda s: s.chance.uniform(0, PERIOD / 2))),
    Kind("set by whole days", set_by(whole_days)),
    Kind("new cell", new_cell),
    Kind("days banked just now", banked_now, first=True),
    Kind("days banked before", banked_before, first=True),
    Kind("stamp 1 h off", stamp_off(one_hour)),
    Kind("stamp 2 to 14 h off", stamp_off(more_hours)),
    Kind("stamp quarters off", stamp_off(quarters)),
    Kind("clock set by a zone", set_by(by_zone, "clock-shifted")),
    Kind("files reversed", reversed_files),
    Kind("minutes: untouched", untouched, clock="minutes", first=True),
    Kind("minutes: stopped", stopped_for(lambda s: s.chance.uniform(0, s.span_s)), clock="minutes"),
    Kind("minutes: stamp 1 h off", stamp_off(one_hour), clock="minutes"),
    Kind("calendar: untouched", untouched, clock="calendar", first=True),
    Kind("calendar: set", set_by(lambda s: log_length(s.chance, 200 * DAY)), clock="calendar"),
    Kind("calendar: stamp 1 h off", stamp_off(one_hour), clock="calendar"),
)  # fmt: skip


def a_clock(chance: random.Random, kind: str) -> Clock:
    """A clock that reads anything."""
    if kind == "minutes":
        return MinuteClock.from_seconds(chance.randrange(4_096 * 1_440) * 60)
    if kind == "counter":
        return CounterClock.from_seconds(chance.randrange(PERIOD), carry=chance.random() < 0.1)
    start = CalendarClock(
        year=chance.randrange(100), month=1, day=1, weekday=chance.randrange(7), hours=0, minutes=0,
        seconds=0, leap_counter=0,
    )  # fmt: skip
    start = start.with_values(leap_counter=start.year % 4)
    return start.advance(chance.randrange(365 * DAY))


def make_history(kind: Kind, chance: random.Random) -> History:
    """One history of a kind."""
    span_s = math.exp(chance.uniform(math.log(60), math.log(kind.longest_s)))
    clock = a_clock(chance, kind.clock)
    scene = Scene(
        chance, span_s, kind.crystal(chance), clock, FIRST + chance.uniform(0, 3e8),
        chance.uniform(0, clock.resolution_s), kind.late,
    )  # fmt: skip
    began_s = scene.at_s
    earlier, written_s = scene.save()
    if kind.halted_at_first:
        earlier = earlier.with_clock(clock.with_values(halt=True))
    cause, shift_s, off_s = kind.event(scene)
    read_apart_s = scene.at_s - began_s
    later, rewritten_s = scene.save()
    lies = cause == "stamp-shifted"
    if lies:
        later = later.with_stamp(math.floor(rewritten_s) + (shift_s or 0))
    truth_s = rewritten_s - written_s
    if cause == "reversed":
        earlier, later, truth_s, read_apart_s = later, earlier, -truth_s, -read_apart_s
    trace = off_s > max(TRACE_S[kind.clock], TRACE_PPM * 1e-6 * span_s)
    return History(earlier, later, truth_s, read_apart_s, cause, shift_s, trace, lies)


TRACE_S: Final = {"counter": 60, "calendar": 60, "minutes": 180}
TRACE_PPM: Final = 50
"""What leaves no trace: less than late stamps and truncation, or a crystal, may do as well."""
