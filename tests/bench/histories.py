"""What can happen to a clock between two saves, with the truth kept: scenes and events.

A history has a real clock: a crystal with a rate, a fraction of a second, registers that the
library's own `advance` moves. Both saves are stamped when their files are written, one in twenty
some seconds after the clock was read. The truth is the time from one writing to the other.
"""

from __future__ import annotations

import math
import random
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Final

from rtcsave import CalendarClock, CounterClock, MinuteClock, SaveFile, loads
from rtcsave.layouts import layout_named
from rtcsave.layouts.codec import codec

DAY: Final = 86_400
HOUR: Final = 3_600
YEAR: Final = 365.25 * DAY
PERIOD: Final = 512 * DAY
NOW: Final = 1_900_000_000
FIRST: Final = 1_100_000_000
RATE_SD_PPM: Final = 12.0
LATE_ONE_IN: Final = 20
LATE_SD_S: Final = 20.0

Clock = CounterClock | MinuteClock | CalendarClock

BLOCK48: Final = layout_named("block48")


def _stamped(name: str) -> SaveFile:
    """An empty block of a layout that has a stamp after its registers."""
    plain = layout_named(name)
    layout = plain
    if plain.stamp is None:
        last = replace(BLOCK48.fields[-1], offset=plain.size)
        layout = replace(
            plain, name=f"{name}-stamped", size=plain.size + last.size,
            fields=(*plain.fields, last), stamp=BLOCK48.stamp,
        )  # fmt: skip
    return loads(codec(layout).blank(), layout=layout)


BLANK: Final = {
    "counter": _stamped("block48"),
    "minutes": _stamped("minutes12"),
    "calendar": _stamped("calendar26"),
}


@dataclass(slots=True)
class Scene:
    """A clock, the real time, and a source of chance: what a history is made with."""

    chance: random.Random
    span_s: float
    rate_ppm: float
    clock: Clock
    at_s: float
    phase_s: float
    late: Callable[[random.Random], float]

    def run(self, seconds: float) -> None:
        """Real time passes and the clock counts it, with its own idea of a second."""
        tick = self.clock.resolution_s
        self.at_s += seconds
        self.phase_s += seconds * (1 + self.rate_ppm * 1e-6)
        ticks = math.floor(self.phase_s / tick)
        self.phase_s -= ticks * tick
        self.clock = self.clock.advance(ticks * tick)

    def rest(self, seconds: float) -> None:
        """Real time passes and the clock does not count it."""
        self.at_s += seconds

    def reads(self) -> int:
        return self.clock.as_time()[0].to_seconds()

    def write(self, reading_s: int) -> None:
        """Somebody sets the registers; flags stay."""
        period_s, tick = self.clock.period_s, self.clock.resolution_s
        by_s = (reading_s // tick * tick - self.reads()) % period_s
        carried = self.clock.carried
        self.clock = self.clock.shifted(by_s)[0]
        assert self.clock.carried == carried

    def save(self) -> tuple[SaveFile, float]:
        """The save, stamped when its file is written, and the instant of that."""
        written_s = self.at_s + self.late(self.chance)
        blank = BLANK[self.clock.kind]
        return blank.with_clock(self.clock).with_stamp(math.floor(written_s)), written_s


@dataclass(frozen=True, slots=True)
class History:
    """Two saves with what is true of them."""

    earlier: SaveFile
    later: SaveFile
    truth_s: float
    readings_apart_s: float
    cause: str
    shift_s: int | None
    trace: bool
    lies: bool


def one_in_twenty(chance: random.Random) -> float:
    """How late a file is stamped."""
    return abs(chance.gauss(0, LATE_SD_S)) if chance.randrange(LATE_ONE_IN) == 0 else 0.0


def up_to_ten(chance: random.Random) -> float:
    """Every file is late by 0 to 10 s."""
    return chance.uniform(0, 10)


# What happens between the saves. Each returns the cause that a reader should be history, the shift
# in seconds (None: none), and how far the registers are from those of an untouched clock.
Event = Callable[[Scene], tuple[str, int | None, float]]


def untouched(scene: Scene) -> tuple[str, int | None, float]:
    scene.run(scene.span_s)
    return "untouched", None, math.inf


def carry_cleared(scene: Scene) -> tuple[str, int | None, float]:
    scene.run(scene.span_s)
    scene.clock = scene.clock.with_values(carry=False)
    return "untouched", None, math.inf


def halted_throughout(scene: Scene) -> tuple[str, int | None, float]:
    scene.clock = scene.clock.with_values(halt=True)
    scene.run(scene.span_s)
    return "halted", None, scene.span_s


def halt_for_dump(scene: Scene) -> tuple[str, int | None, float]:
    scene.run(scene.span_s)
    scene.clock = scene.clock.with_values(halt=True)
    return "untouched", None, math.inf


def halted_later(scene: Scene) -> tuple[str, int | None, float]:
    ran_s = scene.chance.uniform(0, scene.span_s)
    scene.run(ran_s)
    scene.clock = scene.clock.with_values(halt=True)
    scene.run(scene.span_s - ran_s)
    return "halted", None, scene.span_s - ran_s


def released(scene: Scene) -> tuple[str, int | None, float]:
    rested_s = scene.chance.uniform(0, scene.span_s)
    scene.rest(rested_s)
    scene.run(scene.span_s - rested_s)
    return "halted", None, rested_s


def stopped_throughout(scene: Scene) -> tuple[str, int | None, float]:
    scene.rest(scene.span_s)
    return "stopped", None, scene.span_s


def log_length(chance: random.Random, longest_s: float) -> float:
    return math.exp(chance.uniform(0, math.log(max(longest_s, 3))))


def stopped_for(length: Callable[[Scene], float]) -> Event:
    def event(scene: Scene) -> tuple[str, int | None, float]:
        length_s = min(length(scene), scene.span_s)
        ran_s = scene.chance.uniform(0, scene.span_s - length_s)
        scene.run(ran_s)
        scene.rest(length_s)
        scene.run(scene.span_s - length_s - ran_s)
        return "stopped", None, length_s

    return event


def set_by(length: Callable[[Scene], float], cause: str = "set") -> Event:
    def event(scene: Scene) -> tuple[str, int | None, float]:
        ran_s = scene.chance.uniform(0, scene.span_s)
        by_s = round(length(scene)) * scene.chance.choice((-1, 1))
        scene.run(ran_s)
        scene.write(scene.reads() + by_s)
        scene.run(scene.span_s - ran_s)
        by_s = (by_s + PERIOD // 2) % PERIOD - PERIOD // 2
        return cause, by_s if cause == "clock-shifted" else None, abs(by_s)

    return event


def new_cell(scene: Scene) -> tuple[str, int | None, float]:
    since_s = scene.chance.uniform(0, scene.span_s)
    expected = scene.clock.advance(round(scene.span_s)).as_time()[0].to_seconds()
    scene.run(scene.span_s - since_s)
    scene.clock = CounterClock.from_seconds(0)
    scene.phase_s = 0.0
    scene.run(since_s)
    off_s = abs((scene.reads() - expected + PERIOD // 2) % PERIOD - PERIOD // 2)
    return "restarted", None, off_s


def bank(scene: Scene) -> int:
    """The game moves the days of the counter into its memory."""
    days = scene.reads() // DAY
    scene.write(scene.reads() - days * DAY)
    scene.clock = scene.clock.with_values(carry=False)
    return days


def banked_now(scene: Scene) -> tuple[str, int | None, float]:
    scene.run(scene.span_s)
    days = bank(scene) % 512
    return "restarted", None, days * DAY


def banked_before(scene: Scene) -> tuple[str, int | None, float]:
    ran_s = scene.chance.uniform(0, scene.span_s)
    scene.run(ran_s)
    days = bank(scene) % 512
    scene.run(scene.span_s - ran_s)
    return "restarted", None, days * DAY


def stamp_off(shift: Callable[[random.Random], int]) -> Event:
    """The later stamp is off; a shift of the earlier one looks the same with the other sign."""

    def event(scene: Scene) -> tuple[str, int | None, float]:
        scene.run(scene.span_s)
        shift_s = shift(scene.chance)
        hour_s = (
            abs(shift_s) % HOUR
        )  # a quarter of an hour is history only where hours are not blurred
        return "stamp-shifted", shift_s, min(hour_s, HOUR - hour_s) or abs(shift_s)

    return event


def one_hour(chance: random.Random) -> int:
    return chance.choice((-HOUR, HOUR))


def more_hours(chance: random.Random) -> int:
    return chance.choice((-1, 1)) * chance.randint(2, 14) * HOUR


def quarters(chance: random.Random) -> int:
    return chance.choice((-1, 1)) * (4 * chance.randrange(14) + chance.choice((1, 2, 2, 3))) * 900


def whole_days(scene: Scene) -> float:
    return scene.chance.randint(1, 60) * DAY


def by_zone(scene: Scene) -> float:
    return abs(one_hour(scene.chance) if scene.chance.random() < 0.6 else more_hours(scene.chance))


def reversed_files(scene: Scene) -> tuple[str, int | None, float]:
    scene.run(scene.span_s)
    return "reversed", None, scene.span_s
