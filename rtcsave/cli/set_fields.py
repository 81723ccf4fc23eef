"""`set`: registers, flags and stamp to given values."""

from __future__ import annotations

import argparse
from dataclasses import dataclass

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
from rtcsave.savefile import SaveFile, dumps
from rtcsave.when import parse_clock_time, rfc3339

EXAMPLES = """\
Only what is named changes. A program that counts on from the stamp will add
the time since then: set the stamp with the time if the time is that of now.

examples:
  rtcsave set game.sav --time 12d03:04:05 --stamp now
  rtcsave set game.sav --halt off --carry off
  rtcsave set game.sav --stamp none --dry-run
"""


@dataclass(frozen=True, kw_only=True)
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
    parser.add_argument(
        "--halt", type=flag, metavar="on|off", help="whether the clock stands still"
    )
    parser.add_argument(
        "--carry", type=flag, metavar="on|off", help="whether the counter went over"
    )
    parser.add_argument("--stamp", metavar="INSTANT", help="when it was saved; none writes 0")
    add_writing(parser)


def _with_flags(clock: Clock, flags: dict[str, bool]) -> Clock:
    known = {one.name for one in clock.FIELDS if one.is_flag}
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
    fields: dict[str, bool] = {}
    time = None if args.time is None else parse_clock_time(args.time)
    fields.update(
        {name: getattr(args, name) == "on" for name in ("halt", "carry") if getattr(args, name)}
    )
    stamp = None if args.stamp in (None, "none") else session.instant(args.stamp)

    def work(path: str) -> int:
        save = session.load(path)
        after: SaveFile = save
        clock = save.clock_block.running if time is not None or fields else None
        if clock is not None and time is not None:
            clock = clock.with_time(time)
        if clock is not None:
            after = after.with_clock(_with_flags(clock, fields))
        if args.stamp is not None:
            after = after.with_stamp(stamp)
        sheet = Sheet(f"{path}: {what_it_is(save)}")
        for one in save_changes(save, after):
            sheet.add(one.field, f"{one.old} -> {one.new}")
        if args.time is not None and args.stamp is None and after.clock_block.saved_at is not None:
            sheet.add(
                "mind",
                "the stamp stays: a program that counts on from it adds the time since "
                f"{rfc3339(after.clock_block.saved_unix_s)}; add --stamp now if it is the time now",
                "warning",
            )
        told = {
            "path": path,
            "clock": clock_json(after.clock_block.running),
            "clock_before": clock_json(save.clock_block.running),
            "stamp": after.clock_block.stamp,
            "saved_at": rfc3339(after.clock_block.saved_unix_s),
        }
        finish_save(session, path, dumps(save), after, sheet, told)
        return DONE

    return session.each([file], work)
