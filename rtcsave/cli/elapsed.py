"""`elapsed`: real time between two saves, and why two accounts of it differ."""

from __future__ import annotations

import argparse
from dataclasses import dataclass

from rtcsave.cli.codes import DONE, FOUND
from rtcsave.cli.console import Sheet
from rtcsave.cli.given import CommonOptions
from rtcsave.cli.session import Session
from rtcsave.cli.words import value_json
from rtcsave.elapsed_time import elapsed
from rtcsave.errors import number_of
from rtcsave.when import say_span

EXAMPLES = """\
The registers know the time only modulo their 512 days, the stamps are the
host's. Both accounts are given, the overflows that reconcile them, and the
cause of what is left, with its evidence. Sign: positive = the cartridge clock
runs fast. A drift means something only between dumps of the cartridge itself:
a save that a program counted on carries the rate of its host.

exit code: 0 consistent, overflow or drift, 1 any other cause

examples:
  rtcsave elapsed spring.sav autumn.sav
  rtcsave elapsed a.sav b.sav --json | jq .elapsed_s
"""

_GOOD = ("consistent", "overflow", "drift")


@dataclass(frozen=True, kw_only=True)
class Options(CommonOptions):
    """The command's own options, as they were typed."""

    earlier: str
    later: str


def arguments(parser: argparse.ArgumentParser) -> None:
    """The command's own arguments."""
    parser.add_argument("earlier", metavar="EARLIER", help="the earlier save")
    parser.add_argument("later", metavar="LATER", help="the later save of the same cartridge")


def run(session: Session[Options]) -> int:
    """Say how much time passed."""
    args = session.args
    loaded = session.load_all([args.earlier, args.later])
    if loaded is None:
        return session.worst

    def work() -> int:
        found = elapsed(*loaded)
        sheet = Sheet(f"{args.earlier} -> {args.later}: {found.cause}")
        if found.elapsed_s is not None and found.low_s is not None and found.high_s is not None:
            width = found.high_s - found.elapsed_s
            sheet.add("elapsed", f"{say_span(found.elapsed_s)} ± {width} s ({found.elapsed_s} s)")
        else:
            for at, one in enumerate(found.candidates_s):
                sheet.add("" if at else "possible", say_span(one))
        sheet.add("registers", _account(found.by_registers_s) + _overflows(found.overflows))
        sheet.add("stamps", _account(found.by_stamps_s))
        if found.by_stamps_s is not None and found.by_stamps_s < 0:
            sheet.add(
                "order", "the later file has the earlier stamp: the wrong way round?", "warning"
            )
        sheet.add("cause", found.cause, "good" if found.cause in _GOOD else "warning")
        sheet.add("because", found.explanation)
        if len(found.causes) > 1:
            sheet.add("also fits", ", ".join(found.causes[1:]))
        session.console.sheet(sheet)
        session.console.object({"path": args.earlier, "other": args.later, **value_json(found)})
        return DONE if found.cause in _GOOD else FOUND

    return session.guarded(args.later, work, (args.earlier, args.later))


def _account(seconds: int | None) -> str:
    return "cannot say" if seconds is None else say_span(seconds)


def _overflows(number: int | None) -> str:
    return f", and {number_of(number, 'overflow')}" if number else ""
