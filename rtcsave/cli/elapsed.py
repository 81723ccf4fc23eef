"""`elapsed`: the real time between two saves, and every explanation that fits them."""

from __future__ import annotations

import argparse

from rtcsave.cli.codes import DONE, FOUND
from rtcsave.cli.console import Sheet
from rtcsave.cli.given import CommonOptions
from rtcsave.cli.session import Session
from rtcsave.cli.words import value_json
from rtcsave.elapsed_time import DIFFERENT_MEMORY, Elapsed, elapsed, how_likely, ran_untouched
from rtcsave.savefile import SaveFile
from rtcsave.when import say_span

EXAMPLES = """\
The registers count time only up to their 512 days; the stamps are the time of
a computer. All explanations that fit both are listed, the likeliest first:
almost certainly (95 % or more), probably (60 %), possibly. The weights rest on
assumptions of how usual each is; --json has them.

Positive = the cartridge clock runs fast. A rate means something only between
dumps of the cartridge itself: a save that an emulator advanced carries the
rate of its host.

exit code: 0 the clock ran untouched, within 50 ppm or 30 s of the stamps, and
that weighs 60 % or more; 1 anything else

examples:
  rtcsave elapsed spring.sav autumn.sav
  rtcsave elapsed a.sav b.sav --json | jq .elapsed_s
"""


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
    return session.pair(args.earlier, args.later, lambda a, b: _work(session, a, b))


def _work(session: Session[Options], earlier: SaveFile, later: SaveFile) -> int:
    args = session.args
    elapsed_time = elapsed(earlier, later, session.now_s)
    ordinary = ran_untouched(elapsed_time)
    first = elapsed_time.explanations[0]
    likely = "" if elapsed_time.cause == "unknown" else f"{how_likely(first.weight).lower()} "
    sheet = Sheet(f"{args.earlier} -> {args.later}: {likely}{elapsed_time.cause}")
    if elapsed_time.memory_alike is False:
        sheet.add("memory", DIFFERENT_MEMORY, "warning")
    sheet.add("registers", say_span(elapsed_time.by_registers_s))
    sheet.add(
        "stamps",
        "unknown" if elapsed_time.by_stamps_s is None else say_span(elapsed_time.by_stamps_s),
    )
    for at, explanation in enumerate(elapsed_time.explanations):
        style = "" if at else ("good" if ordinary else "warning")
        sheet.add("" if at else "explained", explanation.text, style)
    notes = () if elapsed_time.cause == "unknown" else elapsed_time.notes  # its own text has them
    for at, note in enumerate(notes):
        sheet.add("" if at else "note", note)
    _add_time(sheet, elapsed_time)
    session.console.sheet(sheet)
    session.console.object({"path": args.earlier, "other": args.later, **value_json(elapsed_time)})
    return DONE if ordinary else FOUND


def _add_time(sheet: Sheet, elapsed_time: Elapsed) -> None:
    """What follows, in the last lines: the time, or the times that are possible."""
    if elapsed_time.cause == "reversed":
        sheet.add("elapsed", "give the files the other way round")
    elif elapsed_time.elapsed_s is not None and elapsed_time.agreed:
        sheet.add(
            "elapsed", f"{say_span(elapsed_time.elapsed_s)} ± 1 s ({elapsed_time.elapsed_s} s)"
        )
    else:
        label = "possible" if elapsed_time.cause == "unknown" else "one of"
        for at, time_s in enumerate(elapsed_time.candidates_s):
            sheet.add("" if at else label, f"{say_span(time_s)} ({time_s} s)")
