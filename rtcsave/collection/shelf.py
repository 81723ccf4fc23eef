"""A collector's own register of cartridges: a CSV file that a person keeps, with a row a save.

    file,title,cell,fitted,current_ua,rate_ppm
    lent/tide-clerk.sav,Tide Clerk,CR2025,2024-05-01,1.1,18.2

`file` is a path from the register's folder on. Each other cell may be empty; further columns are the
person's own. Nothing that a person wrote is ever changed: new saves are added as rows at the end.
"""

from __future__ import annotations

import csv
import io
import os
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Final

from rtcsave.cells import Cell, parse_cell
from rtcsave.clocks.arguments import check_rate
from rtcsave.errors import BadArgument, BadDescription
from rtcsave.storage.reading import decode, read_bytes
from rtcsave.units import LARGEST_FILE_BYTES
from rtcsave.when import parse_instant

FILE, TITLE, CELL, FITTED, CURRENT, RATE = COLUMNS = (
    "file",
    "title",
    "cell",
    "fitted",
    "current_ua",
    "rate_ppm",
)
LARGEST_SHELF: Final = 64 * LARGEST_FILE_BYTES


@dataclass(frozen=True, slots=True, kw_only=True)
class ShelfEntry:
    """What a person knows of one cartridge."""

    path: str
    """The whole path of its save."""
    title: str
    """What the person calls it, empty for nothing."""
    cell: Cell | None
    rate_ppm: float | None
    """How much faster than true time its clock runs."""


@dataclass(frozen=True, slots=True, kw_only=True, repr=False)
class Shelf:
    """A register that was read: its entries by the whole paths of their saves, in its order."""

    path: str
    """The path of the register."""
    entries: Mapping[str, ShelfEntry]

    def of(self, path: str) -> ShelfEntry | None:
        """The entry of a save, None for one that the register does not know."""
        return self.entries.get(_key(path))

    def __repr__(self) -> str:
        return f"<Shelf {self.path}: {len(self.entries):,} saves>"


def read_shelf(path: str) -> Shelf:
    """The register in a CSV file; `BadDescription` names the line of what cannot be understood."""
    return parse_shelf(decode(read_bytes(path, LARGEST_SHELF)[0], path), path)


def parse_shelf(text: str, path: str) -> Shelf:
    """The register in a text; `path` is its file, for its folder and for errors."""
    folder = os.path.dirname(os.path.abspath(path))
    entries: dict[str, ShelfEntry] = {}
    for number, row in _rows(text, path):
        where = f"{path}, line {number}"
        entry = _entry(row, folder, where, _delimiter(text) == ";")
        key = _key(entry.path)
        if key in entries:
            raise BadDescription("a save stands in two rows", where=where, found=row[FILE])
        entries[key] = entry
    return Shelf(path=path, entries=entries)


def _key(path: str) -> str:
    """By what a save is found: its whole path without links, as far as the system can follow its name."""
    try:
        return os.path.realpath(path)
    except UnicodeEncodeError:
        return os.path.abspath(path)


def _delimiter(text: str) -> str:
    """The separator of the cells: a comma, or the semicolon of tables with decimal commas."""
    first = text.partition("\n")[0]
    return ";" if first.count(";") > first.count(",") else ","


def _rows(text: str, path: str) -> Iterator[tuple[int, dict[str, str]]]:
    """The rows of a register with the number of their line, blank ones left out."""
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=_delimiter(text))
    try:
        names = [name.strip().lower() for name in next(reader, [])]
        if FILE not in names:
            raise BadDescription(
                "the register has no column of files",
                where=f"{path}, line 1",
                found=", ".join(names)[:200],
                expected=", ".join(COLUMNS),
            )
        for cells in reader:
            if any(cell.strip() for cell in cells):
                row = dict(zip(names, cells, strict=False))
                file = row.get(FILE, "")
                yield (
                    reader.line_num,
                    {name: cell.strip() for name, cell in row.items()} | {FILE: file},
                )
    except csv.Error as error:
        raise BadDescription(
            "this is not a table", where=f"{path}, line {reader.line_num}", found=str(error)
        ) from None


def _entry(row: Mapping[str, str], folder: str, where: str, commas: bool) -> ShelfEntry:
    name = row[FILE]
    if not name.strip():
        raise BadDescription("a row names no file", where=where)
    try:
        rate_ppm = _number(row.get(RATE, ""), RATE, commas)
        current_ua = _number(row.get(CURRENT, ""), CURRENT, commas)
        fitted, cell = row.get(FITTED, ""), row.get(CELL, "")
        if not cell and (fitted or current_ua is not None):
            raise BadArgument(f"{FITTED} and {CURRENT} go with a {CELL}")
        fitted_s = (
            parse_instant(fitted if "T" in fitted else f"{fitted}T00:00:00Z") if fitted else None
        )
        path = os.path.normpath(os.path.join(folder, name.replace("/", os.sep)))
        if not os.path.lexists(path):  # a name may end with a space; mostly that is a slip
            path = os.path.normpath(os.path.join(folder, name.strip().replace("/", os.sep)))
        return ShelfEntry(
            path=path,
            title=row.get(TITLE, ""),
            cell=parse_cell(cell, current_ua, fitted_s) if cell else None,
            rate_ppm=None if rate_ppm is None else check_rate(rate_ppm),
        )
    except BadArgument as error:
        raise BadDescription(
            error.what, where=where, found=error.found, expected=error.expected, remedy=error.remedy
        ) from None


def _number(text: str, name: str, commas: bool) -> float | None:
    if not text:
        return None
    try:
        return float(text.replace(",", ".") if commas else text)
    except ValueError:
        raise BadArgument(f"{name} is a number", found=repr(text)) from None


def with_saves(data: bytes, path: str, saves: Iterable[str]) -> bytes:
    """The bytes of a register with a row at the end for each save that it does not know yet.

    All that was there stays, byte for byte. `data` may be empty: then the names of the columns come
    first. `BadDescription` for a register that is not UTF-8.
    """
    if data[:2] in (b"\xff\xfe", b"\xfe\xff"):
        raise BadDescription(
            "rows can be added to UTF-8 only", where=path, found="UTF-16", remedy="save it as UTF-8"
        )
    text = decode(data, path) if data else ",".join(COLUMNS) + "\n"
    known = parse_shelf(text, path)
    folder = os.path.dirname(os.path.abspath(path))
    end = "\r\n" if text.partition("\n")[0].endswith("\r") else "\n"
    out = io.StringIO(newline="")
    writer = csv.writer(out, delimiter=_delimiter(text), lineterminator=end)
    names = next(csv.reader(io.StringIO(text, newline=""), delimiter=_delimiter(text)))
    at = [name.strip().lower() for name in names].index(FILE)
    for save in saves:
        if known.of(save) is None:
            cells = [""] * len(names)
            cells[at] = os.path.relpath(os.path.abspath(save), folder).replace(os.sep, "/")
            writer.writerow(cells)
    added = out.getvalue().encode("utf-8", "surrogateescape")
    old = data if data else text.encode()
    if added and not old.endswith((b"\n", b"\r")):
        old += end.encode()
    return old + added if added else data
