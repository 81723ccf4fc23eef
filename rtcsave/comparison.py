"""Two saves side by side: what differs, and whether a cartridge came through a repair whole."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

from rtcsave.differences import (
    ByteChange,
    FieldChange,
    byte_changes,
    first_difference,
    save_changes,
)
from rtcsave.elapsed_time import DIFFERENT_MEMORY, Elapsed, elapsed, memory_alike
from rtcsave.errors import BadArgument
from rtcsave.findings.unpowered import power_loss
from rtcsave.savefile import SaveFile, check_save, dumps
from rtcsave.units import MINUTE_S
from rtcsave.when import Instant, Seconds, say_span, span_seconds

CRYSTAL_PPM: Final = 50
"""What the clock may be off beside `within_s`, in parts per million of the time between."""

LARGE_ALLOWANCE_S: Final = 10 * MINUTE_S
"""An allowance past this says little of a clock, which is then said."""


@dataclass(frozen=True, slots=True, kw_only=True, repr=False)
class Comparison:
    """What differs between two saves. `same` says that both are equal, byte for byte.

    Of the memory only `memory_differing` is kept, a count of bytes, and `memory_first_offset`, where
    the first of them is (None: nowhere). `fields` are the fields of the clock block that differ,
    `changes` the bytes after the memory.
    """

    same: bool
    memory_differing: int
    memory_first_offset: int | None
    fields: tuple[FieldChange, ...]
    changes: tuple[ByteChange, ...]

    def __repr__(self) -> str:
        if self.same:
            return "Comparison(the same)"
        names = ", ".join(change.field for change in self.fields) or "no field"
        return f"Comparison({self.memory_differing} bytes of memory differ; {names:.120})"


@dataclass(frozen=True, slots=True, kw_only=True)
class Verdict:
    """Whether a save came through whole, with the reason for each thing that was looked at.

    `ok` is the answer, `problems` are the reasons for a no; `reasons` has those too, in order.
    `memory_differing` and `memory_first_offset` are as in a `Comparison`; `elapsed` is what explains
    the time between, None where there is nothing to explain. `error_s` is by how much
    the clock is off, positive = fast, and `allowed_s` by how much it may be; both None where nobody
    can know. `notes` say where a memory is blank or looks like RAM that lost its power: such
    images can be identical and still be worth nothing.
    """

    ok: bool
    error_s: int | None
    allowed_s: int | None
    reasons: tuple[str, ...]
    problems: tuple[str, ...]
    memory_differing: int
    memory_first_offset: int | None
    elapsed: Elapsed | None
    notes: tuple[str, ...] = ()


def compare(a: SaveFile, b: SaveFile) -> Comparison:
    """What differs between two saves, field by field and, after the memory, byte by byte."""
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


def verify(
    before: SaveFile, after: SaveFile, within_s: Seconds = 60, now: Instant | None = None
) -> Verdict:
    """Whether `after` is `before`, some real time later: the check after a restore or a cell swap.

    Yes if the memory is identical byte for byte, the clock is right to `within_s` plus 50 ppm of the
    time between the stamps, halt is as before, and carry as before or set by an overflow. A clock
    that is halted in both saves must not have moved. Without two usable stamps the answer is no.
    `now` (None: the present) decides which stamps are plausible.
    """
    within = span_seconds(within_s, "within_s")
    if within < 0:
        raise BadArgument(
            "`within_s` must not be negative", found=f"{within} s", expected="0 or more"
        )
    count, first = first_difference(check_save(before).memory, check_save(after).memory)
    judged = [*_judge_memory(before, after, count, first)]
    found = None if before.block is None or after.block is None else _clocks(before, after, now)
    error_s = allowed_s = None
    if isinstance(found, Elapsed):
        error_s, allowed_s = _error_of(before, after, found, within)
        judged += _judge_clock(before, after, found, error_s, allowed_s)
    else:
        judged.append(found or _judge_absence(before, after))
    problems = tuple(text for fine, text in judged if not fine)
    return Verdict(
        ok=not problems,
        error_s=error_s,
        allowed_s=allowed_s,
        reasons=tuple(text for _, text in judged),
        problems=problems,
        memory_differing=count,
        memory_first_offset=first,
        elapsed=found if isinstance(found, Elapsed) else None,
        notes=_notes(before, after),
    )


def _notes(before: SaveFile, after: SaveFile) -> tuple[str, ...]:
    """What the memory of each save says of a dead cell."""
    words = (("before", power_loss(before.memory)), ("after", power_loss(after.memory)))
    return tuple(f"the save from {which}: {text}" for which, text in words if text is not None)


Judged = tuple[bool, str]
"""Whether one thing is as it should be, and what it is."""


def _judge_memory(
    before: SaveFile, after: SaveFile, count: int, first: int | None
) -> Iterator[Judged]:
    if memory_alike(before.memory, after.memory) is False:
        yield False, DIFFERENT_MEMORY
    if count:
        yield False, f"the memory differs in {count} bytes, the first at {first} ({first:X}h)"
    else:
        yield True, f"the memory is identical ({len(before.memory)} bytes)"


def _judge_absence(before: SaveFile, after: SaveFile) -> Judged:
    """Saves of which one, or both, have no clock block."""
    if before.block is None and after.block is None:
        return True, "neither save has a clock"
    which = "before" if before.block is None else "after"
    return False, f"the save from {which} has no clock block, and the other has one"


def _clocks(before: SaveFile, after: SaveFile, now: Instant | None) -> Elapsed | Judged:
    """The time between two saves that have a clock, or why nothing can be said of it."""
    first, second = before.clock_block, after.clock_block
    if first.layout.clock != second.layout.clock:
        return (
            False,
            f"the clocks are of different kinds: {first.layout.clock}, {second.layout.clock}",
        )
    for block, which in ((first, "before"), (second, "after")):
        if not block.tells_time:
            return False, f"the clock of the save from {which} holds a word that no clock can hold"
    return elapsed(before, after, now)


def _moved_s(before: SaveFile, after: SaveFile) -> int:
    """The later reading less the earlier, as they stand."""
    first, second = before.clock_block.running, after.clock_block.running
    return second.as_time()[0].to_seconds() - first.as_time()[0].to_seconds()


def _error_of(
    before: SaveFile, after: SaveFile, found: Elapsed, within_s: int
) -> tuple[int | None, int | None]:
    """By how much the clock is off (positive = fast), and by how much it may be."""
    span_s = found.by_stamps_s
    if span_s is None or found.cause == "reversed":
        return None, None
    clock = after.clock_block.running
    allowed_s = max(within_s, clock.resolution_s) + CRYSTAL_PPM * abs(span_s) // 1_000_000
    moved_s = _moved_s(before, after)
    if clock.halted and before.clock_block.running.halted:
        return moved_s, allowed_s
    if found.cause in ("halted", "stopped") and found.overflows is not None:
        return moved_s + found.overflows * clock.period_s - span_s, allowed_s
    half_s = clock.period_s // 2
    return (moved_s - span_s + half_s) % clock.period_s - half_s, allowed_s


def _judge_clock(
    before: SaveFile, after: SaveFile, found: Elapsed, error_s: int | None, allowed_s: int | None
) -> Iterator[Judged]:
    """The clock itself, then halt, then carry: that one only where the clock is right."""
    first, second = before.clock_block.running, after.clock_block.running
    right = error_s is not None and allowed_s is not None and abs(error_s) <= allowed_s
    yield right, _clock_words(found, error_s, allowed_s, second.halted and first.halted)
    same = first.halted == second.halted
    now_is = "on" if second.halted else "off"
    yield same, f"halt is {now_is}, as before" if same else f"halt is {now_is}, and was not before"
    if not right or error_s is None or found.by_stamps_s is None:
        return
    ran_s = 0 if first.halted and second.halted else found.by_stamps_s + error_s
    overflowed = ran_s > _moved_s(before, after)
    expected = first.carried or overflowed
    now_is = "on" if second.carried else "off"
    if second.carried != expected:
        yield False, f"carry is {now_is}, and should be {'on' if expected else 'off'}"
    else:
        yield True, f"carry is {now_is}, as it should be"


def _clock_words(found: Elapsed, error_s: int | None, allowed_s: int | None, halted: bool) -> str:
    """The error of the clock, beside what is allowed, or why nobody can know it."""
    if found.cause == "reversed":
        apart = say_span(-(found.by_stamps_s or 0))
        return f"the files are the wrong way round: the later one was written {apart} before"
    if error_s is None or allowed_s is None or found.by_stamps_s is None:
        return (
            f"the clock cannot be judged without two usable stamps. {' '.join(found.notes)} "
            "Say when that save was written: `plan_repair` with `saved_at`."
        )
    off = f"{say_span(abs(error_s))} {'fast' if error_s > 0 else 'slow'}" if error_s else "right"
    if halted:
        off = f"halted, and moved by {say_span(error_s)}" if error_s else "halted, and did not move"
    text = f"the clock is {off} after {say_span(found.by_stamps_s)}"
    text += f" (allowed: {say_span(allowed_s)})"
    if allowed_s > LARGE_ALLOWANCE_S:
        text += "; over so long a time that allowance says little"
    return text
