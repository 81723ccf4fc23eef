"""`verify`: did a cartridge come through whole?"""

from __future__ import annotations

import argparse

from rtcsave.cells import CAUTIONS
from rtcsave.cli.codes import DONE, FOUND
from rtcsave.cli.console import Sheet
from rtcsave.cli.given import CommonOptions
from rtcsave.cli.options import in_options
from rtcsave.cli.parsing import typed
from rtcsave.cli.session import Session
from rtcsave.cli.words import value_json
from rtcsave.comparison import verify
from rtcsave.savefile import SaveFile
from rtcsave.when import parse_duration

EXAMPLES = (
    "\n".join(CAUTIONS)
    + """

Yes if the memory is identical byte for byte, halt and carry are as expected,
and the clock is right: within a minute (--within) and 50 ppm of the time
between the two stamps. The error of the clock is said in any case.

exit code: 0 yes, 1 no

examples:
  rtcsave verify before-the-swap.sav after-the-swap.sav
  rtcsave verify before.sav after.sav --within 5s
"""
)


class Options(CommonOptions):
    """The command's own options, as they were typed."""

    before: str
    after: str
    within: int


def arguments(parser: argparse.ArgumentParser) -> None:
    """The command's own arguments."""
    parser.add_argument("before", metavar="BEFORE", help="the save from before")
    parser.add_argument("after", metavar="AFTER", help="the save from after")
    parser.add_argument(
        "--within",
        metavar="DURATION",
        type=typed(parse_duration),
        default=60,
        help="by how much the clock may be off, beside 50 ppm (default: 60s)",
    )


def run(session: Session[Options]) -> int:
    """Verify one file against another."""
    args = session.args
    return session.pair(args.before, args.after, lambda a, b: _work(session, a, b))


def _work(session: Session[Options], before: SaveFile, after: SaveFile) -> int:
    args = session.args
    verification = verify(before, after, args.within, session.now_s)
    sheet = Sheet(f"{args.before} -> {args.after}: {'yes' if verification.ok else 'no'}")
    for reason in verification.reasons:
        fine = reason not in verification.problems
        sheet.add("ok" if fine else "FAIL", in_options(reason), "good" if fine else "error")
    for note in verification.notes:
        sheet.add("note", note, "note")
    passed = verification.elapsed
    wrong = (verification.error_s or 0, verification.allowed_s or 0)
    if passed is not None and passed.cause != "untouched" and abs(wrong[0]) > wrong[1]:
        sheet.add("explained", passed.explanations[0].text)
    session.console.sheet(sheet)
    session.console.object({"path": args.before, "other": args.after, **value_json(verification)})
    return DONE if verification.ok else FOUND
