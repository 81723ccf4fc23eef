"""The options that describe a cell, and the lines and cautions that go with it."""

from __future__ import annotations

import argparse
from collections.abc import Iterable
from datetime import datetime

from rtcsave.cells import CAUTIONS, Cell, parse_cell
from rtcsave.cli.console import Sheet
from rtcsave.cli.given import CellOptions
from rtcsave.cli.parsing import typed
from rtcsave.cli.session import Session
from rtcsave.errors import BadArgument
from rtcsave.forecasts import Forecast


def add_cell_options(parser: argparse.ArgumentParser) -> None:
    """What is known of the cell."""
    group = parser.add_argument_group("the cell")
    group.add_argument(
        "--cell", metavar="CELL", help="its designation (CR2032) or rated capacity (230mAh)"
    )
    group.add_argument(
        "--current-ua", metavar="UA", type=typed(float), help="the measured current in µA"
    )
    group.add_argument("--fitted", metavar="INSTANT", help="when it was put in (default: now)")


def cell_of(session: Session[CellOptions]) -> Cell | None:
    """The cell that the options describe, None if none was named."""
    args = session.args
    if args.cell is None:
        if args.current_ua is not None or args.fitted is not None:
            raise BadArgument("--current-ua and --fitted go with --cell")
        return None
    fitted_s = None if args.fitted is None else session.instant(args.fitted)
    return parse_cell(args.cell, args.current_ua, fitted_s)


def say_month(moment: datetime) -> str:
    """The month of an instant, as in 2031-04: nobody knows the end of a cell to the second."""
    return f"{moment.year:04d}-{moment.month:02d}"


def add_cell_lines(sheet: Sheet, cell: Cell, forecast: Forecast) -> None:
    """How long the cell lasts, and the cautions; the assumptions are in the forecast."""
    assert forecast.cell_years is not None
    low, high = forecast.cell_years
    known = cell.current_ua is not None
    years = f"{low:.1f} years" if known else f"{low:.1f} to {high:.1f} years"
    sheet.add("cell", f"{cell.name or 'given capacity'}, {cell.rated_mah:g} mAh: {years}")
    if known:
        sheet.add("", f"at {cell.current_ua:g} µA, measured")
    if forecast.cell_by is not None:
        words = "overdue since" if forecast.cell_overdue else "change by"
        sheet.add(words, say_month(forecast.cell_by), "warning")
        if forecast.cell_latest is not None and not known:
            sheet.add("lasts until", f"{say_month(forecast.cell_latest)} at the most")
    for at, text in enumerate(CAUTIONS):
        sheet.add("" if at else "caution", text, "" if at else "warning")


def add_assumption_lines(sheet: Sheet, assumptions: Iterable[str]) -> None:
    """Add what the forecast assumes."""
    for at, text in enumerate(assumptions):
        sheet.add("" if at else "assumed", text, "dim")
