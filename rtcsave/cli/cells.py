"""The options that describe a cell, and the lines and cautions that go with it."""

from __future__ import annotations

import argparse
import re

from rtcsave.cli.console import Sheet
from rtcsave.cli.given import CellOptions
from rtcsave.cli.parsing import typed
from rtcsave.cli.session import Session
from rtcsave.errors import BadArgument
from rtcsave.forecasts import ASSUMED_UA, CAUTIONS, FROM_MEMORY, Cell, Forecast
from rtcsave.when import say_instant, unix_seconds


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
    capacity = re.fullmatch(r"(\d+(?:\.\d+)?) ?mAh", args.cell.strip(), re.IGNORECASE)
    fitted_s = None if args.fitted is None else session.instant(args.fitted)
    return Cell(
        designation=None if capacity else args.cell,
        capacity_mah=float(capacity[1]) if capacity else None,
        current_ua=args.current_ua,
        fitted_at=fitted_s,
    )


def add_cell_lines(sheet: Sheet, cell: Cell, found: Forecast, zone: str | None) -> None:
    """How long the cell lasts, on what assumptions, and the cautions."""
    assert found.cell_years is not None
    low, high = found.cell_years
    known = cell.current_ua is not None
    years = f"{low:.1f} years" if known else f"{low:.1f} to {high:.1f} years"
    current = (
        f"{cell.current_ua:g} µA, measured"
        if known
        else f"{ASSUMED_UA[0]:g} to {ASSUMED_UA[1]:g} µA, an assumption: measure it to know more"
    )
    sheet.add("cell", f"{cell.name or 'given capacity'}, {cell.rated_mah:g} mAh: {years}")
    if cell.capacity_mah is None and cell.name in FROM_MEMORY:
        sheet.add("", "capacity from memory, unconfirmed: the cell's data sheet wins", "dim")
    sheet.add("", f"at {current}; self-discharge {cell.self_discharge_per_year:.0%} a year")
    if found.cell_by is not None:
        sheet.add("change by", say_instant(unix_seconds(found.cell_by), zone), "warning")
    for at, text in enumerate(CAUTIONS):
        sheet.add("" if at else "caution", text, "" if at else "warning")
