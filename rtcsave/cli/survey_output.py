"""The rows of a survey as a table, as lines of JSON, and as CSV; and in which order."""

from __future__ import annotations

import contextlib
import csv
import os
import sys
from collections.abc import Callable, Iterable
from typing import Any, Final, TextIO

from rtcsave.cli.console import output
from rtcsave.cli.options import in_options
from rtcsave.cli.register import Register
from rtcsave.cli.session import Session
from rtcsave.cli.words import findings_json, save_json
from rtcsave.collection import SurveyRow
from rtcsave.collection.rows import said_codes, said_now
from rtcsave.errors import WouldOverwrite, number_of
from rtcsave.findings import rank_of
from rtcsave.savefile import SaveFile
from rtcsave.storage.system import system_failed
from rtcsave.when import rfc3339, unix_seconds

_COLUMNS: Final = (
    "path",
    "memory_bytes",
    "layout",
    "clock",
    "clock_now",
    "saved_at",
    "overflow_at",
    "days_to_overflow",
    "worst",
    "findings",
    "error",
)
_NEVER: Final = 10**9


def _need(row: SurveyRow) -> tuple[int, int, str]:
    """Errors first, then warnings, then what overflows soonest."""
    return -max(rank_of(row.worst), rank_of("note")), *_days(row)


def _days(row: SurveyRow) -> tuple[int, str]:
    days = row.days_to_overflow
    return (_NEVER if days is None else days), row.path


def _saved(row: SurveyRow) -> tuple[float, str]:
    return (0.0 if row.saved_at is None else row.saved_at.timestamp()), row.path


Printer = Callable[[Session[Any], Iterable[SurveyRow], Register], None]
_KEYS: Final[dict[str, Callable[[SurveyRow], Any]]] = {
    "need": _need,
    "path": lambda row: row.path,
    "days": _days,
    "saved": _saved,
}


SORTS: Final = tuple(_KEYS)


def in_order(rows: Iterable[SurveyRow], key: str | None) -> Iterable[SurveyRow]:
    """The rows by a key of `SORTS`; None leaves them as they come."""
    return rows if key is None else sorted(rows, key=_KEYS[key])


def row_json(row: SurveyRow) -> dict[str, Any]:
    """A row as the JSON keys of `show` and `check` have it."""
    save = None if row.block is None else SaveFile(memory=b"", block=row.block)
    answers = save_json(row.path, save, row.now_s, ())
    answers |= {
        "memory_bytes": row.memory_bytes,
        "days_to_overflow": row.days_to_overflow,
        "worst": row.worst,
        "findings": findings_json(row.findings),
    }
    if row.error is not None:
        answers |= {"error": row.error_name, "message": in_options(row.error)}
    return answers


def print_json(session: Session[Any], rows: Iterable[SurveyRow], register: Register) -> None:
    """A line of JSON for each row."""
    for row in rows:
        session.console.object(row_json(row) | register.title_json(row.path))


def print_csv(session: Session[Any], rows: Iterable[SurveyRow], register: Register) -> None:
    """The rows as CSV, on standard output or in the file that was named."""
    if session.args.output is None:
        with output():
            _write_csv(sys.stdout, rows, register)
        return
    path = session.args.output
    try:
        with open(path, "x", encoding="utf-8", errors="backslashreplace", newline="") as stream:
            _write_csv(stream, rows, register)
    except FileExistsError:
        raise WouldOverwrite(
            "another file stands there", where=path, remedy="name a new file"
        ) from None
    except OSError as error:
        with contextlib.suppress(OSError):
            os.unlink(path)  # made just now, and not whole
        raise system_failed(error, "the file cannot be written", path) from error


def _write_csv(stream: TextIO, rows: Iterable[SurveyRow], register: Register) -> None:
    writer = csv.writer(stream, lineterminator="\n")
    writer.writerow((*_COLUMNS, *register.columns))
    for row in rows:
        writer.writerow((*_cells(row), *register.title_json(row.path).values()))


def _cells(row: SurveyRow) -> list[object]:
    saved_at, overflow_at, now = row.saved_at, row.overflow_at, row.clock_now
    return [
        row.path,
        row.memory_bytes,
        row.layout,
        None if row.clock is None else row.clock.reading(),
        None if now is None else now.reading(),
        None if saved_at is None else rfc3339(unix_seconds(saved_at)),
        None if overflow_at is None else rfc3339(unix_seconds(overflow_at)),
        row.days_to_overflow,
        row.worst,
        " ".join(dict.fromkeys(finding.code for finding in row.findings)),
        None if row.error is None else in_options(row.error),
    ]


def print_table(session: Session[Any], rows: Iterable[SurveyRow], register: Register) -> None:
    """All rows as one table."""
    titled = bool(register.columns)
    lines = []
    for row in rows:
        path, *rest = _line(row)
        lines.append((path, *register.title_json(row.path).values(), *rest))
    if lines:
        titles = register.columns if titled else ()
        headers = ("file", *titles, "clock now", "saved", "overflows in", "findings")
        session.console.table(headers, lines)


def _line(row: SurveyRow) -> tuple[str, ...]:
    days, saved_at, clock = row.days_to_overflow, row.saved_at, said_now(row)
    if row.block is None and row.error is None:
        clock = "no clock"
    problem = said_codes(row) or ("" if row.error is None else in_options(row.error))
    return (
        row.path,
        clock,
        "" if saved_at is None else f"{saved_at:%Y-%m-%d}",
        "" if days is None else number_of(days, "day"),
        problem if row.worst is None else f"{row.worst}: {problem}",
    )
