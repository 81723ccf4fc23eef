"""`survey`: every save in some folders, a row each, those that need a person first."""

from __future__ import annotations

import argparse
import contextlib
import sys
from collections.abc import Iterator
from typing import Any, Final

from rtcsave.cli.codes import INTERRUPTED
from rtcsave.cli.console import complain
from rtcsave.cli.folders import add_shelf
from rtcsave.cli.given import CommonOptions
from rtcsave.cli.options import in_options
from rtcsave.cli.parsing import one_of, typed
from rtcsave.cli.paths import STREAM
from rtcsave.cli.progress import shown_progress
from rtcsave.cli.register import Register
from rtcsave.cli.session import Session
from rtcsave.cli.survey_output import (
    SORTS,
    Printer,
    in_order,
    print_csv,
    print_json,
    print_table,
)
from rtcsave.cli.tally import Tally
from rtcsave.collection import SurveyRow, history, survey
from rtcsave.collection.series import series_of
from rtcsave.collection.shelf import Shelf
from rtcsave.errors import BadArgument, RtcSaveError
from rtcsave.findings import SEVERITIES, Severity
from rtcsave.storage.system import system_failed
from rtcsave.storage.writing import write

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
  rtcsave survey shelf --shelf shelf.csv --update
  rtcsave survey shelf --html shelf.html
  rtcsave survey archive --jobs 8 --format csv > archive.csv
"""

_FORMATS: Final = ("table", "csv")


class Options(CommonOptions):
    """The command's own options, as they were typed."""

    paths: list[str]
    severity: Severity | None
    fail_on: Severity | None
    sort: str | None
    format: str
    output: str | None
    html: str | None
    overwrite: bool
    jobs: int
    files_from: str | None
    null: bool
    glob: str | None
    follow: bool
    program: str | None
    thorough: bool
    shelf: str | None
    update: bool


def arguments(parser: argparse.ArgumentParser) -> None:
    """The command's own arguments."""
    parser.add_argument("paths", nargs="*", metavar="FOLDER", help="folders, and files")
    which = parser.add_argument_group("which files")
    which.add_argument("--glob", metavar="P", help='only names in folders like this: "*.sav"')
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
    add_shelf(which)
    which.add_argument(
        "--update", action="store_true", help="add a row to the register for each save it lacks"
    )
    how = parser.add_argument_group("how")
    how.add_argument("--thorough", action="store_true", help="read every file whole")
    how.add_argument("--jobs", type=typed(int), default=1, metavar="N", help="use N processes")
    _shown_arguments(parser.add_argument_group("what is shown"))


def _shown_arguments(shown: argparse._ArgumentGroup) -> None:
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
        "--html",
        metavar="FILE",
        help="also write a page that stands alone: charts, table, findings",
    )
    shown.add_argument("--overwrite", action="store_true", help="the page may exist")
    shown.add_argument("-o", "--output", metavar="OUT", help="write the csv to a new file")


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
    if args.update and args.shelf is None:
        raise BadArgument("--update goes with --shelf")
    if args.html is not None:
        from rtcsave.report.shelf_page import template

        template()  # says at once if its library is missing
    register = Register(args.shelf, may_be_new=args.update)
    tally = Tally(args.severity, args.fail_on, frozenset(paths))
    rows = shown_progress(
        tally.counted(register.noted(_rows(session, paths, tally))), paths, args.glob, args.follow
    )
    print_rows: Printer = print_table
    if args.json:
        print_rows = print_json
    elif args.format == "csv":
        print_rows = print_csv
    key = args.sort or ("need" if print_rows is print_table else None)
    ordered = in_order(rows, key)
    if args.html is not None:
        ordered = list(ordered)
    print_rows(session, ordered, register)
    if args.html is not None:
        if tally.is_whole:
            _write_page(session, args.html, list(in_order(ordered, "need")), register.shelf)
        else:
            complain(f"the page was not written: {args.html}")
    register.say_missing()
    code = tally.end(None if print_rows is not print_table else session.console)
    if args.update and code != INTERRUPTED:
        register.update()
    return code


def _write_page(
    session: Session[Options], path: str, rows: list[SurveyRow], shelf: Shelf | None
) -> None:
    """Write the page of a survey, what needs a person first."""
    from rtcsave.report.shelf_page import shelf_page

    histories = []
    for name, paths in series_of(row.path for row in rows if row.block is not None).items():
        with contextlib.suppress(RtcSaveError):  # a dump that vanished meanwhile, or another clock
            saves = [session.load(dump) for dump in paths]
            histories.append((name, history(saves, session.now_s)))
    page = shelf_page(rows, session.now_s, in_options, shelf, histories)
    write(page, path, overwrite=session.args.overwrite)
    complain(f"the page: {path}")


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


def _rows(session: Session[Options], paths: list[str], tally: Tally) -> Iterator[SurveyRow]:
    args = session.args

    def processes() -> Any:
        from concurrent.futures import ProcessPoolExecutor

        from rtcsave.collection.spreading import leave_interrupts

        return ProcessPoolExecutor(max_workers=args.jobs, initializer=leave_interrupts)

    return survey(
        paths,
        layouts=session.known_layouts,
        now=session.now_s,
        programs=args.program,
        thorough=args.thorough,
        follow=args.follow,
        pattern=args.glob,
        executor=processes if args.jobs > 1 else None,
        on_passed=tally.pass_over,
    )
