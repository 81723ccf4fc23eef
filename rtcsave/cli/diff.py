"""`diff`: what differs between two saves."""

from __future__ import annotations

import argparse

from rtcsave.cli.codes import DONE, FOUND
from rtcsave.cli.console import Sheet
from rtcsave.cli.given import CommonOptions
from rtcsave.cli.session import Session
from rtcsave.cli.words import value_json
from rtcsave.cli.writing import add_change_lines, changes_json
from rtcsave.comparison import Comparison, compare
from rtcsave.differences import byte_changes
from rtcsave.savefile import SaveFile

EXAMPLES = """\
Memory is told as the number of bytes that differ and the first offset; its
content only with --content.

Ordinary (ok) between two dumps of one cartridge: the memory is identical, halt
and carry are alike, and the clock moved as the stamps did. FAIL is anything
else: a clock that jumps or goes back, memory that differs. Give the earlier
dump first.

exit code: 0 the same, 1 they differ

examples:
  rtcsave diff first-dump.sav second-dump.sav
  rtcsave diff a.sav b.sav --json | jq .memory_differing
"""


class Options(CommonOptions):
    """The command's own options, as they were typed."""

    a: str
    b: str
    content: bool


def arguments(parser: argparse.ArgumentParser) -> None:
    """The command's own arguments."""
    parser.add_argument("a", metavar="A", help="a save")
    parser.add_argument("b", metavar="B", help="another")
    parser.add_argument(
        "--content", action="store_true", help="show the bytes of the memory that differ, too"
    )


def run(session: Session[Options]) -> int:
    """Compare two files."""
    args = session.args
    return session.pair(args.a, args.b, lambda a, b: _work(session, a, b))


def _answer(comparison: Comparison) -> str:
    if comparison.same:
        return "the same"
    if comparison.ordinary:
        return "ok: only what is ordinary differs"
    return "FAIL: more than what is ordinary differs"


def _work(session: Session[Options], a: SaveFile, b: SaveFile) -> int:
    args = session.args
    comparison = compare(a, b, session.now_s)
    sheet = Sheet(f"{args.a} and {args.b}: {_answer(comparison)}")
    for change in comparison.fields:
        if change.field != "memory":
            sheet.add(change.field, f"{change.old} | {change.new}")
    changes = comparison.changes
    if args.content:
        changes = (*byte_changes(a.memory, b.memory, None, len(a.memory)), *changes)
    if changes:
        add_change_lines(sheet, changes)
    for reason in comparison.reasons:
        fine = reason not in comparison.problems
        sheet.add("ok" if fine else "FAIL", reason, "good" if fine else "error")
    session.console.sheet(sheet)
    session.console.object(
        {
            "path": args.a,
            "other": args.b,
            **value_json(comparison),
            "changes": changes_json(changes),
        }
    )
    return DONE if comparison.same else FOUND
