"""`remind`: a calendar entry before the overflow, and one before the cell is due."""

from __future__ import annotations

import argparse
import os

from rtcsave.cells import CAUTIONS
from rtcsave.cli.cells import (
    add_assumption_lines,
    add_cell_lines,
    add_cell_options,
    cell_of,
    say_month,
)
from rtcsave.cli.codes import DONE
from rtcsave.cli.console import Sheet
from rtcsave.cli.folders import add_shelf, files_of, known_of, saves_in, shelf_of
from rtcsave.cli.given import CellOptions, WritingOptions
from rtcsave.cli.parsing import add_writing, typed
from rtcsave.cli.paths import STREAM
from rtcsave.cli.session import Session
from rtcsave.cli.writing import Result, finish, refuse_own_input
from rtcsave.collection.shelf import Shelf
from rtcsave.errors import BadArgument
from rtcsave.forecasts import Forecast, forecast
from rtcsave.report.calendar_file import Reminder, calendar_text, is_ours, uid_of
from rtcsave.savefile import Origin
from rtcsave.storage.looking import LARGEST_REPLACED_BYTES, look_before
from rtcsave.storage.reading import read_with_origin
from rtcsave.when import say_instant, unix_seconds

EXAMPLES = (
    "\n".join(CAUTIONS)
    + """

An event before the overflow, with an alarm a day before that; with --cell one
more for the cell. Written again, the same file is updated, and nothing is in it twice; events
of other saves in it are kept. Times are in UTC.

examples:
  rtcsave remind game.sav -o clocks.ics
  rtcsave remind shelf --days-before 30 -o clocks.ics
  rtcsave remind --shelf shelf.csv -o clocks.ics
  rtcsave remind game.sav --cell CR2025 --fitted 2024-05-01T00:00:00Z -o clocks.ics
"""
)


class Options(WritingOptions, CellOptions):
    """The command's own options, as they were typed."""

    files: list[str]
    days_before: int
    shelf: str | None


def arguments(parser: argparse.ArgumentParser) -> None:
    """The command's own arguments."""
    parser.add_argument("files", nargs="*", metavar="FILE", help="saves, and folders of them")
    parser.add_argument(
        "--days-before",
        metavar="N",
        type=typed(int),
        default=14,
        help="how many days before it the event stands (default: 14)",
    )
    add_shelf(parser)
    add_cell_options(parser)
    add_writing(parser)


def run(session: Session[Options]) -> int:
    """Write the reminders of every file into one calendar."""
    output = session.args.output
    if output is None:
        raise BadArgument("no calendar file was named", remedy="say -o FILE.ics")
    shelf = shelf_of(session.args.shelf)
    files = _files(session, output, shelf)
    reminders: list[Reminder] = []
    gone: list[str] = []
    assumed: dict[str, None] = {}
    sheet = Sheet(f"{output}: reminders")
    code = session.each(
        files, lambda path: _gather(session, path, shelf, reminders, gone, assumed, sheet)
    )
    add_assumption_lines(sheet, assumed)
    if not reminders and not gone:
        return session.guarded(output, _nothing) if code == DONE else code

    def work() -> int:
        existing, origin = _existing(session, output)
        if existing is None and not reminders:
            _nothing()
        text = calendar_text(reminders, session.now_s, existing, gone)
        answers = {
            "path": output,
            "events": [reminder.uid for reminder in reminders],
            "assumptions": [*assumed],
        }
        finish(
            session,
            Result(
                path=output,
                old=existing or b"",
                new=text,
                sheet=sheet,
                answers=answers,
                origin=origin,
                quiet_diff=True,
            ),
        )
        return code

    return session.guarded(output, work)


def _files(session: Session[Options], output: str, shelf: Shelf | None) -> list[str]:
    """The saves to remind of; `BadArgument` for what cannot be."""
    args = session.args
    if not 0 <= args.days_before <= 365:
        raise BadArgument("--days-before is 0 to 365", found=str(args.days_before))
    files = saves_in(session, args.files or files_of(shelf), with_clock=True)
    if STREAM in files:
        raise BadArgument("a reminder is kept by the file's name", remedy="name the file")
    refuse_own_input(output, files if args.shelf is None else [*files, args.shelf])
    return files


def _nothing() -> int:
    raise BadArgument("there is nothing to remind of", remedy="'forecast' says why")


def _existing(session: Session[Options], calendar: str) -> tuple[bytes | None, Origin | None]:
    """The existing calendar, to be updated; None if it is new or is to be replaced."""
    args = session.args
    if calendar == STREAM or not os.path.lexists(calendar):
        return None, None
    data, origin = read_with_origin(calendar, LARGEST_REPLACED_BYTES)
    look_before(calendar, origin)
    if args.overwrite and not is_ours(data):
        return None, None
    return data, origin


def _gather(
    session: Session[Options],
    path: str,
    shelf: Shelf | None,
    reminders: list[Reminder],
    gone: list[str],
    assumed: dict[str, None],
    sheet: Sheet,
) -> int:
    drift, cell = known_of(shelf, path, None, cell_of(session))
    clock_forecast = forecast(session.load(path), session.now_s, drift, cell)
    name = _name(path)
    entry = None if shelf is None else shelf.of(path)
    title = os.path.basename(path) if entry is None or not entry.title else entry.title
    if clock_forecast.overflow_at is not None:
        reminders.append(_of_overflow(session, path, title, clock_forecast))
        sheet.add(name, f"overflows {say_instant(unix_seconds(clock_forecast.overflow_at))}")
    else:
        gone.append(uid_of(f"{_key(path)}#overflow"))
        sheet.add(name, f"no event: {'; '.join(clock_forecast.reasons)}", "note")
    if cell is not None and clock_forecast.cell_by is not None:
        reminders.append(_of_cell(session, path, title, clock_forecast))
        add_cell_lines(sheet, cell, clock_forecast)
    assumed.update(dict.fromkeys(clock_forecast.assumptions))
    return DONE


def _name(path: str) -> str:
    """What tells a save from others of its name: the folder that it is in, and its name."""
    folder, name = os.path.split(os.path.abspath(path))
    return f"{os.path.basename(folder)}/{name}"


def _key(path: str) -> str:
    return os.path.realpath(path).replace(os.sep, "/")


def _where(path: str) -> str:
    """The folder of a save: it distinguishes saves of equal names."""
    return os.path.dirname(os.path.abspath(path))


def _described(path: str, text: str, clock_forecast: Forecast) -> str:
    """The words of an event, then the assumptions, then the file."""
    assumed = (
        f" Assumed: {'; '.join(clock_forecast.assumptions)}." if clock_forecast.assumptions else ""
    )
    return f"{text}{assumed} File: {os.path.basename(path)}. Folder: {_where(path)}"


def _of_overflow(
    session: Session[Options], path: str, title: str, clock_forecast: Forecast
) -> Reminder:
    due = clock_forecast.overflow_at
    assert due is not None
    before = say_instant(unix_seconds(clock_forecast.earliest or due))
    latest = say_instant(unix_seconds(clock_forecast.latest or due))
    text = (
        f"Start the game before {before}: it must look at its clock at least once in 511 days. "
        f"The counter overflows by {latest} at the latest."
    )
    return Reminder(
        key=f"{_key(path)}#overflow",
        due=due,
        summary=f"Clock of {title}: the day counter overflows on {due:%Y-%m-%d} ({_where(path)})",
        description=_described(path, text, clock_forecast),
        days_before=session.args.days_before,
    )


def _of_cell(
    session: Session[Options], path: str, title: str, clock_forecast: Forecast
) -> Reminder:
    due = clock_forecast.cell_by
    assert due is not None
    change = "overdue since" if clock_forecast.cell_overdue else "change it by"
    return Reminder(
        key=f"{_key(path)}#cell",
        due=due,
        summary=f"Cell of {title}: {change} {say_month(due)} ({_where(path)})",
        description=_described(path, " ".join(CAUTIONS), clock_forecast),
        days_before=session.args.days_before,
    )
