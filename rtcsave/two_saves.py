"""Two saves of one cartridge: what differs and is ordinary, and what is not."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from rtcsave.elapsed_time import (
    DIFFERENT_MEMORY,
    Elapsed,
    elapsed,
    memory_alike,
    ran_untouched,
)
from rtcsave.errors import number_of
from rtcsave.savefile import SaveFile
from rtcsave.units import DAY_S, HOUR_S, MINUTE_S
from rtcsave.when import Instant, say_span

Judged = tuple[bool, str]
"""Whether one thing is as it should be, and what it is."""

DAY_COUNTERS: Final = ("counter", "minutes")
"""The clocks that count their days in binary."""


def judge_memory(a: SaveFile, b: SaveFile, count: int, first: int | None) -> Iterator[Judged]:
    """Two memory images that differ in `count` bytes, the first at `first`."""
    if memory_alike(a.memory, b.memory) is False:
        yield False, DIFFERENT_MEMORY
    if count:
        yield (
            False,
            f"the memory differs in {number_of(count, 'byte')}, the first at {first} ({first:X}h)",
        )
    else:
        yield True, f"the memory is identical ({len(a.memory):,} bytes)"


def judge_absence(a: SaveFile, b: SaveFile) -> Judged:
    """Saves of which one, or both, have no clock block."""
    if a.block is None and b.block is None:
        return True, "neither save has a clock"
    which = "before" if a.block is None else "after"
    return False, f"the save from {which} has no clock block, and the other has one"


def time_between(a: SaveFile, b: SaveFile, now: Instant | None) -> Elapsed | Judged:
    """The time between two saves, or why nothing can be said of it."""
    if a.block is None or b.block is None:
        return judge_absence(a, b)
    first, second = a.block, b.block
    if first.layout.clock != second.layout.clock:
        return (
            False,
            f"the clocks are of different kinds: {first.layout.clock}, {second.layout.clock}",
        )
    for block, which in ((first, "before"), (second, "after")):
        if not block.tells_time:
            return False, f"the clock of the save from {which} holds a word that no clock can hold"
    return elapsed(a, b, now)


def moved_s(a: SaveFile, b: SaveFile) -> int:
    """The later reading less the earlier, without overflows."""
    first, second = a.clock_block.running, b.clock_block.running
    return second.as_time()[0].to_seconds() - first.as_time()[0].to_seconds()


def wrong_way_round(elapsed_time: Elapsed) -> str:
    """What is said of files that were given in the wrong order: this, and nothing else."""
    apart = say_span(-(elapsed_time.by_stamps_s or 0))
    return (
        "the files are the wrong way round: the later save was written "
        f"{apart} before the earlier one"
    )


def judge_clocks(a: SaveFile, b: SaveFile, elapsed_time: Elapsed) -> Iterator[Judged]:
    """The clocks of two dumps: what they did between, the flags, and the other bytes of the block."""
    if elapsed_time.cause == "reversed":
        yield False, wrong_way_round(elapsed_time)
        return
    first, second = a.clock_block, b.clock_block
    yield _judge_run(a, b, elapsed_time)
    yield from _judge_flags(a, b, elapsed_time)
    if first.layout.name != second.layout.name:
        yield False, f"the layout is {second.layout.name}, and was {first.layout.name}"
    elif first.latched != second.latched:
        yield True, "the latched registers changed, as each latch changes them"


def _judge_run(a: SaveFile, b: SaveFile, elapsed_time: Elapsed) -> Judged:
    """Whether the running registers went on as a running clock does."""
    change_s = moved_s(a, b)
    days = _days_of_one_bit(a, b, elapsed_time.by_stamps_s)
    if days:
        way = "forward" if days > 0 else "back"
        return False, (
            f"the clock jumped {way} by {say_span(abs(days) * DAY_S)}: one bit of the day counter "
            "differs. Clean the contacts and dump again"
        )
    if elapsed_time.cause == "unknown":
        return _judge_unstamped(a, b, change_s)
    if ran_untouched(elapsed_time):
        counted_s = change_s + (elapsed_time.overflows or 0) * b.clock_block.running.period_s
        return True, (
            f"the clock moved by {say_span(counted_s)}, and the stamps by "
            f"{say_span(elapsed_time.by_stamps_s or 0)}"
        )
    if not change_s and a.clock_block.running.halted and b.clock_block.running.halted:
        return True, "the clock is halted, and did not move"
    return False, f"the clock did not move as the stamps did. {elapsed_time.explanations[0].text}"


def _judge_unstamped(a: SaveFile, b: SaveFile, change_s: int) -> Judged:
    """Two readings, where no two stamps say how much time passed."""
    new_carry = b.clock_block.running.carried and not a.clock_block.running.carried
    if change_s < 0 and not new_carry:
        return False, f"the clock went back by {say_span(-change_s)}, without a new carry"
    if change_s < 0:
        change_s += b.clock_block.running.period_s
    return True, f"the clock moved by {say_span(change_s)}; no two usable stamps can confirm it"


def _days_of_one_bit(a: SaveFile, b: SaveFile, span_s: int | None) -> int:
    """By how many days the later reading is off, where that is one bit of its day counter.

    Only between dumps of one sitting: a day apart by the stamps, without them an hour by the time of
    day, and then two days or more: one day may have passed.
    """
    first, second = a.clock_block.running, b.clock_block.running
    if second.kind not in DAY_COUNTERS:
        return 0
    change_s = moved_s(a, b)
    unstamped = span_s is None
    passed_s = change_s % DAY_S if span_s is None else span_s
    if not 0 <= passed_s <= (HOUR_S if unstamped else DAY_S):
        return 0
    right_s = (first.as_time()[0].to_seconds() + passed_s) % second.period_s
    later_s = second.as_time()[0].to_seconds()
    days = round((later_s - right_s) / DAY_S)
    if abs(later_s - right_s - days * DAY_S) > MINUTE_S or (unstamped and abs(days) < 2):
        return 0
    later_day = later_s // DAY_S
    return days if (later_day ^ (later_day - days)).bit_count() == 1 else 0


def _judge_flags(a: SaveFile, b: SaveFile, elapsed_time: Elapsed) -> Iterator[Judged]:
    """Halt must be alike; carry too, or newly set by an overflow."""
    old, new = a.clock_block.running, b.clock_block.running
    if (
        "carry" in new.values()
        and elapsed_time.overflows
        and elapsed_time.cause == "untouched"
        and not new.carried
    ):
        yield False, "carry is off, after an overflow"
    elif (old.halted, old.carried) == (new.halted, new.carried):
        yield True, "halt and carry are alike"
    if old.halted != new.halted:
        yield False, f"halt is {_on(new.halted)}, and was {_on(old.halted)}"
    if old.carried == new.carried:
        return
    overflowed = bool(elapsed_time.overflows) or (
        elapsed_time.cause == "unknown" and moved_s(a, b) < 0
    )
    if new.carried and overflowed:
        yield True, "carry is newly set, as an overflow sets it"
    else:
        yield False, f"carry is {_on(new.carried)}, and was {_on(old.carried)}"


def _on(flag: bool) -> str:
    return "on" if flag else "off"
