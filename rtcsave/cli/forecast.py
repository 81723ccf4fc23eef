"""`forecast`: the next overflow, and the cell's life."""

from __future__ import annotations

import argparse

from rtcsave.cells import CAUTIONS
from rtcsave.cli.cells import add_assumption_lines, add_cell_lines, add_cell_options, cell_of
from rtcsave.cli.codes import DONE
from rtcsave.cli.console import Sheet
from rtcsave.cli.folders import add_shelf, files_of, known_of, saves_in, shelf_of
from rtcsave.cli.given import CellOptions
from rtcsave.cli.parsing import typed
from rtcsave.cli.session import Session
from rtcsave.cli.words import value_json
from rtcsave.drift import DriftEstimate, assumed_drift, fit_drift
from rtcsave.errors import BadArgument
from rtcsave.forecasts import Forecast, forecast
from rtcsave.when import check_zone, say_instant, say_span, unix_seconds

EXAMPLES = (
    "\n".join(CAUTIONS)
    + """

The counter is only useful if the game looks at it at least once in 511 days:
look at the clock before the earliest date. Without a rate (positive = runs
fast) the interval is that of a crystal within ±20 ppm.

examples:
  rtcsave forecast game.sav
  rtcsave forecast *.sav --zone Europe/Lisbon
  rtcsave forecast --shelf shelf.csv
  rtcsave forecast game.sav --rate-ppm 18.2 --bound-ppm 0.4
  rtcsave forecast game.sav --cell CR2025 --current-ua 1.1 --fitted 2024-05-01T00:00:00Z
"""
)


class Options(CellOptions):
    """The command's own options, as they were typed."""

    files: list[str]
    zone: str | None
    rate_ppm: float | None
    bound_ppm: float | None
    log: str | None
    shelf: str | None


def arguments(parser: argparse.ArgumentParser) -> None:
    """The command's own arguments."""
    parser.add_argument(
        "files", nargs="*", metavar="FILE", help="saves, folders of them, or - for standard input"
    )
    parser.add_argument("--zone", metavar="Z", help="show instants in this IANA zone as well")
    parser.add_argument(
        "--rate-ppm", metavar="P", type=typed(float), help="the clock's rate, as 'drift' gives it"
    )
    parser.add_argument(
        "--bound-ppm", metavar="B", type=typed(float), help="how far that may be off"
    )
    parser.add_argument("--log", metavar="FILE.csv", help="fit the rate to this log")
    add_shelf(parser)
    add_cell_options(parser)


def rate_of(session: Session[Options]) -> DriftEstimate | None:
    """The rate that the options give, None if they give none."""
    args = session.args
    if args.log is not None:
        if args.rate_ppm is not None or args.bound_ppm is not None:
            raise BadArgument("--log and --rate-ppm both give a rate", remedy="leave one out")
        return fit_drift(session.observations(args.log))
    if args.rate_ppm is None:
        if args.bound_ppm is not None:
            raise BadArgument("--bound-ppm goes with --rate-ppm")
        return None
    return assumed_drift(args.rate_ppm, args.bound_ppm or 0.0)


def run(session: Session[Options]) -> int:
    """Forecast every file."""
    args = session.args
    zone = None if args.zone is None else check_zone(args.zone)
    rate, usual_cell = rate_of(session), cell_of(session)
    shelf = shelf_of(args.shelf)
    files = saves_in(session, args.files or files_of(shelf), with_clock=True)

    def work(path: str) -> int:
        drift, cell = known_of(shelf, path, rate, usual_cell)
        clock_forecast = forecast(session.load(path), session.now_s, drift, cell)
        sheet = Sheet(path)
        _add_overflow_lines(sheet, clock_forecast, zone)
        for at, reason in enumerate(clock_forecast.reasons):
            sheet.add("" if at else "because", reason)
        if cell is not None:
            add_cell_lines(sheet, cell, clock_forecast)
        add_assumption_lines(sheet, clock_forecast.assumptions)
        session.console.sheet(sheet)
        session.console.object({"path": path, **value_json(clock_forecast)})
        return DONE

    return session.each(files, work)


def _add_overflow_lines(sheet: Sheet, clock_forecast: Forecast, zone: str | None) -> None:
    """When the counter overflows, between which ends, and in how many days."""
    if clock_forecast.overflow_at is None:
        words = "never: it is halted"
        if clock_forecast.running_s is not None:
            words = f"after {say_span(clock_forecast.running_s)} of running"
        sheet.add("overflows", words)
        return
    at_s = unix_seconds(clock_forecast.overflow_at)
    sheet.add("overflows", say_instant(at_s))
    if zone is not None:
        sheet.add("", say_instant(at_s, zone))
    sheet.add("days left", f"{clock_forecast.days_left:,}")
    for label, end in (("earliest", clock_forecast.earliest), ("latest", clock_forecast.latest)):
        if end is not None:
            sheet.add(label, say_instant(unix_seconds(end), zone))
