"""Two saves side by side: what differs, and whether a cartridge came through a repair whole."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from rtcsave.differences import (
    ByteChange,
    FieldChange,
    byte_changes,
    first_difference,
    save_changes,
)
from rtcsave.elapsed_time import Elapsed, elapsed
from rtcsave.savefile import SaveFile, check_save, dumps

SOUND_CAUSES: Final = ("untouched", "halted")
"""Causes of a difference in time that a clock which only ran, or stood as told, can have."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Comparison:
    """What differs between two saves. Memory is a count of bytes and the first offset, no content.

    `changes` are the bytes behind the memory that differ.
    """

    same: bool
    memory_differing: int
    memory_first_offset: int | None
    fields: tuple[FieldChange, ...]
    changes: tuple[ByteChange, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Verdict:
    """Whether a save came through whole, with the reason for each thing that was looked at.

    `problems` are the reasons for a no; `reasons` has those too, in order.
    """

    ok: bool
    reasons: tuple[str, ...]
    problems: tuple[str, ...]
    memory_differing: int
    memory_first_offset: int | None
    elapsed: Elapsed | None


def compare(a: SaveFile, b: SaveFile) -> Comparison:
    """What differs between two saves, field by field and, behind the memory, byte by byte."""
    count, first = first_difference(check_save(a).memory, check_save(b).memory)
    old = a.block.raw if a.block is not None else b""
    new = b.block.raw if b.block is not None else b""
    block = b.block if b.block is not None else a.block
    moved = tuple(
        ByteChange(offset=one.offset + len(a.memory), old=one.old, new=one.new, field=one.field)
        for one in byte_changes(old, new, block, 0)
    )
    return Comparison(
        same=dumps(a) == dumps(b),
        memory_differing=count,
        memory_first_offset=first,
        fields=save_changes(a, b),
        changes=moved,
    )


def verify(before: SaveFile, after: SaveFile) -> Verdict:
    """Whether `after` is `before`, some real time later: the check after a restore or a cell swap.

    Yes if the memory is identical byte for byte, the clock moved by the time between the stamps
    within truncation and what a crystal can do, halt is as before, and carry as before or set by an
    overflow. Where the stamps are no use the answer is no: it cannot be known.
    """
    good: list[str] = []
    bad: list[str] = []
    order: list[str] = []

    def say(fine: bool, text: str) -> None:
        (good if fine else bad).append(text)
        order.append(text)

    count, first = first_difference(check_save(before).memory, check_save(after).memory)
    if count:
        say(False, f"the memory differs in {count} bytes, the first at {first} ({first:X}h)")
    else:
        say(True, f"the memory is identical ({len(before.memory)} bytes)")
    passed: Elapsed | None = None
    if before.block is None or after.block is None:
        both = before.block is None and after.block is None
        say(both, "neither has a clock" if both else "one of the two has no clock block")
    elif before.block.layout.clock != after.block.layout.clock:
        say(False, "the two hold clocks of different kinds")
    elif not (before.block.tells_time and after.block.tells_time):
        which = "after" if before.block.tells_time else "before"
        say(False, f"the words of the clock {which} say what no clock can hold")
    else:
        passed = elapsed(before, after)
        backward = passed.by_stamps_s is not None and passed.by_stamps_s < 0
        say(passed.cause in SOUND_CAUSES and not backward, passed.text)
        if backward:
            say(False, "the later stamp is the earlier: the files are the wrong way round")
        first_clock, second_clock = before.block.running, after.block.running
        same_halt = first_clock.halted == second_clock.halted
        state = "on" if second_clock.halted else "off"
        say(
            same_halt, f"halt is {state}" + (", as before" if same_halt else ", and was not before")
        )
        went_over = bool(passed.overflows) and passed.cause != "halted"
        expected = first_clock.carried or went_over
        state = "on" if second_clock.carried else "off"
        say(
            second_clock.carried == expected,
            f"carry is {state}"
            + (", as it should be" if second_clock.carried == expected else ", and should not be"),
        )
    return Verdict(
        ok=not bad,
        reasons=tuple(order),
        problems=tuple(bad),
        memory_differing=count,
        memory_first_offset=first,
        elapsed=passed,
    )
