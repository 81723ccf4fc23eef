"""`remind`: a calendar entry before the overflow, and one before the cell is due."""

from __future__ import annotations

import argparse
import os
from dataclasses import dataclass

from rtcsave.cli.cells import add_cell_lines, add_cell_options, cell_of
from rtcsave.cli.codes import DONE
from rtcsave.cli.console import Sheet
from rtcsave.cli.given import CellOptions, WritingOptions
from rtcsave.cli.parsing import add_writing, typed
from rtcsave.cli.paths import STREAM, expand
from rtcsave.cli.session import Session
from rtcsave.cli.writing import Result, finish, refuse_own_input
from rtcsave.errors import BadArgument
from rtcsave.forecasts import CAUTIONS, forecast
from rtcsave.report.calendar_file import Reminder, calendar_text, is_ours, uid_of
from rtcsave.savefile import Origin
from rtcsave.storage.looking import look_before
from rtcsave.storage.reading import read
from rtcsave.when import say_instant, unix_seconds

EXAMPLES = """\
An event before the overflow, with an alarm a day before that; with --cell one
more for the cell. Written again, the same file is updated, and nothing is in it twice; events
of other saves in it are kept. Times are in UTC.

examples:
  rtcsave remind game.sav -o clocks.ics
  rtcsave remind saves/*.sav --days-before 30 -o clocks.ics
  rtcsave remind game.sav --cell CR2025 --fitted 2024-05-01T00:00:00Z -o clocks.ics
"""


@dataclass(frozen=True, kw_only=True)
class Options(WritingOptions, CellOptions):
    """The command's own options, as they were typed."""

    files: list[str]
    days_before: int


def arguments(parser: argparse.ArgumentParser) -> None:
    """The command's own arguments."""
    parser.add_argument("files", nargs="+", metavar="FILE", help="saves")
    parser.add_argument(
        "--days-before",
        metavar="N",
        type=typed(int),
        default=14,
        help="how many days before it the event stands (default: 14)",
    )
    add_cell_options(parser)
    add_writing(parser)


def run(session: Session[Options]) -> int:
    """Write the reminders of every file into one calendar."""
    args, files, output = session.args, expand(session.args.files), session.args.output
    if output is None:
        raise BadArgument("no calendar file was named", remedy="say -o FILE.ics")
    if not 0 <= args.days_before <= 365:
        raise BadArgument("--days-before is 0 to 365", found=str(args.days_before))
    if STREAM in files:
        raise BadArgument("a reminder is kept by the file's name", remedy="name the file")
    refuse_own_input(output, files)
    held: list[Reminder] = []
    gone: list[str] = []
    sheet = Sheet(f"{output}: reminders")
    code = session.each(files, lambda path: _gather(session, path, held, gone, sheet))
    if not held and not gone:
        return session.guarded(output, _nothing) if code == DONE else code

    def work() -> int:
        existing, origin = _existing(session, output)
        if existing is None and not held:
            _nothing()
        text = calendar_text(held, session.now_s, existing, gone)
        told = {"path": output, "events": [one.uid for one in held]}
        finish(
            session,
            Result(
                path=output,
                old=existing or b"",
                new=text,
                sheet=sheet,
                answers=told,
                origin=origin,
                quiet_diff=True,
            ),
        )
        return code

    return session.guarded(output, work)


def _nothing() -> int:
    raise BadArgument("there is nothing to remind of", remedy="'forecast' says why")


def _existing(session: Session[Options], calendar: str) -> tuple[bytes | None, Origin | None]:
    """The calendar that stands there, to be updated; nothing where it is to be replaced or new."""
    args = session.args
    if calendar == STREAM or not os.path.lexists(calendar):
        return None, None
    data, origin = read(calendar)
    look_before(calendar, origin)
    if args.overwrite and not is_ours(data):
        return None, None
    return data, origin


def _gather(
    session: Session[Options], path: str, held: list[Reminder], gone: list[str], sheet: Sheet
) -> int:
    args = session.args
    cell = cell_of(session)
    found = forecast(session.load(path), session.now_s, None, cell)
    name = os.path.basename(path)
    key = os.path.realpath(path).replace(os.sep, "/")
    if found.overflow_at is not None:
        at = say_instant(unix_seconds(found.overflow_at))
        held.append(
            Reminder(
                key=f"{key}#overflow",
                due=found.overflow_at,
                summary=f"Clock of {name}: the day counter overflows",
                description=f"Start the game before {at}: it must look at its clock at least once "
                f"in 511 days. File: {path}",
                days_before=args.days_before,
            )
        )
        sheet.add(name, f"overflows {at}")
    else:
        gone.append(uid_of(f"{key}#overflow"))
        sheet.add(name, f"no event: {'; '.join(found.reasons)}", "note")
    if cell is not None and found.cell_by is not None:
        held.append(
            Reminder(
                key=f"{key}#cell",
                due=found.cell_by,
                summary=f"Cell of {name}: change it by {found.cell_by:%Y-%m-%d}",
                description=f"File: {path}. {' '.join(CAUTIONS)}",
                days_before=args.days_before,
            )
        )
        add_cell_lines(sheet, cell, found, None)
    return DONE
