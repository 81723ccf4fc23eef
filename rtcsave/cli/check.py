"""`check`: what is wrong with a file, also with one that cannot be read as a save."""

from __future__ import annotations

import argparse

from rtcsave.cli.codes import DONE, FOUND
from rtcsave.cli.console import Sheet
from rtcsave.cli.folders import saves_in
from rtcsave.cli.given import CommonOptions
from rtcsave.cli.options import in_options
from rtcsave.cli.parsing import one_of
from rtcsave.cli.programs import add_header_line, add_program, program_header
from rtcsave.cli.session import Session
from rtcsave.cli.words import add_finding_lines, save_json, what_it_is
from rtcsave.errors import BadArgument
from rtcsave.findings import FINDINGS, SEVERITIES, Severity, examine, rank_of

EXAMPLES = """\
exit code: 0 nothing found, 1 any finding at least as severe as --fail-on (notes
included without it), 3 nothing at all was recognised

examples:
  rtcsave check game.sav
  rtcsave check shelf --fail-on warning
  rtcsave check "saves/*.sav" --json | jq -r .findings[].code
  rtcsave check --list
"""


class Options(CommonOptions):
    """The command's own options, as they were typed."""

    files: list[str]
    program: str | None
    fail_on: Severity
    list: bool


def arguments(parser: argparse.ArgumentParser) -> None:
    """The command's own arguments."""
    parser.add_argument(
        "files", nargs="*", metavar="FILE", help="any file, a folder, or - for standard input"
    )
    add_program(parser)
    parser.add_argument(
        "--fail-on",
        type=one_of(*SEVERITIES),
        default=SEVERITIES[0],
        metavar="S",
        help="exit code 1 from this severity on: note (the default), warning, error",
    )
    parser.add_argument("--list", action="store_true", help="every finding that is known")


def run(session: Session[Options]) -> int:
    """Check every file, or list what is looked for."""
    if session.args.list:
        return _list(session)
    if not session.args.files:
        raise BadArgument("no file was named", remedy="name one, or ask for --list")

    header = program_header(session.args.program)

    def work(path: str) -> int:
        data, origin = session.read(path)
        seen = examine(data, session.layout, session.also_layouts, header, origin, session.now_s)
        if seen.refusal is not None and not seen.findings:
            raise seen.refusal
        answers = save_json(path, seen.save, session.now_s, seen.findings)
        what = f"{len(data):,} bytes" if seen.save is None else what_it_is(seen.save)
        sheet = Sheet(f"{path}: {what}")
        add_header_line(sheet, header)
        add_finding_lines(sheet, seen.findings, remedies=True)
        if seen.refusal is not None:
            sheet.add("not a save", seen.refusal.what, "error")
            answers |= {
                "error": type(seen.refusal).__name__,
                "message": in_options(str(seen.refusal)),
            }
        session.console.sheet(sheet)
        session.console.object(answers)
        worst = max((rank_of(finding.severity) for finding in seen.findings), default=0)
        return FOUND if worst >= rank_of(session.args.fail_on) else DONE

    return session.each(saves_in(session, session.args.files), work)


def _list(session: Session[Options]) -> int:
    rows = []
    for kind in FINDINGS.values():
        rows.append((kind.code, kind.severity, kind.title, in_options(kind.repair)))
        session.console.object(
            {
                "code": kind.code,
                "severity": kind.severity,
                "title": kind.title,
                "remedy": in_options(kind.remedy),
                "repair": in_options(kind.repair),
            }
        )
    session.console.table(("finding", "severity", "what it means", "repair"), rows)
    return DONE
