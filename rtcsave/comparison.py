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
from rtcsave.elapsed_time import Elapsed
from rtcsave.errors import BadArgument
from rtcsave.findings.unpowered import power_loss
from rtcsave.savefile import SaveFile, check_save, dumps
from rtcsave.two_saves import (
    Judged,
    judge_clocks,
    judge_memory,
    moved_s,
    time_between,
    wrong_way_round,
)
from rtcsave.units import MINUTE_S
from rtcsave.when import Instant, Seconds, say_span, span_seconds

ALLOWED_PPM: Final = 50
"""What the clock may be off beside `within_s`, in parts per million of the time between."""

LARGE_ALLOWANCE_S: Final = 10 * MINUTE_S
"""An allowance past this says little of a clock, which is then said."""


@dataclass(frozen=True, slots=True, kw_only=True, repr=False)
class Comparison:
    """What differs between two saves. `same` says that both are equal, byte for byte.

    Of the memory only `memory_differing` is kept, a count of bytes, and `memory_first_offset`, where
    the first of them is (None: nowhere). `fields` are the fields of the clock block that differ,
    `changes` the bytes after the memory.
    `ordinary` says that they differ only as two dumps of a running clock do; `reasons` is each thing
    that was looked at, `problems` those of them that are not ordinary, as in a `Verdict`. `elapsed`
    explains the time between; None where there is nothing to explain.
    """

    same: bool
    ordinary: bool
    memory_differing: int
    memory_first_offset: int | None
    fields: tuple[FieldChange, ...]
    changes: tuple[ByteChange, ...]
    reasons: tuple[str, ...]
    problems: tuple[str, ...]
    elapsed: Elapsed | None

    def __repr__(self) -> str:
        if self.same:
            return "Comparison(the same)"
        names = ", ".join(change.field for change in self.fields) or "no field"
        ordinary = "ordinary" if self.ordinary else "not ordinary"
        return f"Comparison({ordinary}; {self.memory_differing:,} bytes of memory differ; {names:.120})"


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


def compare(a: SaveFile, b: SaveFile, now: Instant | None = None) -> Comparison:
    """What differs between two saves, field by field and, after the memory, byte by byte.

    `a` is the earlier one. Ordinary are memory and flags that are alike, and a clock that moved with
    the stamps, as `elapsed` judges it. `now` (None: the present) decides which stamps are plausible.
    """
    count, first = first_difference(check_save(a).memory, check_save(b).memory)
    old = a.block.raw if a.block is not None else b""
    new = b.block.raw if b.block is not None else b""
    block = b.block if b.block is not None else a.block
    moved = tuple(
        ByteChange(
            offset=change.offset + len(a.memory), old=change.old, new=change.new, field=change.field
        )
        for change in byte_changes(old, new, block, 0)
    )
    same = dumps(a) == dumps(b)
    judged: list[Judged] = [(True, "the files are the same")]
    between: Elapsed | None = None
    if not same:
        judged, between = _differing(a, b, now, moved, [*judge_memory(a, b, count, first)])
    problems = tuple(text for fine, text in judged if not fine)
    return Comparison(
        same=same,
        ordinary=not problems,
        memory_differing=count,
        memory_first_offset=first,
        fields=save_changes(a, b),
        changes=moved,
        reasons=tuple(text for _, text in judged),
        problems=problems,
        elapsed=between,
    )


def _differing(
    a: SaveFile,
    b: SaveFile,
    now: Instant | None,
    moved: tuple[ByteChange, ...],
    memory: list[Judged],
) -> tuple[list[Judged], Elapsed | None]:
    """What is ordinary of two saves that differ, and what explains the time between."""
    judged = memory
    between = time_between(a, b, now)
    if isinstance(between, Elapsed):
        judged += judge_clocks(a, b, between)
    else:
        judged.append(between)
    unused = sum(len(change.old) for change in moved if change.field == "unused")
    if unused:
        judged.append((False, f"unused bytes of the clock block differ ({unused})"))
    return judged, between if isinstance(between, Elapsed) else None


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
    judged = [*judge_memory(before, after, count, first)]
    between = time_between(before, after, now)
    error_s = allowed_s = None
    if isinstance(between, Elapsed):
        error_s, allowed_s = _error_of(before, after, between, within)
        judged += _judge_clock(before, after, between, error_s, allowed_s)
    else:
        judged.append(between)
    problems = tuple(text for fine, text in judged if not fine)
    return Verdict(
        ok=not problems,
        error_s=error_s,
        allowed_s=allowed_s,
        reasons=tuple(text for _, text in judged),
        problems=problems,
        memory_differing=count,
        memory_first_offset=first,
        elapsed=between if isinstance(between, Elapsed) else None,
        notes=_notes(before, after),
    )


def _notes(before: SaveFile, after: SaveFile) -> tuple[str, ...]:
    """What the memory of each save says of a dead cell."""
    words = (("before", power_loss(before.memory)), ("after", power_loss(after.memory)))
    return tuple(f"the save from {which}: {text}" for which, text in words if text is not None)


def _error_of(
    before: SaveFile, after: SaveFile, elapsed_time: Elapsed, within_s: int
) -> tuple[int | None, int | None]:
    """By how much the clock is off (positive = fast), and by how much it may be."""
    span_s = elapsed_time.by_stamps_s
    if span_s is None or elapsed_time.cause == "reversed":
        return None, None
    clock = after.clock_block.running
    allowed_s = max(within_s, clock.resolution_s) + ALLOWED_PPM * abs(span_s) // 1_000_000
    change_s = moved_s(before, after)
    if clock.halted and before.clock_block.running.halted:
        return change_s, allowed_s
    if elapsed_time.cause in ("halted", "stopped", "restarted"):
        return change_s + (elapsed_time.overflows or 0) * clock.period_s - span_s, allowed_s
    half_s = clock.period_s // 2
    return (change_s - span_s + half_s) % clock.period_s - half_s, allowed_s


def _judge_clock(
    before: SaveFile,
    after: SaveFile,
    elapsed_time: Elapsed,
    error_s: int | None,
    allowed_s: int | None,
) -> Iterator[Judged]:
    """The clock itself, then halt, then carry: that one only where the clock is right."""
    first, second = before.clock_block.running, after.clock_block.running
    right = error_s is not None and allowed_s is not None and abs(error_s) <= allowed_s
    helps = _what_helps(before, after)
    yield (
        right,
        _clock_words(elapsed_time, error_s, allowed_s, second.halted and first.halted, helps),
    )
    if elapsed_time.cause == "reversed":
        return
    same = first.halted == second.halted
    now_is = "on" if second.halted else "off"
    yield same, f"halt is {now_is}, as before" if same else f"halt is {now_is}, and was not before"
    if not right or error_s is None or elapsed_time.by_stamps_s is None:
        return
    ran_s = 0 if first.halted and second.halted else elapsed_time.by_stamps_s + error_s
    overflowed = ran_s > moved_s(before, after)
    expected = first.carried or (overflowed and "carry" in second.values())
    now_is = "on" if second.carried else "off"
    if second.carried != expected:
        yield False, f"carry is {now_is}, and should be {'on' if expected else 'off'}"
    else:
        yield True, f"carry is {now_is}, as it should be"


def _what_helps(before: SaveFile, after: SaveFile) -> str:
    """What to do where a stamp is missing."""
    helps = "Say when that save was written: `plan_repair` with `saved_at`."
    if before.clock_block.layout.stamp is None or after.clock_block.layout.stamp is None:
        return f"First convert to a layout that has a stamp. {helps}"
    return helps


def _clock_words(
    elapsed_time: Elapsed, error_s: int | None, allowed_s: int | None, halted: bool, helps: str
) -> str:
    """The error of the clock beside the allowed one, or why it cannot be known."""
    if elapsed_time.cause == "reversed":
        return wrong_way_round(elapsed_time)
    if error_s is None or allowed_s is None or elapsed_time.by_stamps_s is None:
        return f"the clock cannot be judged without two usable stamps. {' '.join(elapsed_time.notes)} {helps}"
    off = f"{say_span(abs(error_s))} {'fast' if error_s > 0 else 'slow'}" if error_s else "right"
    if halted:
        off = f"halted, and moved by {say_span(error_s)}" if error_s else "halted, and did not move"
    text = f"the clock is {off} after {say_span(elapsed_time.by_stamps_s)}"
    text += f" (allowed: {say_span(allowed_s)})"
    if allowed_s > LARGE_ALLOWANCE_S:
        text += "; over so long a time that allowance says little"
    return text
