"""`verify`: did a cartridge come through whole?"""

from __future__ import annotations

import argparse
from dataclasses import dataclass

from rtcsave.cli.codes import DONE, FOUND
from rtcsave.cli.console import Sheet
from rtcsave.cli.given import CommonOptions
from rtcsave.cli.session import Session
from rtcsave.cli.words import value_json
from rtcsave.comparison import verify
from rtcsave.savefile import SaveFile

EXAMPLES = """\
Yes if the memory is identical byte for byte, the clock moved by the real time
between the two stamps (within truncation and what a crystal can do), and halt
and carry are as expected.

exit code: 0 yes, 1 no

examples:
  rtcsave verify before-the-swap.sav after-the-swap.sav
"""


@dataclass(frozen=True, kw_only=True)
class Options(CommonOptions):
    """The command's own options, as they were typed."""

    before: str
    after: str


def arguments(parser: argparse.ArgumentParser) -> None:
    """The command's own arguments."""
    parser.add_argument("before", metavar="BEFORE", help="the save from before")
    parser.add_argument("after", metavar="AFTER", help="the save from after")


def run(session: Session[Options]) -> int:
    """Verify one file against another."""
    args = session.args
    return session.pair(args.before, args.after, lambda a, b: _work(session, a, b))


def _work(session: Session[Options], before: SaveFile, after: SaveFile) -> int:
    args = session.args
    found = verify(before, after)
    sheet = Sheet(f"{args.before} -> {args.after}: {'yes' if found.ok else 'no'}")
    for reason in found.reasons:
        fine = reason not in found.problems
        sheet.add("good" if fine else "NOT", reason, "good" if fine else "error")
    session.console.sheet(sheet)
    session.console.object({"path": args.before, "other": args.after, **value_json(found)})
    return DONE if found.ok else FOUND
