"""How a save is shown: the JSON keys, the lines for people, the picture of the counter."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import fields, is_dataclass
from datetime import datetime
from typing import TYPE_CHECKING, Any

from rtcsave.cli.console import Console, Sheet
from rtcsave.cli.options import in_options
from rtcsave.clocks import Clock
from rtcsave.errors import number_of
from rtcsave.findings import check
from rtcsave.layouts import ClockBlock
from rtcsave.layouts.fields import Part
from rtcsave.savefile import SaveFile
from rtcsave.savefile.present import clock_now, overflow_at
from rtcsave.when import rfc3339, say_instant, say_span, unix_seconds

if TYPE_CHECKING:
    from rtcsave.findings import Finding

_PICTURE_CELLS = 32
_LEAST_CELLS = 8
_BESIDE_PICTURE = 16  # the label before it, and its brackets
_WIDTH = len("2026-03-10 14:15:00 UTC")


def clock_json(clock: Clock | None, misfits: bool = False) -> dict[str, Any] | None:
    """A clock as the JSON keys have it; `misfits` says that its words hold what none can hold."""
    if clock is None:
        return None
    in_range = clock.in_range and not misfits
    return {"kind": clock.kind, **clock.values(), "in_range": in_range}


def _misfits(block: ClockBlock, part: Part) -> bool:
    return any(word.part == part for word, _ in block.misfits())


def value_json(value: Any) -> Any:
    """A value of the library as JSON: its fields by name, instants in RFC 3339, bytes in hex."""
    if is_dataclass(value) and not isinstance(value, type):
        return {field.name: value_json(getattr(value, field.name)) for field in fields(value)}
    if isinstance(value, datetime):
        return rfc3339(unix_seconds(value))
    if isinstance(value, bytes):
        return value.hex()
    if isinstance(value, (tuple, list)):
        return [value_json(item) for item in value]
    return value


def findings_json(findings: Iterable[Finding]) -> list[dict[str, Any]]:
    """Findings as the JSON keys have them."""
    return [{**value_json(finding), "remedy": in_options(finding.remedy)} for finding in findings]


def save_json(
    path: str, save: SaveFile | None, now_s: int, findings: Iterable[Finding]
) -> dict[str, Any]:
    """A save as JSON keys; an absent value is null."""
    block = None if save is None else save.block
    counted = clock_now(block, now_s)
    return {
        "path": path,
        "memory_bytes": None if save is None else len(save.memory),
        "layout": None if block is None else block.layout.name,
        "clock": None if block is None else clock_json(block.running, _misfits(block, "running")),
        "clock_now": None if counted is None else clock_json(counted[0]),
        "latched": None if block is None else clock_json(block.latched, _misfits(block, "latched")),
        "stamp": None if block is None else block.stamp,
        "saved_at": None if block is None else rfc3339(block.saved_unix_s),
        "overflow_at": rfc3339(overflow_at(block, now_s)),
        "findings": findings_json(findings),
    }


def what_it_is(save: SaveFile) -> str:
    """The parts of a save, for its title."""
    memory = f"{len(save.memory):,} bytes of memory" if save.memory else ""
    block = "no clock block" if save.block is None else save.block.layout.name
    return f"{memory}, {block}" if memory else f"a standalone clock block, {block}"


def registers_words(clock: Clock) -> str:
    """Every field of a clock with its value."""
    parts = []
    for name, value in clock.values().items():
        shown = ("on" if value else "off") if isinstance(value, bool) else str(value)
        parts.append(f"{name.replace('_', ' ')} {shown}")
    return ", ".join(parts)


def picture(console: Console, saved: Clock, now: Clock | None) -> str:
    """How far round its period a clock is: a full part as saved, a lighter one advanced since.

    A clock that has overflowed since it was saved shows only where it is now.
    """
    full, counted, rest = ("█", "▒", "░") if console.can_show("█▒░") else ("#", "+", ".")
    cells = min(_PICTURE_CELLS, max(_LEAST_CELLS, console.width - _BESIDE_PICTURE))
    at_saved = _cells(saved, cells)
    at_now = at_saved if now is None else _cells(now, cells)
    if at_now < at_saved or (now is not None and now.carried and not saved.carried):
        at_saved = 0
    bar = full * at_saved + counted * (at_now - at_saved)
    return bar + rest * (cells - len(bar))


def _cells(clock: Clock, cells: int) -> int:
    reading_s = clock.as_time()[0].to_seconds()
    return -(-reading_s * cells // clock.period_s)


def add_clock_lines(
    console: Console, sheet: Sheet, save: SaveFile, now_s: int, zone: str | None
) -> None:
    """The lines of a save's clock: date and time first, then the way round, then registers."""
    block = save.block
    if block is None:
        sheet.add("clock", "none: the file is a memory image alone")
        return
    running, latched = block.running, block.latched
    saved_s = block.saved_unix_s
    stamped = "stamp absent" if saved_s is None else say_instant(saved_s, zone)
    if saved_s is None and block.stamp is not None and not block.stamp_absent:
        stamped = f"stamp unusable: {block.stamp}"
    sheet.add("saved", f"{stamped:<{_WIDTH}}  {_said(running)}")
    counted = clock_now(block, now_s)
    if counted is None:
        sheet.add("now", f"{say_instant(now_s, zone):<{_WIDTH}}  unknown: nothing to count from")
        now = None
    else:
        now, passed_s = counted
        how = "halted, it has not moved" if running.halted else f"{say_span(passed_s)} later"
        times = running.overflows_within(passed_s)
        if times:
            how += f", overflowed {number_of(times, 'time')}"
        sheet.add("now", f"{say_instant(now_s, zone):<{_WIDTH}}  {_said(now)} ({how})")
    if block.tells_time:
        words = _round_words(block, now or running, now_s, zone)
        sheet.add("round", f"[{picture(console, running, now)}] {words}")
    sheet.add("running", registers_words(running))
    if latched is not None:
        same = latched.values() == running.values()
        sheet.add("latched", "as running" if same else registers_words(latched))
    if block.stamp is not None:
        sheet.add("stamp", str(block.stamp))


def _said(clock: Clock) -> str:
    day, separator, time = clock.reading().partition("d")
    return f"day {day}, {time}" if separator else day


def _round_words(block: ClockBlock, clock: Clock, now_s: int, zone: str | None) -> str:
    days = clock.period_s // 86_400
    at_s = overflow_at(block, now_s)
    day = clock.as_time()[0].to_seconds() // 86_400
    words = f"day {day} of {days}"
    if clock.halted:
        return f"{words}; halted, it never overflows"
    if at_s is None:
        assert clock.seconds_to_overflow is not None
        return f"{words}; overflows after {say_span(clock.seconds_to_overflow)} of running"
    left = (at_s - now_s) // 86_400
    return f"{words}; overflows {say_instant(at_s, zone)}, in {left:,} days"


def add_finding_lines(sheet: Sheet, findings: Iterable[Finding], remedies: bool) -> None:
    """A line a finding, the worst first, with the remedy below it if asked for."""
    ordered = sorted(
        findings, key=lambda finding: ("error", "warning", "note").index(finding.severity)
    )
    if not ordered:
        sheet.add("findings", "none", "good")
        return
    for at, finding in enumerate(ordered):
        place = "" if finding.offset is None else f" at byte {finding.offset} ({finding.offset:X}h)"
        sheet.add(
            "findings" if not at else "",
            f"{finding.severity}: {finding.code}{place}",
            finding.severity,
        )
        sheet.add("", f"  {finding.message}: found {finding.found}, expected {finding.expected}")
        following = ordered[at + 1].remedy if at + 1 < len(ordered) else ""
        if remedies and finding.remedy != following:  # said once for findings that are alike
            sheet.add("", f"  {in_options(finding.remedy)}", "dim")
    if not remedies:
        sheet.add("", "'rtcsave check' says what helps", "dim")


_OF_REGISTERS = ("register-past-range", "register-illegal-digit", "latched-exchanged")
_OF_STAMP = ("stamp-local-time", "stamp-future")


def clock_doubts(save: SaveFile, now_s: int, *, by_stamp: bool) -> list[str]:
    """What speaks against going on from a save's clock, and from its stamp if that is what is gone by."""
    codes = (*_OF_REGISTERS, *(_OF_STAMP if by_stamp else ()))
    return [
        f"{finding.message}: found {finding.found}, expected {finding.expected}; "
        "'rtcsave check' says what helps"
        for finding in check(save, now=now_s)
        if finding.code in codes
    ]
