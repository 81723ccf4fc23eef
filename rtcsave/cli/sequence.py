"""`sequence`: the register accesses that put this clock on a cartridge."""

from __future__ import annotations

import argparse
import csv
import json
import sys
from dataclasses import dataclass
from typing import Any

from rtcsave.chips.sequences import AccessSequence, sequence_to_read, sequence_to_write
from rtcsave.cli.codes import DONE
from rtcsave.cli.console import output
from rtcsave.cli.given import CommonOptions
from rtcsave.cli.parsing import one_of
from rtcsave.cli.paths import one_file
from rtcsave.cli.session import Session
from rtcsave.cli.words import clock_json
from rtcsave.clocks import Clock
from rtcsave.errors import StampUnusable, number_of
from rtcsave.when import rfc3339

EXAMPLES = """\
The file's clock is advanced to --at first, from its stamp, so that it is
right when the step marked as due is done at that instant, not when the
sequence was computed; start the steps a little before. Without --at the clock
is the file's as it stands. Nothing is written anywhere: loop over the steps
with your flasher. A clock that shows minutes is due at the next whole one. The
day-counter and the minute clock are addressed on the cartridge's bus, the
calendar part by its own register numbers.

examples:
  rtcsave sequence game.sav --at 2026-10-01T12:10:00Z
  rtcsave sequence game.sav --at now --format json
  rtcsave sequence game.sav --read
"""


@dataclass(frozen=True, kw_only=True)
class Options(CommonOptions):
    """The command's own options, as they were typed."""

    file: str
    at: str | None
    saved_at: str | None
    read: bool
    format: str


def arguments(parser: argparse.ArgumentParser) -> None:
    """The command's own arguments."""
    parser.add_argument("file", metavar="FILE", help="a save, or - for standard input")
    parser.add_argument("--at", metavar="INSTANT", help="the clock is to be right then")
    parser.add_argument(
        "--saved-at", metavar="INSTANT", help="when the save was written, whatever its stamp says"
    )
    parser.add_argument(
        "--read", action="store_true", help="the accesses that read such a clock instead"
    )
    parser.add_argument(
        "--format",
        type=one_of("table", "json", "csv"),
        default="table",
        metavar="F",
        help="table (the default), json (an object a step) or csv; numbers in the latter two are decimal",
    )


def run(session: Session[Options]) -> int:
    """Print the sequence for one file."""
    args = session.args
    at_s = None if args.at is None else session.instant(args.at)

    def work(path: str) -> int:
        save = session.load(path)
        clock = save.clock_block.running
        if args.read:
            _print(session, path, sequence_to_read(clock.kind), clock, 0)
            return DONE
        save.clock_block.refuse_no_time()
        overflows = 0
        due_s = at_s
        if due_s is not None:
            saved_at_s = session.saved_at(args.saved_at, save, path)
            try:
                from_s, _ = save.counts_from(due_s, saved_at_s)
            except StampUnusable as error:
                error.remedy = "say when it was saved (--saved-at), or leave --at out"
                raise
            due_s += (from_s - due_s) % clock.resolution_s  # setting it begins a minute
            overflows = clock.overflows_within(due_s - from_s)
            clock = clock.advance(due_s - from_s)
        _print(session, path, sequence_to_write(clock, due_s), clock, overflows)
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
                "last_write": None if steps.last_write is None else steps.last_write + 1,
                "lead_us": steps.lead_us,
                "overflows": overflows,
                "steps": rows,
            }
        )
        return
    if session.args.format == "json":
        for row in rows:
            session.console.text(json.dumps(row))
        return
    if session.args.format == "csv":
        with output():
            writer = csv.DictWriter(sys.stdout, list(rows[0]), lineterminator="\n")
            writer.writeheader()
            writer.writerows(rows)
        return
    _print_table(session, path, steps, clock, overflows)


def _print_table(
    session: Session[Options], path: str, steps: AccessSequence, clock: Clock, overflows: int
) -> None:
    """The steps for people, with what must be known before they are done."""
    rows = steps.rows()
    line = session.console.line
    if steps.last_write is None:
        line(f"{path}: reads a {steps.clock_kind} clock in {len(steps)} steps")
    else:
        when = rfc3339(steps.at_unix_s)
        line(
            f"{path}: puts {clock.reading()} on the cartridge"
            + (f"; step {steps.last_write + 1} is due at {when}" if when else "")
        )
        polls = sum(step.kind == "poll" for step in steps.steps[: steps.last_write])
        answers = f", {polls} polls that wait for the clock" if polls else ""
        line(
            f"the steps before it take {steps.lead_us} µs of waits{answers} and what your bus takes"
        )
    if overflows:
        carry = ": carry is set" if clock.carried else ""
        line(f"the counter overflows {number_of(overflows, 'time')} on the way{carry}")
    session.console.table(("step", "what", "address", "value", "note"), [_row(row) for row in rows])


def _row(row: dict[str, Any]) -> tuple[str, ...]:
    kind = row["kind"]
    note = row["note"] or row["name"]
    value = _hex(row["value"], 2)
    if kind == "wait":
        value = f"{row['wait_us']} µs"
    elif row["mask"] not in (None, 0xFF):
        value = f"{value} of {row['mask']:02X}h".strip()
    if row["due"]:
        note += "  <- due"
    return str(row["step"]), kind, _hex(row["address"], 4), value, note
