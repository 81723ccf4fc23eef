"""Faults of the running and the latched registers."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from rtcsave.clocks import CalendarClock
from rtcsave.errors import number_of
from rtcsave.findings.entry import Fault, Scene, Sighting, always
from rtcsave.layouts.fields import Part
from rtcsave.savefile import SaveFile
from rtcsave.when import rfc3339, say_span


def _see_past_range(scene: Scene, part: Part) -> Iterator[Sighting]:
    clock = scene.clock(part)
    if clock is None or clock.in_range or _says_too_much(scene, part):
        return
    for one in clock.past_range():
        yield Sighting(
            message=f"the {part} {one.name} register is past its proper range",
            offset=scene.offset_of(part, one.name),
            found=str(one.value),
            expected=f"{one.low} to {one.high}",
        )


def _says_too_much(scene: Scene, part: Part) -> bool:
    """Whether a half says what no clock can hold: then its clock is only the nearest one."""
    block = scene.block
    return block is not None and any(one.part == part for one, _ in block.misfits())


def _mended_range(scene: Scene, part: Part) -> SaveFile | None:
    clock = scene.clock(part)
    if scene.save is None or scene.block is None or clock is None or _says_too_much(scene, part):
        return None
    mended = clock.zeroed() if scene.past_range == "zero" else clock.as_time()[0]
    return scene.save.with_block(scene.block.with_clock(mended, part))


def _stays_below_the_end(scene: Scene, part: Part) -> bool:
    clock = scene.clock(part)
    if clock is None or not clock.says_a_time:
        return False
    return scene.past_range == "zero" or clock.as_time()[1] == 0


def _see_stray(scene: Scene) -> Iterator[Sighting]:
    if scene.block is None:
        return
    layout, raw = scene.block.layout, scene.block.raw
    for one, extra in scene.block.stray():
        digits = 2 * one.size
        yield Sighting(
            message=f"{one.name.replace('_', ' ')} has bits set that the register does not have",
            offset=scene.block_offset + one.offset,
            found=f"{layout.word(raw, one):0{digits}X}h (stray: {extra:0{digits}X}h)",
            expected=f"no bit outside {one.mask:02X}h",
        )


def _clear_stray(scene: Scene) -> SaveFile | None:
    if scene.save is None or scene.block is None:
        return None
    return scene.save.with_block(scene.block.without_stray())


def _see_illegal_digits(scene: Scene) -> Iterator[Sighting]:
    if scene.block is not None:
        for one, held in scene.block.misfits():
            yield Sighting(
                message=f"{one.name.replace('_', ' ')} says what such a clock cannot hold",
                offset=scene.block_offset + one.offset,
                found=f"{held:X}h",
                expected="digits and numbers of its fields",
            )
    for part in ("running", "latched"):
        clock = scene.clock(part)
        if clock is None:
            continue
        for name, nibble in clock.illegal_digits():
            yield Sighting(
                message=f"{name.replace('_', ' ')} holds no digit of the time",
                offset=scene.offset_of_word(f"{part}_{name}"),
                found=f"{nibble:X}h",
                expected="a digit that such a time has",
            )


def _see_leap(scene: Scene) -> Iterator[Sighting]:
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


def _set_leap(scene: Scene) -> SaveFile | None:
    clock = scene.running
    if scene.save is None or not isinstance(clock, CalendarClock) or clock.digits:
        return None
    mended = clock.with_values(leap_counter=clock.year % 4)
    if clock.counts and not mended.counts:  # 29 February of a year that has none
        return None
    return scene.save.with_clock(mended)


def _see_halted(scene: Scene) -> Iterator[Sighting]:
    clock = scene.running
    if clock is not None and clock.halted:
        yield Sighting(
            message="the clock is halted: it stands still until a program starts it",
            offset=scene.offset_of("running", "halt"),
            found="halt on",
            expected="halt off",
        )


def _see_carry(scene: Scene) -> Iterator[Sighting]:
    clock = scene.running
    if clock is not None and clock.carried:
        yield Sighting(
            message="carry is set: the counter went over, and no program has cleared it since",
            offset=scene.offset_of("running", "carry"),
            found="carry on",
            expected="carry off",
        )


def _see_overflow(scene: Scene) -> Iterator[Sighting]:
    clock, block = scene.running, scene.block
    if clock is None or block is None or block.usable_unix_s is None:
        return
    saved_s = block.usable_unix_s
    first_s = clock.seconds_to_overflow
    if first_s is None or scene.now_s - saved_s < first_s:
        return
    times = clock.overflows_within(scene.now_s - saved_s)
    yield Sighting(
        message="the counter has gone over since the stamp"
        + (": counted on, carry will be set" if clock.gone_over() != clock else ""),
        offset=scene.offset_of("running", clock.top),
        found=f"{number_of(times, 'overflow')}, the first at {rfc3339(saved_s + first_s)}",
        expected="none between the stamp and now",
    )


EXCHANGED_WITHIN_S: Final = 600
"""How much later a latched time may be than the running one for the halves to look exchanged: games
latch the time often, so a latched time is seldom minutes older than the running one. A clock that
was set back is usually off by more."""


def _latched_ahead_s(scene: Scene) -> int:
    """By how much the latched time is later than the running time; 0 where it is not."""
    running, latched = scene.running, scene.latched
    if running is None or latched is None or not (running.in_range and latched.in_range):
        return 0
    if running.carried:  # the counter may have gone over since the time was latched
        return 0
    return max(0, latched.to_seconds() - running.to_seconds())


def _latched_sighting(scene: Scene, message: str) -> Sighting:
    assert scene.running is not None
    assert scene.latched is not None
    return Sighting(
        message=message,
        offset=scene.offset_of("latched", "seconds"),
        found=f"latched {scene.latched.reading()}, running {scene.running.reading()}",
        expected="latched no later than running",
    )


def _see_latched_later(scene: Scene) -> Iterator[Sighting]:
    if _latched_ahead_s(scene) > EXCHANGED_WITHIN_S:
        yield _latched_sighting(scene, "the latched time is later than the running time")


def _see_exchanged(scene: Scene) -> Iterator[Sighting]:
    ahead_s = _latched_ahead_s(scene)
    if 0 < ahead_s <= EXCHANGED_WITHIN_S:
        yield _latched_sighting(
            scene,
            f"the latched time is {say_span(ahead_s)} later than the running time: the halves look "
            "exchanged",
        )


def _exchange(scene: Scene) -> SaveFile | None:
    running, latched = scene.running, scene.latched
    if scene.save is None or scene.block is None or running is None or latched is None:
        return None
    block = scene.block.with_clock(latched).with_clock(running, "latched")
    return scene.save.with_block(block)


def _see_latched_zero(scene: Scene) -> Iterator[Sighting]:
    running, latched = scene.running, scene.latched
    if running is None or latched is None:
        return
    if any(running.registers()) and not any(latched.registers()):
        yield Sighting(
            message="the latched registers are all zero, the running ones are not",
            offset=scene.offset_of("latched", "seconds"),
            found="latched all 0",
            expected=f"a time shortly before {running.reading()}",
        )


def _latch_running(scene: Scene) -> SaveFile | None:
    if scene.save is None or scene.block is None:
        return None
    return scene.save.with_block(scene.block.with_clock(scene.block.running, "latched"))


REGISTER_FAULTS = (
    Fault(
        code="register-stray-bits",
        severity="warning",
        title="bits set above a register's width",
        remedy="'repair' clears them, where at least seven of ten words fit: the chip itself always reads "
        "them as 0; where fewer fit, the layout may be another one",
        see=_see_stray,
        mend=_clear_stray,
        certain=always,
    ),
    Fault(
        code="register-past-range",
        severity="warning",
        title="a running register past its proper range",
        remedy="'repair' turns it into the time that it says ('--past-range zero': into 0); a date that "
        "does not exist, or a time past the last day, only by '--also register-past-range'",
        see=lambda scene: _see_past_range(scene, "running"),
        mend=lambda scene: _mended_range(scene, "running"),
        certain=lambda scene: _stays_below_the_end(scene, "running"),
    ),
    Fault(
        code="register-illegal-digit",
        severity="error",
        title="a register that holds no digit (Ah to Fh, no hour of a 12-hour clock) or no such number",
        remedy="'set --time' sets it; 'repair --also register-illegal-digit' takes the digits by their "
        "value",
        see=_see_illegal_digits,
        mend=lambda scene: _mended_range(scene, "running"),
    ),
    Fault(
        code="register-leap-disagrees",
        severity="note",
        title="the leap counter does not agree with the year",
        remedy="a driver that never sets it leaves it stale; 'repair --also register-leap-disagrees' "
        "sets it to the year modulo 4",
        see=_see_leap,
        mend=_set_leap,
    ),
    Fault(
        code="register-halted",
        severity="note",
        title="the clock is halted",
        remedy="if it should run, 'set FILE --halt off' releases it",
        see=_see_halted,
    ),
    Fault(
        code="register-carry",
        severity="note",
        title="carry is set",
        remedy="the game clears it when it has banked the days; 'set FILE --carry off' does too",
        see=_see_carry,
    ),
    Fault(
        code="register-overflow-since-stamp",
        severity="warning",
        title="the counter went over between the stamp and now",
        remedy="'advance' counts it on and sets carry; a game that banks days loses 512 of them "
        "for each overflow after the first",
        see=_see_overflow,
    ),
    Fault(
        code="latched-past-range",
        severity="note",
        title="a latched register past its proper range",
        remedy="'repair' turns it into the time that it says; the next latch replaces it anyway",
        see=lambda scene: _see_past_range(scene, "latched"),
        mend=lambda scene: _mended_range(scene, "latched"),
        certain=lambda scene: _stays_below_the_end(scene, "latched"),
    ),
    Fault(
        code="latched-zero",
        severity="note",
        title="the latched registers are all zero",
        remedy="the program that wrote it keeps none; 'repair --also latched-zero' latches the running time",
        see=_see_latched_zero,
        mend=_latch_running,
    ),
    Fault(
        code="latched-exchanged",
        severity="warning",
        title="the running and the latched half look exchanged",
        remedy="'repair --also latched-exchanged' exchanges them, if no program set the clock back a little",
        see=_see_exchanged,
        mend=_exchange,
    ),
    Fault(
        code="latched-later",
        severity="note",
        title="the latched time is later than the running time",
        remedy="the clock was set back, or the halves disagree; 'repair --also latched-later' "
        "latches the running time",
        see=_see_latched_later,
        mend=_latch_running,
    ),
)
