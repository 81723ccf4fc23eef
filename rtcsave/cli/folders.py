"""Folders and a register of cartridges, where a command takes many files."""

from __future__ import annotations

import argparse
import os
from collections.abc import Iterable

from rtcsave.cells import Cell
from rtcsave.cli.given import CommonOptions
from rtcsave.cli.paths import STREAM, expand
from rtcsave.cli.session import Session
from rtcsave.cli.tally import say_passed
from rtcsave.collection.shelf import Shelf, read_shelf
from rtcsave.collection.surveying import survey
from rtcsave.drift import DriftEstimate, assumed_drift
from rtcsave.errors import BadArgument, FileFault


def add_shelf(parser: argparse._ActionsContainer) -> None:
    """Let a collector's register be named."""
    parser.add_argument(
        "--shelf",
        metavar="FILE.csv",
        help="your register: file,title,cell,fitted,current_ua,rate_ppm; each save has its own there",
    )


def saves_in(
    session: Session[CommonOptions], typed: Iterable[str], *, with_clock: bool = False
) -> list[str]:
    """The files that were named, a folder replaced by the saves in it, by their names.

    With `with_clock` saves without a clock are passed over in folders. `FileFault` for a folder in which
    there is none.
    """
    paths: list[str] = []
    for path in expand(typed):
        if path == STREAM or not os.path.isdir(path):
            paths.append(path)
            continue
        passed: list[str] = []
        rows = survey(
            [path],
            layouts=session.known_layouts,
            now=session.now_s,
            ordered=True,
            on_passed=passed.append,
        )
        inside = [
            row.path
            for row in rows
            if not with_clock or row.block is not None or row.error is not None
        ]
        if not inside:
            raise FileFault(
                "no save was found in the folder",
                where=path,
                remedy="check the path, or name files",
            )
        say_passed(passed, len(passed))
        paths += inside
    return paths


def shelf_of(path: str | None) -> Shelf | None:
    """The register that was named, None if none was."""
    return None if path is None else read_shelf(path)


def files_of(shelf: Shelf | None) -> list[str]:
    """The saves of a register, where no file was named; `BadArgument` without a register."""
    if shelf is None:
        raise BadArgument(
            "no file was named", remedy="name saves, a folder, or a register (--shelf)"
        )
    return [entry.path for entry in shelf.entries.values()]


def known_of(
    shelf: Shelf | None, path: str, drift: DriftEstimate | None, cell: Cell | None
) -> tuple[DriftEstimate | None, Cell | None]:
    """The rate and the cell of one save: those of the register, else those of the options."""
    entry = None if shelf is None or path == STREAM else shelf.of(path)
    if entry is None:
        return drift, cell
    if entry.rate_ppm is not None:
        drift = assumed_drift(entry.rate_ppm)
    return drift, entry.cell if entry.cell is not None else cell
