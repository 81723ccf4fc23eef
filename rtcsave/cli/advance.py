"""`advance`: advance the clock, as the chip would."""

from __future__ import annotations

import argparse

from rtcsave.cli.codes import DONE
from rtcsave.cli.console import Sheet
from rtcsave.cli.given import WritingOptions
from rtcsave.cli.parsing import add_writing
from rtcsave.cli.paths import STREAM, expand
from rtcsave.cli.session import FILE_TIME, Session
from rtcsave.cli.words import clock_doubts, clock_json, what_it_is
from rtcsave.cli.writing import finish_save, refuse_contradictions
from rtcsave.clocks import Clock
from rtcsave.errors import BadArgument, number_of
from rtcsave.findings.unpowered import power_loss
from rtcsave.savefile import SaveFile, dumps
from rtcsave.when import parse_duration, rfc3339, say_instant, say_span, unix_seconds

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


class Options(WritingOptions):
    """The command's own options, as they were typed."""

    files: list[str]
    to: str | None
    by: str | None
    saved_at: str | None


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


def _told_by(save: SaveFile, saved_at_s: int | None, saved_at: str | None) -> str:
    """What says when the save was written; both instants where two things say it."""
    stamped_s = save.clock_block.usable_unix_s
    if saved_at_s is None:
        return "the stamp"
    if saved_at == FILE_TIME:
        return "the file's time, which a copy may have changed"
    if stamped_s in (None, saved_at_s):
        return "--saved-at"
    return f"--saved-at; the stamp says {say_instant(stamped_s)}"


def run(session: Session[Options]) -> int:
    """Advance every file's clock."""
    args = session.args
    files = expand(args.files)
    refuse_contradictions(session, files)
    by_s = None if args.by is None else parse_duration(args.by)
    if by_s is not None and by_s < 0:
        raise BadArgument("a clock cannot go back", found=f"--by {args.by}")
    if by_s is not None and args.saved_at is not None:
        raise BadArgument(
            "--by does not ask when the save was written", remedy="leave --saved-at out"
        )
    to_s = session.now_s if args.to is None else session.instant(args.to)
    return session.each(files, lambda path: _work(session, path, by_s, to_s))


def _work(session: Session[Options], path: str, by_s: int | None, to_s: int) -> int:
    save = session.load(path)
    sheet = Sheet(f"{path}: {what_it_is(save)}")
    answers: dict[str, object] = {"path": path}
    if by_s is not None:
        after, elapsed_s = save.advance_by(by_s), by_s
        sheet.add("advanced by", say_span(by_s))
    else:
        saved_at_s = session.saved_at(session.args.saved_at, save, path)
        from_s, elapsed_s = save.counts_from(to_s, saved_at_s)
        after = save.advance_to(to_s, saved_at_s)
        told_by = _told_by(save, saved_at_s, session.args.saved_at)
        _add_span(sheet, from_s, elapsed_s, to_s, told_by)
        answers["reached_at"] = rfc3339(from_s + elapsed_s)
    before, running = save.clock_block.running, after.clock_block.running
    overflows = before.overflows_within(elapsed_s)
    _add_clocks(sheet, before, running, overflows)
    _add_file_time(session, sheet, after)
    answers |= {
        "clock": clock_json(running),
        "clock_before": clock_json(before),
        "elapsed_s": elapsed_s,
        "overflows": overflows,
        "stamp": after.clock_block.stamp,
        "saved_at": None if after.saved_at is None else rfc3339(unix_seconds(after.saved_at)),
    }
    by_stamp = by_s is None and session.args.saved_at is None
    answers["notes"] = _add_notes(session, sheet, save, by_stamp)
    finish_save(session, path, dumps(save), after, sheet, answers)
    return DONE


def _add_file_time(session: Session[Options], sheet: Sheet, after: SaveFile) -> None:
    """The instant that only the file's time will say."""
    if after.clock_block.usable_unix_s is not None or after.carried_s is None:
        return
    record = "so the file's time is the only record"
    if session.args.output == STREAM:
        record = "and a stream has no time: note it, or write to a file"
    sheet.add("file time", f"{say_instant(after.carried_s)}: no stamp holds it, {record}", "note")


def _add_notes(
    session: Session[Options], sheet: Sheet, save: SaveFile, by_stamp: bool
) -> list[str]:
    """What speaks against going on from this save; the same as a list."""
    notes = clock_doubts(save, session.now_s, by_stamp=by_stamp)
    for doubt in notes:
        sheet.add("mind", doubt, "warning")
    if notes and not save.clock_block.running.in_range:
        sheet.add("", "repair it first: a repair afterwards gives another time", "warning")
    lost = power_loss(save.memory)
    if lost is not None:
        sheet.add("memory", lost, "note")
        notes.append(lost)
    return notes


def _add_span(sheet: Sheet, from_s: int, elapsed_s: int, to_s: int, told_by: str) -> None:
    """From when to when the clock was advanced, and what a clock of minutes falls short by."""
    reached_s = from_s + elapsed_s
    sheet.add(
        "advanced by",
        f"{say_span(elapsed_s)}, from {say_instant(from_s)} ({told_by}) to {say_instant(reached_s)}",
    )
    if reached_s < to_s:
        sheet.add(
            "short of it",
            f"{to_s - reached_s} s: this clock shows minutes only; advance from {rfc3339(reached_s)} "
            "the next time",
            "note",
        )


def _add_clocks(sheet: Sheet, before: Clock, running: Clock, overflows: int) -> None:
    sheet.add("clock", f"{before.reading()} -> {running.reading()}")
    if before.halted:
        sheet.add(
            "halted",
            "the clock is halted: only the instant of the save moved; "
            "'rtcsave set FILE --halt off --stamp now' "
            "releases it",
            "note",
        )
    if overflows:
        sheet.add(
            "overflow",
            f"the counter overflowed {number_of(overflows, 'time')}"
            + (": carry is set, as the chip sets it" if running.carried else ""),
            "warning",
        )
