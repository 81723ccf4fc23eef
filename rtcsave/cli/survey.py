"""`survey`: every save in some folders, a row each, those that need a person first."""

from __future__ import annotations

import argparse
import csv
import sys
from collections import Counter
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from typing import Any, Final, TextIO

from rtcsave.cli.codes import DONE, FAILED, FOUND, INTERRUPTED
from rtcsave.cli.console import complain, output
from rtcsave.cli.given import CommonOptions
from rtcsave.cli.options import in_options
from rtcsave.cli.parsing import one_of, typed
from rtcsave.cli.paths import STREAM
from rtcsave.cli.progress import shown_progress
from rtcsave.cli.session import Session
from rtcsave.cli.words import findings_json, save_json
from rtcsave.collection import SurveyRow, survey
from rtcsave.errors import BadArgument, WouldOverwrite, number_of
from rtcsave.findings import SEVERITIES
from rtcsave.savefile import SaveFile
from rtcsave.storage.system import system_failed
from rtcsave.when import rfc3339, unix_seconds

EXAMPLES = """\
Folders are walked to any depth. A save is recognised by its length and its
content, not by its name. Passed over: other files, our backups, names that
begin with a dot, and links (--follow goes through those).

The table is sorted by what needs a person first. --json and --format csv print
each row as it is found. A file that cannot be read is a row like any other.

exit code: 0; 1 with --fail-on, where a finding is at least that severe; 3 where
a file or folder that you named cannot be read, or no save was found

examples:
  rtcsave survey shelf
  rtcsave survey shelf --severity warning
  rtcsave survey shelf --json | jq -r 'select(.worst == "error").path'
  rtcsave survey shelf --format csv -o shelf.csv
  rtcsave survey archive --jobs 8 --format csv > archive.csv
"""

SORTS: Final = ("need", "path", "days", "saved")
_FORMATS: Final = ("table", "csv")
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


@dataclass(kw_only=True, repr=False, eq=False)
class Options(CommonOptions):
    """The command's own options, as they were typed."""

    paths: list[str]
    severity: str | None
    fail_on: str | None
    sort: str | None
    format: str
    output: str | None
    jobs: int
    files_from: str | None
    null: bool
    glob: str | None
    follow: bool
    program: str | None
    thorough: bool


def arguments(parser: argparse.ArgumentParser) -> None:
    """The command's own arguments."""
    parser.add_argument("paths", nargs="*", metavar="FOLDER", help="folders, and files")
    which = parser.add_argument_group("which files")
    which.add_argument("--glob", metavar="P", help="only names in folders like this: '*.sav'")
    which.add_argument("--follow", action="store_true", help="go through symbolic links too")
    which.add_argument(
        "--files-from", metavar="FILE", help="a list of paths, one a line (- : standard input)"
    )
    which.add_argument(
        "--null", action="store_true", help="the list's paths end with a NUL, not a line's end"
    )
    which.add_argument(
        "--program",
        metavar="FOLDER",
        help="program images: one with a save's name says what its cartridge should hold",
    )
    how = parser.add_argument_group("how")
    how.add_argument("--thorough", action="store_true", help="read every file whole")
    how.add_argument("--jobs", type=typed(int), default=1, metavar="N", help="use N processes")
    shown = parser.add_argument_group("what is shown")
    shown.add_argument(
        "--severity",
        type=one_of(*SEVERITIES),
        metavar="S",
        help="only rows with a finding at least so severe: note, warning or error",
    )
    shown.add_argument(
        "--fail-on", type=one_of(*SEVERITIES), metavar="S", help="exit code 1 for such a row"
    )
    shown.add_argument(
        "--sort",
        type=one_of(*SORTS),
        metavar="KEY",
        help="need (what needs a person first; the table's default), path, days, saved",
    )
    shown.add_argument(
        "--format", type=one_of(*_FORMATS), default="table", metavar="F", help="table or csv"
    )
    shown.add_argument(
        "-o", "--output", metavar="OUT", help="write the csv there: a file that does not exist yet"
    )


def run(session: Session[Options]) -> int:
    """Survey the folders."""
    args = session.args
    if args.output is not None and (args.json or args.format != "csv"):
        raise BadArgument("-o goes with --format csv")
    if args.jobs < 1:
        raise BadArgument("--jobs is a number of processes, 1 or more", found=str(args.jobs))
    paths = [*args.paths, *_listed(session)]
    if not paths:
        raise BadArgument("no folder was named", remedy="name one, or a list with --files-from")
    tally = _Tally(session, frozenset(paths))
    rows = shown_progress(tally.counted(_rows(session, paths)), paths, args.glob, args.follow)
    print_rows: Callable[[Session[Options], Iterable[SurveyRow]], None] = _print_table
    if args.json:
        print_rows = _print_json
    elif args.format == "csv":
        print_rows = _print_csv
    print_rows(
        session, _sorted(rows, args.sort or ("need" if print_rows is _print_table else None))
    )
    return tally.end(to_error=print_rows is not _print_table)


def _listed(session: Session[Options]) -> list[str]:
    """The paths of the list that was named."""
    args = session.args
    if args.files_from is None:
        if args.null:
            raise BadArgument("--null goes with --files-from")
        return []
    if args.files_from == STREAM:
        text = sys.stdin.read()
    else:
        try:
            with open(
                args.files_from, encoding="utf-8", errors="surrogateescape", newline=""
            ) as stream:
                text = stream.read()
        except OSError as error:
            raise system_failed(error, "the list cannot be read", args.files_from) from error
    names = text.split("\0") if args.null else text.splitlines()
    return [name for name in names if name]


def _rows(session: Session[Options], paths: list[str]) -> Iterator[SurveyRow]:
    args = session.args
    executor = None
    if args.jobs > 1:
        from concurrent.futures import ProcessPoolExecutor

        def executor() -> ProcessPoolExecutor:
            return ProcessPoolExecutor(max_workers=args.jobs)

    return survey(
        paths,
        layouts=session.known_layouts,
        now=session.now_s,
        programs=args.program,
        thorough=args.thorough,
        follow=args.follow,
        pattern=args.glob,
        executor=executor,
    )


class _Tally:
    """What was seen so far: counted while the rows go by, said at the end."""

    def __init__(self, session: Session[Options], named: frozenset[str]) -> None:
        args = session.args
        self._least = -1 if args.severity is None else SEVERITIES.index(args.severity)
        self._fail_on = len(SEVERITIES) if args.fail_on is None else SEVERITIES.index(args.fail_on)
        self._named = named
        self._session = session
        self._worst = -1
        self._by_severity: Counter[str] = Counter()
        self._is_whole = False
        self._named_failed = False

    def counted(self, rows: Iterator[SurveyRow]) -> Iterator[SurveyRow]:
        """The rows that are to be shown; Ctrl-C ends them."""
        try:
            for row in rows:
                worst = row.worst
                rank = -1 if worst is None else SEVERITIES.index(worst)
                self._worst = max(self._worst, rank)
                self._by_severity[worst or "healthy"] += 1
                if row.error is not None and row.path in self._named:
                    self._named_failed = True
                if rank >= self._least:
                    yield row
            self._is_whole = True
        except KeyboardInterrupt:
            return

    def end(self, to_error: bool) -> int:
        """Say the numbers; the exit code."""
        count = sum(self._by_severity.values())
        parts = [f"{self._by_severity['healthy']:,} healthy"]
        for severity in reversed(SEVERITIES):
            if self._by_severity[severity]:
                parts.append(
                    f"{self._by_severity[severity]:,} with {_ARTICLE[severity]} {severity}"
                )
        files = "1 file" if count == 1 else f"{count:,} files"
        said = f"{files}: {', '.join(parts)}" if count else "no save was found"
        if not self._is_whole:
            said = f"stopped; this is not all. So far {said}"
        if to_error or not count:
            complain(said)
        else:
            self._session.console.line(said)
        if not self._is_whole:
            return INTERRUPTED
        if self._named_failed or not count:
            return FAILED
        return FOUND if self._worst >= self._fail_on else DONE


_ARTICLE: Final = {"note": "a", "warning": "a", "error": "an"}


def _need(row: SurveyRow) -> tuple[int, int, str]:
    """Errors first, then warnings, then what overflows soonest."""
    worst = row.worst
    rank = 0 if worst is None or worst == "note" else SEVERITIES.index(worst)
    days = row.days_to_overflow
    return -rank, _NEVER if days is None else days, row.path


def _days(row: SurveyRow) -> tuple[int, str]:
    days = row.days_to_overflow
    return (_NEVER if days is None else days), row.path


def _saved(row: SurveyRow) -> tuple[float, str]:
    return (0.0 if row.saved_at is None else row.saved_at.timestamp()), row.path


_KEYS: Final[dict[str, Callable[[SurveyRow], Any]]] = {
    "need": _need,
    "path": lambda row: row.path,
    "days": _days,
    "saved": _saved,
}


def _sorted(rows: Iterable[SurveyRow], key: str | None) -> Iterable[SurveyRow]:
    return rows if key is None else sorted(rows, key=_KEYS[key])


def row_json(row: SurveyRow) -> dict[str, Any]:
    """A row as the JSON keys of `show` and `check` have it."""
    save = None if row.block is None else SaveFile(memory=b"", block=row.block)
    told = save_json(row.path, save, row.now_s, ())
    told |= {
        "memory_bytes": row.memory_bytes,
        "days_to_overflow": row.days_to_overflow,
        "worst": row.worst,
        "findings": findings_json(row.findings),
    }
    if row.error is not None:
        told |= {"error": row.error_name, "message": in_options(row.error)}
    return told


def _print_json(session: Session[Options], rows: Iterable[SurveyRow]) -> None:
    for row in rows:
        session.console.object(row_json(row))


def _print_csv(session: Session[Options], rows: Iterable[SurveyRow]) -> None:
    if session.args.output is None:
        with output():
            _write_csv(sys.stdout, rows)
        return
    path = session.args.output
    try:
        with open(path, "x", encoding="utf-8", errors="backslashreplace", newline="") as stream:
            _write_csv(stream, rows)
    except FileExistsError:
        raise WouldOverwrite(
            "another file stands there", where=path, remedy="name one that does not exist"
        ) from None
    except OSError as error:
        raise system_failed(error, "the file cannot be written", path) from error


def _write_csv(stream: TextIO, rows: Iterable[SurveyRow]) -> None:
    writer = csv.writer(stream, lineterminator="\n")
    writer.writerow(_COLUMNS)
    for row in rows:
        writer.writerow(_cells(row))


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
        " ".join(finding.code for finding in row.findings),
        None if row.error is None else in_options(row.error),
    ]


def _print_table(session: Session[Options], rows: Iterable[SurveyRow]) -> None:
    lines = [_line(row) for row in rows]
    if lines:
        session.console.table(("file", "clock now", "saved", "overflows in", "findings"), lines)


def _line(row: SurveyRow) -> tuple[str, ...]:
    now, days, saved_at = row.clock_now, row.days_to_overflow, row.saved_at
    clock = "" if row.block is None else "unknown" if now is None else now.reading()
    if row.block is None and row.error is None:
        clock = "no clock"
    codes = dict.fromkeys(finding.code for finding in row.findings)
    found = ", ".join(codes) or ("" if row.error is None else in_options(row.error))
    return (
        row.path,
        clock,
        "" if saved_at is None else f"{saved_at:%Y-%m-%d}",
        "" if days is None else number_of(days, "day"),
        found if row.worst is None else f"{row.worst}: {found}",
    )
