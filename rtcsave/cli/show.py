"""`show`: what the clock says, what it would say now, when it was stamped."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING, Any

from rtcsave.cli.codes import DONE
from rtcsave.cli.console import Sheet
from rtcsave.cli.given import CommonOptions
from rtcsave.cli.paths import expand
from rtcsave.cli.programs import add_header_line, add_program, program_header
from rtcsave.cli.session import Session
from rtcsave.cli.words import (
    add_clock_lines,
    add_finding_lines,
    save_json,
    value_json,
    what_it_is,
)
from rtcsave.errors import FileFault
from rtcsave.findings import check
from rtcsave.savefile import dumps
from rtcsave.when import check_zone

if TYPE_CHECKING:
    from rtcsave.layouts.evidence import Candidate

EXAMPLES = """\
examples:
  rtcsave show game.sav
  rtcsave show *.sav --zone Europe/Lisbon
  rtcsave show game.sav --bytes
  rtcsave show game.sav --json | jq .clock_now
"""


class Options(CommonOptions):
    """The command's own options, as they were typed."""

    files: list[str]
    bytes: bool
    explain: bool
    program: str | None
    zone: str | None


def arguments(parser: argparse.ArgumentParser) -> None:
    """The command's own arguments."""
    parser.add_argument("files", nargs="+", metavar="FILE", help="a save, or - for standard input")
    parser.add_argument(
        "--bytes", action="store_true", help="each byte of the clock block, with what it means"
    )
    parser.add_argument(
        "--explain", action="store_true", help="which layouts the bytes could be in, and why"
    )
    add_program(parser)
    parser.add_argument("--zone", metavar="Z", help="show instants in this IANA zone, not in UTC")


def run(session: Session[Options]) -> int:
    """Show every file; what is found in it does not change the exit code."""
    zone = None if session.args.zone is None else check_zone(session.args.zone)

    header = program_header(session.args.program)

    def work(path: str) -> int:
        data, origin = session.read(path)
        try:
            save = session.loads(data, origin)
        except FileFault as fault:
            if session.args.explain:
                _explain_refused(session, path, data)
            session.point_to_check(path, data, fault)
            raise
        findings = check(save, header, session.now_s)
        answers = save_json(path, save, session.now_s, findings)
        sheet = Sheet(f"{path}: {what_it_is(save)}")
        add_clock_lines(session.console, sheet, save, session.now_s, zone)
        add_header_line(sheet, header)
        add_finding_lines(sheet, findings, remedies=False)
        if session.args.explain:
            from rtcsave.layouts.evidence import candidates

            weighed = candidates(dumps(save), session.known_layouts, session.now_s)
            add_evidence_lines(sheet, weighed)
            answers["candidates"] = evidence_json(weighed)
        if header is not None:
            answers["program"] = value_json(header)
        session.console.sheet(sheet)
        if session.args.bytes:
            from rtcsave.cli.bytes_shown import bytes_json, print_bytes

            print_bytes(session.console, save)
            answers["bytes"] = bytes_json(save)
        session.console.object(answers)
        return DONE

    return session.each(expand(session.args.files), work)


def _explain_refused(session: Session[Options], path: str, data: bytes) -> None:
    """What the length of an unreadable file allows, before its error is reported."""
    from rtcsave.layouts.evidence import candidates

    sheet = Sheet(f"{path}: {len(data):,} bytes")
    add_evidence_lines(sheet, candidates(data, session.known_layouts, session.now_s))
    session.console.sheet(sheet)


def add_evidence_lines(sheet: Sheet, weighed: tuple[Candidate, ...]) -> None:
    """Why the bytes are read as they are: each layout the length allows, for and against."""
    if not weighed:
        sheet.add("layouts", "none that the length allows")
    for candidate in weighed:
        sheet.add(
            candidate.layout.name,
            f"{candidate.fitting} of {candidate.words} words and constants fit",
        )
        for text in candidate.evidence_for:
            sheet.add("", f"  for: {text}")
        for text in candidate.evidence_against:
            sheet.add("", f"  against: {text}", "warning")


def evidence_json(weighed: tuple[Candidate, ...]) -> list[dict[str, Any]]:
    """The candidates as JSON."""
    return [
        {
            "layout": candidate.layout.name,
            "memory_bytes": candidate.memory_bytes,
            "fitting": candidate.fitting,
            "words": candidate.words,
            "evidence_for": list(candidate.evidence_for),
            "evidence_against": list(candidate.evidence_against),
        }
        for candidate in weighed
    ]
