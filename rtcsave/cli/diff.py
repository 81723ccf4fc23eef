"""`diff`: what differs between two saves."""

from __future__ import annotations

import argparse
from dataclasses import dataclass

from rtcsave.cli.codes import DONE, FOUND
from rtcsave.cli.console import Sheet
from rtcsave.cli.given import CommonOptions
from rtcsave.cli.session import Session
from rtcsave.cli.words import value_json
from rtcsave.cli.writing import add_change_lines, changes_json
from rtcsave.comparison import compare
from rtcsave.differences import byte_changes
from rtcsave.savefile import SaveFile

EXAMPLES = """\
Memory is told as the number of bytes that differ and the first offset; its
content only with --content.

exit code: 0 the same, 1 they differ

examples:
  rtcsave diff first-dump.sav second-dump.sav
  rtcsave diff a.sav b.sav --json | jq .memory_differing
"""


@dataclass(frozen=True, kw_only=True)
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


def _work(session: Session[Options], a: SaveFile, b: SaveFile) -> int:
    args = session.args
    found = compare(a, b)
    sheet = Sheet(f"{args.a} and {args.b}: {'the same' if found.same else 'they differ'}")
    if found.memory_differing:
        first = found.memory_first_offset
        assert first is not None
        sheet.add(
            "memory", f"{found.memory_differing:,} bytes differ, the first at {first} ({first:X}h)"
        )
    else:
        sheet.add("memory", "identical", "good")
    for one in found.fields:
        if one.field != "memory":
            sheet.add(one.field, f"{one.old} | {one.new}")
    changes = found.changes
    if args.content:
        changes = (*byte_changes(a.memory, b.memory, None, 1 << 20), *changes)
    if changes:
        add_change_lines(sheet, changes)
    session.console.sheet(sheet)
    session.console.object(
        {
            "path": args.a,
            "other": args.b,
            **value_json(found),
            "changes": changes_json(changes),
        }
    )
    return DONE if found.same else FOUND
