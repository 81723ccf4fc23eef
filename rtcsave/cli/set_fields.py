"""`set`: registers, flags and stamp to given values."""

from __future__ import annotations

import argparse

from rtcsave.cli.codes import DONE
from rtcsave.cli.console import Sheet
from rtcsave.cli.given import WritingOptions
from rtcsave.cli.parsing import add_writing, one_of
from rtcsave.cli.paths import one_file
from rtcsave.cli.session import Session
from rtcsave.cli.words import clock_json, what_it_is
from rtcsave.cli.writing import finish_save, refuse_contradictions
from rtcsave.clocks import Clock
from rtcsave.differences import save_changes
from rtcsave.errors import BadArgument
from rtcsave.savefile import dumps
from rtcsave.when import dated, parse_clock_time

EXAMPLES = """\
Only what is named changes. An emulator that advances from the stamp adds the
time since then: set the stamp with the time if the time is that of now.

examples:
  rtcsave set game.sav --time 12d03:04:05 --stamp now
  rtcsave set game.sav --halt off --carry off
  rtcsave set game.sav --stamp none --dry-run
"""


class Options(WritingOptions):
    """The command's own options, as they were typed."""

    file: str
    time: str | None
    halt: str | None
    carry: str | None
    stamp: str | None


def arguments(parser: argparse.ArgumentParser) -> None:
    """The command's own arguments."""
    parser.add_argument("file", metavar="FILE", help="a save, or - for standard input")
    parser.add_argument(
        "--time", metavar="TIME", help="12d03:04:05, or for a calendar clock '26-03-10 14:15:00'"
    )
    flag = one_of("on", "off")
    parser.add_argument("--halt", type=flag, metavar="on|off", help="whether the clock is halted")
    parser.add_argument(
        "--carry", type=flag, metavar="on|off", help="whether the counter has overflowed"
    )
    parser.add_argument("--stamp", metavar="INSTANT", help="when it was saved; none writes 0")
    add_writing(parser)


def _with_flags(clock: Clock, flags: dict[str, bool]) -> Clock:
    known = {field.name for field in clock.FIELDS if field.is_flag}
    for name in flags:
        if name not in known:
            raise BadArgument(f"the {clock.kind} clock has no {name} bit")
    return clock.with_values(**flags)


def run(session: Session[Options]) -> int:
    """Set what was named."""
    args = session.args
    file = one_file(session.args.file)
    refuse_contradictions(session, [file])
    if all(value is None for value in (args.time, args.halt, args.carry, args.stamp)):
        raise BadArgument("nothing to set", remedy="name --time, --halt, --carry or --stamp")
    time = None if args.time is None else parse_clock_time(args.time)
    stamp = None if args.stamp in (None, "none") else session.instant(args.stamp)
    return session.each([file], lambda path: _work(session, path, time, stamp))


def _work(
    session: Session[Options], path: str, time: dict[str, int] | None, stamp: int | None
) -> int:
    args = session.args
    flags = {
        name: typed == "on"
        for name, typed in (("halt", args.halt), ("carry", args.carry))
        if typed is not None
    }
    save = session.load(path)
    after = save
    if time is not None or flags:
        clock = save.clock_block.running
        clock = clock if time is None else clock.with_time(time)
        after = after.with_clock(_with_flags(clock, flags))
    if args.stamp is not None:
        after = after.with_stamp(stamp)
    sheet = Sheet(f"{path}: {what_it_is(save)}")
    for change in save_changes(save, after):
        sheet.add(change.field, f"{change.old} -> {change.new}")
    saved = dated(after.clock_block.saved_unix_s)
    if time is not None and args.stamp is None and saved is not None:
        sheet.add(
            "mind",
            f"the stamp stays: an emulator that advances from it adds the time since {saved}; add "
            "--stamp now if it is the time now",
            "warning",
        )
    answers = {
        "path": path,
        "clock": clock_json(after.clock_block.running),
        "clock_before": clock_json(save.clock_block.running),
        "stamp": after.clock_block.stamp,
        "saved_at": saved,
    }
    finish_save(session, path, dumps(save), after, sheet, answers)
    return DONE
