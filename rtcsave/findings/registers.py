"""Faults of the running and the latched registers."""

from __future__ import annotations

from collections.abc import Iterator

from rtcsave.clocks import CalendarClock
from rtcsave.errors import number_of
from rtcsave.findings.entry import (
    FindingKind,
    Sighting,
    always,
    certain_in_block,
    repaired_in_block,
    seen_in_block,
)
from rtcsave.findings.scene import BlockScene
from rtcsave.layouts.codec import codec
from rtcsave.layouts.fields import CLOCK_PARTS, ClockPart
from rtcsave.savefile import SaveFile
from rtcsave.when import dated


def _see_past_range(scene: BlockScene, part: ClockPart) -> Iterator[Sighting]:
    clock = scene.clock(part)
    if clock is None or clock.in_range or _says_too_much(scene, part):
        return
    for register in clock.out_of_range():
        yield Sighting(
            message=f"the {part} {register.name} register is out of range",
            offset=scene.offset_of(part, register.name),
            found=str(register.value),
            expected=f"{register.low} to {register.high}",
        )


def _says_too_much(scene: BlockScene, part: ClockPart) -> bool:
    """Whether a part has a word that no clock can hold: then its clock is only the nearest one."""
    return any(word.part == part for word, _ in scene.block.misfits())


def _repaired_range(scene: BlockScene, part: ClockPart) -> SaveFile | None:
    clock = scene.clock(part)
    if clock is None or _says_too_much(scene, part):
        return None
    repaired = clock.zeroed() if scene.file.past_range == "zero" else clock.as_time()[0]
    return scene.with_block(scene.block.with_clock(repaired, part))


def _stays_below_the_end(scene: BlockScene, part: ClockPart) -> bool:
    clock = scene.clock(part)
    if clock is None or not clock.says_a_time:
        return False
    return scene.file.past_range == "zero" or clock.as_time()[1] == 0


def _see_stray(scene: BlockScene) -> Iterator[Sighting]:
    layout, raw = scene.block.layout, scene.block.raw
    for word, extra in scene.block.stray():
        digits = 2 * word.size
        yield Sighting(
            message=f"{word.name.replace('_', ' ')} has bits set that the register does not have",
            offset=scene.offset + word.offset,
            found=f"{codec(layout).word(raw, word):0{digits}X}h (stray: {extra:0{digits}X}h)",
            expected=f"no bit outside {word.mask:02X}h",
        )


def _clear_stray(scene: BlockScene) -> SaveFile | None:
    return scene.with_block(scene.block.without_stray())


def _see_illegal_digits(scene: BlockScene) -> Iterator[Sighting]:
    for word, value in scene.block.misfits():
        yield Sighting(
            message=f"{word.name.replace('_', ' ')} says what such a clock cannot hold",
            offset=scene.offset + word.offset,
            found=f"{value:X}h",
            expected="digits and numbers of its fields",
        )
    for part in CLOCK_PARTS:
        clock = scene.clock(part)
        if clock is None:
            continue
        for name, nibble in clock.illegal_digits():
            yield Sighting(
                message=f"{name.replace('_', ' ')} holds an invalid digit",
                offset=scene.offset_of_word(f"{part}_{name}"),
                found=f"{nibble:X}h",
                expected="a digit that such a time has",
            )


def _see_leap(scene: BlockScene) -> Iterator[Sighting]:
    clock = scene.running
    if not isinstance(clock, CalendarClock) or clock.digits:
        return
    if clock.leap_counter != clock.year % 4:
        yield Sighting(
            message="the leap counter does not agree with the year: the clock has a 29 February in "
            "other years than the calendar",
            offset=scene.offset_of("running", "leap_counter"),
            found=f"{clock.leap_counter} in year {clock.year:02d}",
            expected=str(clock.year % 4),
        )


def _set_leap(scene: BlockScene) -> SaveFile | None:
    clock = scene.running
    if not isinstance(clock, CalendarClock) or clock.digits:
        return None
    repaired = clock.with_values(leap_counter=clock.year % 4)
    if clock.counts and not repaired.counts:  # 29 February of a year that has none
        return None
    return scene.save.with_clock(repaired)


def _see_halted(scene: BlockScene) -> Iterator[Sighting]:
    clock = scene.running
    if clock.halted:
        yield Sighting(
            message="the clock is halted: it does not count until software starts it",
            offset=scene.offset_of("running", "halt"),
            found="halt on",
            expected="halt off",
        )


def _see_carry(scene: BlockScene) -> Iterator[Sighting]:
    clock = scene.running
    if clock.carried:
        yield Sighting(
            message="carry is set: the counter overflowed, and the game has not cleared it since",
            offset=scene.offset_of("running", "carry"),
            found="carry on",
            expected="carry off",
        )


def _see_overflow(scene: BlockScene) -> Iterator[Sighting]:
    clock, block = scene.running, scene.block
    if block.usable_unix_s is None:
        return
    saved_s = block.usable_unix_s
    first_s = clock.seconds_to_overflow
    if first_s is None or scene.file.now_s - saved_s < first_s:
        return
    times = clock.overflows_within(scene.file.now_s - saved_s)
    yield Sighting(
        message="the counter has overflowed since the stamp"
        + (": advanced, carry will be set" if clock.with_overflow_mark() != clock else ""),
        offset=scene.offset_of("running", clock.top),
        found=f"{number_of(times, 'overflow')}, the first at {dated(saved_s + first_s)}",
        expected="none between the stamp and now",
    )


REGISTER_KINDS = (
    FindingKind(
        code="register-stray-bits",
        severity="warning",
        title="bits set above a register's width",
        remedy="`plan_repair` clears them, where at least seven of ten words fit: the chip itself always "
        "reads them as 0; where fewer fit, the layout may be another one",
        see=seen_in_block(_see_stray),
        repairs=repaired_in_block(_clear_stray),
        certain=always,
    ),
    FindingKind(
        code="register-past-range",
        severity="warning",
        title="a running register out of range",
        remedy=(
            "`plan_repair` turns it into the time that it says (`past_range=zero`: into 0); "
            "an invalid date, or a time past the last day, only by `also=register-past-range`"
        ),
        see=seen_in_block(lambda scene: _see_past_range(scene, "running")),
        repairs=repaired_in_block(lambda scene: _repaired_range(scene, "running")),
        certain=certain_in_block(lambda scene: _stays_below_the_end(scene, "running")),
    ),
    FindingKind(
        code="register-illegal-digit",
        severity="error",
        title="a register that holds an invalid digit (Ah to Fh, no hour of a 12-hour clock) or number",
        remedy="`with_time` sets it; `also=register-illegal-digit` takes the digits by their value",
        see=seen_in_block(_see_illegal_digits),
        repairs=repaired_in_block(lambda scene: _repaired_range(scene, "running")),
    ),
    FindingKind(
        code="register-leap-disagrees",
        severity="note",
        title="the leap counter does not agree with the year",
        remedy="a driver that never sets it leaves it stale; `also=register-leap-disagrees` "
        "sets it to the year modulo 4",
        see=seen_in_block(_see_leap),
        repairs=repaired_in_block(_set_leap),
    ),
    FindingKind(
        code="register-halted",
        severity="note",
        title="the clock is halted",
        remedy="if it should run, `halt=False` releases it, with a stamp of that instant",
        see=seen_in_block(_see_halted),
    ),
    FindingKind(
        code="register-carry",
        severity="note",
        title="carry is set",
        remedy="the game clears it when it has banked the days; `carry=False` does too",
        see=seen_in_block(_see_carry),
    ),
    FindingKind(
        code="register-overflow-since-stamp",
        severity="warning",
        title="the counter overflowed between the stamp and now",
        remedy="`advance_to` advances it and sets carry; a game that banks days loses 512 of them "
        "for each overflow after the first",
        see=seen_in_block(_see_overflow),
    ),
    FindingKind(
        code="latched-past-range",
        severity="note",
        title="a latched register out of range",
        remedy="`plan_repair` turns it into the time that it says; the next latch replaces it anyway",
        see=seen_in_block(lambda scene: _see_past_range(scene, "latched")),
        repairs=repaired_in_block(lambda scene: _repaired_range(scene, "latched")),
        certain=certain_in_block(lambda scene: _stays_below_the_end(scene, "latched")),
    ),
)
