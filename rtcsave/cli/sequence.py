"""`sequence`: the register accesses that put this clock on a cartridge."""

from __future__ import annotations

import argparse
import csv
import json
import sys
from typing import Any, Final

from rtcsave.chips.sequences import AccessSequence, sequence_to_read, sequence_to_write
from rtcsave.cli.c_array import c_array
from rtcsave.cli.codes import DONE
from rtcsave.cli.console import complain, output
from rtcsave.cli.given import CommonOptions
from rtcsave.cli.parsing import one_of
from rtcsave.cli.paths import one_file
from rtcsave.cli.session import Session
from rtcsave.cli.words import clock_doubts, clock_json
from rtcsave.clocks import Clock
from rtcsave.errors import BadArgument, StampUnusable, number_of
from rtcsave.when import dated, rfc3339, say_instant

EXAMPLES = """\
The file's clock is advanced to --at first, from its stamp. It is right when
the step marked as due is done at that instant. Start the steps a little
before: --at is an instant ahead. Without --at the clock is the file's as it
stands. A clock that shows minutes is due at the next whole one. A halted clock
stays halted.

Nothing is written anywhere: loop over the steps with your flasher. The
day-counter and the minute clock are addressed on the cartridge's bus, the
calendar part by its own register numbers.

If your tool takes a file and no steps, advance a copy to the instant at which
you will write it (fourth example). Then write that file at that instant.

examples:
  rtcsave sequence game.sav --at 2099-10-01T12:10:00Z
  rtcsave sequence game.sav --at 2099-10-01T12:10:00Z --format json
  rtcsave sequence game.sav --at 2099-10-01T12:10:00Z --format c
  rtcsave advance game.sav --to 2099-10-01T12:10:00Z -o then.sav
  rtcsave sequence game.sav --read --twice
"""


_FORMATS: Final = ("table", "json", "csv", "c")

HALTED: Final = (
    "the clock is halted, and the steps leave it halted; "
    "'rtcsave set FILE --halt off --stamp now' releases it in the file"
)


class Options(CommonOptions):
    """The command's own options, as they were typed."""

    file: str
    at: str | None
    saved_at: str | None
    read: bool
    twice: bool
    format: str


def arguments(parser: argparse.ArgumentParser) -> None:
    """The command's own arguments."""
    parser.add_argument("file", metavar="FILE", help="a save, or - for standard input")
    parser.add_argument(
        "--at", metavar="INSTANT", help="the clock is to be right then: an instant ahead"
    )
    parser.add_argument(
        "--saved-at",
        metavar="INSTANT",
        help="with --at: when the save was written, whatever its stamp says",
    )
    parser.add_argument(
        "--read", action="store_true", help="the accesses that read such a clock instead"
    )
    parser.add_argument(
        "--twice",
        action="store_true",
        help="with --read: read each register two times, for contacts that are noisy",
    )
    parser.add_argument(
        "--format",
        type=one_of(*_FORMATS),
        default="table",
        metavar="F",
        help="table (the default), json (an object a step, one a line), csv, or c (arrays for a "
        "microcontroller); --json gives one object with all of it; numbers in json and csv are decimal",
    )


def _due(session: Session[Options]) -> int | None:
    """The instant of `--at`; `BadArgument` where it is not ahead, or where an option wants another."""
    args = session.args
    if args.read and (args.at is not None or args.saved_at is not None):
        raise BadArgument("reading has no instant: --read goes without --at and --saved-at")
    if args.twice and not args.read:
        raise BadArgument("--twice goes with --read")
    if args.at is None:
        if args.saved_at is not None:
            raise BadArgument(
                "--saved-at without --at changes nothing",
                remedy="add --at, or leave --saved-at out",
            )
        return None
    at_s = session.instant(args.at)
    if at_s <= session.now_s:
        raise BadArgument(
            "--at is not ahead: the steps can no longer be done then",
            found=f"{say_instant(at_s)}; it is {say_instant(session.now_s)}",
            remedy="give an instant ahead, with time to start the steps",
        )
    return at_s


def run(session: Session[Options]) -> int:
    """Print the sequence for one file."""
    args = session.args
    at_s = _due(session)

    def work(path: str) -> int:
        save = session.load(path)
        block = save.clock_block
        if args.read:
            steps = sequence_to_read(block.running.kind, twice=args.twice)
            _print(session, path, steps, block.running, 0)
            return DONE
        block.refuse_no_time()
        by_stamp = at_s is not None and args.saved_at is None
        for doubt in clock_doubts(save, session.now_s, by_stamp=by_stamp):
            complain(f"{path}: {doubt}")
        if at_s is None:
            _print(session, path, sequence_to_write(block), block.running, 0)
            return DONE
        saved_at_s = session.saved_at(args.saved_at, save, path)
        try:
            from_s, _ = save.counts_from(at_s, saved_at_s)
        except StampUnusable as error:
            error.remedy = "say when it was saved (--saved-at), or leave --at out"
            raise
        steps = sequence_to_write(save.advance_to(at_s, saved_at_s).clock_block, at_s)
        assert steps.at_unix_s is not None
        passed_s = steps.at_unix_s - from_s
        overflows = block.running.overflows_within(passed_s)
        _print(session, path, steps, block.running.advance(passed_s), overflows)
        return DONE

    return session.each([one_file(session.args.file)], work)


def _hex(value: int | None, digits: int) -> str:
    return "" if value is None else f"{value:0{digits}X}h"


def _print(
    session: Session[Options], path: str, steps: AccessSequence, clock: Clock, overflows: int
) -> None:
    rows = steps.rows()
    if session.args.json:
        session.console.object(
            {
                "path": path,
                "clock": clock_json(clock),
                "at": rfc3339(steps.at_unix_s),
                "due_step": None if steps.due_index is None else steps.due_index + 1,
                "spacing_us": steps.spacing_us,
                "lead_us": steps.lead_us,
                "overflows": overflows,
                "steps": [row for row in rows if not row["closing"]],
                "closing": [row for row in rows if row["closing"]],
            }
        )
        return
    if session.args.format != "table":
        for note in _notes(steps, clock, overflows):
            complain(f"{path}: {note}")
    if session.args.format == "json":
        for row in rows:
            session.console.text(json.dumps(row))
        return
    if session.args.format == "c":
        session.console.text(c_array(steps, clock))
        return
    if session.args.format == "csv":
        with output():
            writer = csv.DictWriter(sys.stdout, list(rows[0]), lineterminator="\n")
            writer.writeheader()
            writer.writerows(rows)
        return
    _print_table(session, path, steps, clock, overflows)


def _notes(steps: AccessSequence, clock: Clock, overflows: int) -> list[str]:
    """What must be known of the clock that the steps put on a cartridge."""
    notes = []
    if overflows:
        carry = ": carry is set" if clock.carried else ""
        notes.append(f"the counter overflows {number_of(overflows, 'time')} on the way{carry}")
    if clock.halted and steps.due_index is not None:
        notes.append(HALTED)
    return notes


def _print_table(
    session: Session[Options], path: str, steps: AccessSequence, clock: Clock, overflows: int
) -> None:
    """The steps for people, with what must be known before they are done."""
    rows = steps.rows()
    line = session.console.line
    if steps.due_index is None:
        line(f"{path}: reads a {steps.clock_kind} clock in {len(steps)} steps")
    else:
        when = dated(steps.at_unix_s)
        line(
            f"{path}: puts {clock.reading()} on the cartridge"
            + (f"; step {steps.due_index + 1} is due at {when}" if when else "")
        )
        line(_lead(steps))
    for note in _notes(steps, clock, overflows):
        line(note)
    if not clock.halted and steps.at_unix_s is not None:
        saved_at = session.args.saved_at
        when_saved = "" if saved_at is None else f" --saved-at {saved_at}"
        line(
            "if your tool takes files: "
            f"'rtcsave advance FILE --to {rfc3339(steps.at_unix_s)}{when_saved} -o OUT', "
            "and write OUT at that instant"
        )
    if steps.spacing_us:
        line(f"leave at least {steps.spacing_us} µs between every two accesses")
    columns = ("step", "what", "address", "value", "note")
    session.console.table(columns, [_row(row) for row in rows if not row["closing"]])
    line("where a step fails, do all of these, whatever they answer:")
    session.console.table(columns, [_row(row) for row in rows if row["closing"]])


def _lead(steps: AccessSequence) -> str:
    """What the steps before the one that is due take, as far as it is known."""
    polls = sum(step.kind == "poll" for step in steps.steps[: steps.due_index])
    takes = [f"{steps.lead_us} µs of waits"] if steps.lead_us else []
    takes += [f"{number_of(polls, 'poll')} of the clock"] if polls else []
    known = f"{', '.join(takes)} and " if takes else ""
    return f"the steps before it take {known}what your bus takes"


def _row(row: dict[str, Any]) -> tuple[str, ...]:
    kind = row["kind"]
    note = row["note"] or row["name"]
    value = _hex(row["value"], 2)
    if row["mask"] is not None:
        value = f"{value} of {row['mask']:02X}h".strip()
    if row["keep"]:
        note += (
            f" (bits outside {row['mask'] or 0:02X}h as in {row['keep']})" if kind != "read" else ""
        )
    if row["due"]:
        note += "  <- due"
    return str(row["step"]), kind, _hex(row["address"], 4), value, note
