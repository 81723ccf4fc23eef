"""`advance`: advance the clock, as the chip would."""

from __future__ import annotations

import argparse

from rtcsave.cli.console import Sheet
from rtcsave.cli.parsing import add_writing
from rtcsave.cli.session import DONE, Session
from rtcsave.cli.words import clock_json, what_it_is
from rtcsave.cli.writing import finish_save, refuse_contradictions
from rtcsave.errors import BadArgument, number_of
from rtcsave.savefile import SaveFile, dumps
from rtcsave.when import parse_duration, rfc3339, say_instant, say_span, unix_seconds

ABOUT = "advance the clock to now, to an instant or by a duration, as the chip would"
EXAMPLES = """\
The running registers are advanced from the stamp; the stamp is set; the
latched registers and the game's memory stay. A day counter that passes 511
overflows and sets carry, as the chip does. Where the layout has no stamp, the
file gets the instant as its time: it is then the only record, and copying the
file may change it.

examples:
  rtcsave advance game.sav
  rtcsave advance game.sav --to 2026-03-10T14:15:00+01:00
  rtcsave advance game.sav --by 3d4h          (or P3DT4H)
  rtcsave advance old.sav --saved-at 2019-08-01T20:00:00Z
"""


def arguments(parser: argparse.ArgumentParser) -> None:
    """The command's own arguments."""
    parser.add_argument("files", nargs="+", metavar="FILE", help="a save, or - for standard input")
    how = parser.add_mutually_exclusive_group()
    how.add_argument("--to", metavar="INSTANT", help="advance to then (default: now)")
    how.add_argument("--by", metavar="DURATION", help="advance by this much: 90m, 3d4h, PT90M")
    parser.add_argument(
        "--saved-at",
        metavar="INSTANT",
        help="when the save was written, whatever the stamp says; file-time takes the file's time, where no "
        "stamp is usable",
    )
    add_writing(parser)


def _told_by(save: SaveFile, saved_at_s: int | None) -> str:
    """What says when the save was written; both instants where two things say it."""
    stamped_s = save.clock_block.usable_unix_s
    if saved_at_s is None:
        return "the stamp"
    if stamped_s in (None, saved_at_s):
        return "--saved-at"
    return f"--saved-at; the stamp says {say_instant(stamped_s)}"


def run(session: Session) -> int:
    """Advance every file's clock."""
    args = session.args
    files = session.files
    refuse_contradictions(session, files)
    by_s = None if args.by is None else parse_duration(args.by)
    if by_s is not None and by_s < 0:
        raise BadArgument("a clock cannot go back", found=f"--by {args.by}")
    if by_s is not None and args.saved_at is not None:
        raise BadArgument(
            "--by does not ask when the save was written", remedy="leave --saved-at out"
        )
    to_s = session.now_s if args.to is None else session.instant(args.to)

    def work(path: str) -> int:
        save = session.load(path)
        before = save.clock_block.running
        sheet = Sheet(f"{path}: {what_it_is(save)}")
        told: dict[str, object] = {"path": path}
        if by_s is not None:
            after, elapsed_s = save.advance_by(by_s), by_s
            sheet.add("advanced by", say_span(by_s))
        else:
            saved_at_s = session.saved_at(save, path)
            from_s, elapsed_s = save.counts_from(to_s, saved_at_s)
            after = save.advance_to(to_s, saved_at_s)
            told_by = _told_by(save, saved_at_s)
            sheet.add(
                "advanced by",
                f"{say_span(elapsed_s)}, from {say_instant(from_s)} ({told_by}) "
                f"to {say_instant(from_s + elapsed_s)}",
            )
            if from_s + elapsed_s < to_s:
                sheet.add(
                    "short of it",
                    f"{to_s - from_s - elapsed_s} s: this clock shows minutes only; advance from "
                    f"{rfc3339(from_s + elapsed_s)} the next time",
                    "note",
                )
            told["reached_at"] = rfc3339(from_s + elapsed_s)
        overflows = before.overflows_within(elapsed_s)
        running = after.clock_block.running
        sheet.add("clock", f"{before.reading()} -> {running.reading()}")
        if before.halted:
            sheet.add("halted", "the clock is halted: only the stamp moved", "note")
        if overflows:
            sheet.add(
                "overflow",
                f"the counter overflowed {number_of(overflows, 'time')}"
                + (": carry is set, as the chip sets it" if running.carried else ""),
                "warning",
            )
        told |= {
            "clock": clock_json(running),
            "clock_before": clock_json(before),
            "elapsed_s": elapsed_s,
            "overflows": overflows,
            "stamp": after.clock_block.stamp,
            "saved_at": None if after.saved_at is None else rfc3339(unix_seconds(after.saved_at)),
        }
        if after.clock_block.usable_unix_s is None and after.carried_s is not None:
            sheet.add(
                "file time",
                f"{say_instant(after.carried_s)}: no stamp holds it, so the file's time is the only record",
                "note",
            )
        finish_save(session, path, dumps(save), after, sheet, told)
        return DONE

    return session.each(files, work)
