"""`history`: dumps of one cartridge over time, what happened between them, and its drift so far."""

from __future__ import annotations

import argparse
import os
from collections.abc import Sequence
from typing import Any

from rtcsave.cli.codes import DONE, FAILED, FOUND
from rtcsave.cli.console import Sheet, complain, first_few
from rtcsave.cli.drift import FONTS, draw, picture_kind
from rtcsave.cli.folders import saves_in
from rtcsave.cli.given import CommonOptions
from rtcsave.cli.paths import STREAM
from rtcsave.cli.session import Session
from rtcsave.cli.words import findings_json, value_json
from rtcsave.cli.writing import refuse_own_input
from rtcsave.collection.series import History, history, series_of
from rtcsave.drift import DriftEstimate
from rtcsave.drift.judging import explain
from rtcsave.elapsed_time import how_likely
from rtcsave.errors import BadArgument
from rtcsave.savefile import SaveFile
from rtcsave.when import rfc3339, say_instant, say_span

EXAMPLES = """\
Name the dumps of one cartridge, in any order; they are put in the order of their
stamps. In a folder the files whose names are alike but for a date are a series
('tide 2026-03-10.sav', 'tide 20260401.sav'), each with a history of its own. The
date is written year, month, day.

Saves whose memory has nothing in common may be of two cartridges: that is said,
and no rate is fitted (--different-memory fits it all the same).

exit code: 0; 1 where saves of two cartridges seem to be mixed

examples:
  rtcsave history tide*.sav
  rtcsave history dumps --json | jq .drift.rate_ppm
  rtcsave history tide*.sav --plot tide.svg
"""


class Options(CommonOptions):
    """The command's own options, as they were typed."""

    files: list[str]
    different_memory: bool
    plot: str | None
    overwrite: bool


def arguments(parser: argparse.ArgumentParser) -> None:
    """The command's own arguments."""
    parser.add_argument("files", nargs="+", metavar="FILE", help="dumps, or a folder of them")
    parser.add_argument(
        "--different-memory",
        action="store_true",
        help="the saves are of one cartridge, though their memory has nothing in common",
    )
    parser.add_argument(
        "--plot",
        metavar="FILE",
        help=f"a picture of the drift: .png or .svg; {FONTS}",
    )
    parser.add_argument("--overwrite", action="store_true", help="the picture may exist")


def run(session: Session[Options]) -> int:
    """Tell the history of one series, or of each in a folder."""
    args = session.args
    files = saves_in(session, args.files, with_clock=True)
    groups = {", ".join(args.files): tuple(files)}
    if any(path != STREAM and os.path.isdir(path) for path in args.files):
        groups = series_of(files)
        grouped = {path for group in groups.values() for path in group}
        alone = [path for path in files if path not in grouped]
        if groups and alone:
            complain(f"in no series, by their names: {first_few(alone)}")
        if not groups:
            raise BadArgument(
                "no two saves there have names that are alike but for a date",
                remedy="name the dumps of one cartridge",
            )
    if args.plot is not None:
        if len(groups) > 1:
            raise BadArgument("--plot draws one series", found=f"{len(groups)} series")
        picture_kind(args.plot)
        refuse_own_input(args.plot, files)
    worst = DONE
    for name, paths in groups.items():
        work = _Work(session, name, paths)
        worst = max(worst, session.guarded(paths[0], work, paths))
    return worst


class _Work:
    """One series."""

    def __init__(self, session: Session[Options], name: str, paths: Sequence[str]) -> None:
        self.session, self.name, self.paths = session, name, paths

    def __call__(self) -> int:
        """Load, tell, draw."""
        args, session = self.session.args, self.session
        loaded = session.load_all(list(self.paths))
        if loaded is None:
            return FAILED
        dump_history = history(loaded, session.now_s, different_memory=args.different_memory)
        paths = {id(save): path for save, path in zip(loaded, self.paths, strict=True)}
        ordered = [paths[id(save)] for save in dump_history.saves]
        sheet = Sheet(f"{self.name}: {len(ordered)} dumps")
        _add_steps(sheet, dump_history, ordered)
        for at, problem in enumerate(dump_history.problems):
            sheet.add("" if at else "mind", problem, "warning")
        sheet.add("rate", "unknown" if dump_history.drift is None else explain(dump_history.drift))
        answers: dict[str, Any] = _json(dump_history, ordered)
        if args.plot is not None:
            if dump_history.drift is None:
                raise BadArgument(
                    "there is no rate to draw", remedy="'history' without --plot says why"
                )
            draw(dump_history.drift, args.plot, args.overwrite)
            sheet.add("picture", args.plot, "good")
            answers["plot"] = args.plot
        session.console.sheet(sheet)
        session.console.object(answers)
        return FOUND if dump_history.is_mixed else DONE


def _add_steps(sheet: Sheet, dump_history: History, paths: Sequence[str]) -> None:
    """A line for each dump, and what lies before it."""
    for at, (save, path) in enumerate(zip(dump_history.saves, paths, strict=True)):
        if at:
            step = dump_history.steps[at - 1]
            first = step.elapsed.explanations[0]
            time = "unknown time" if first.elapsed_s is None else say_span(first.elapsed_s)
            sheet.add(
                "",
                f"  {time} later, {how_likely(first.weight).lower()} {first.cause}{_rate(step.drift)}",
            )
        stamp_s = save.clock_block.usable_unix_s
        when = "no usable stamp" if stamp_s is None else say_instant(stamp_s)
        codes = ", ".join(
            dict.fromkeys(f.code for f in dump_history.findings[at] if f.severity != "note")
        )
        said = f"{save.clock_block.running.reading()}, {when}" + (f"; {codes}" if codes else "")
        sheet.add(os.path.basename(path), said)


def _rate(drift: DriftEstimate | None) -> str:
    if drift is None or drift.rate_ppm is None or drift.bound_ppm is None:
        return ""
    return f"; so far {drift.rate_ppm:+.1f} ppm ± {drift.bound_ppm:.1f}"


def _json(dump_history: History, paths: Sequence[str]) -> dict[str, Any]:
    return {
        "path": paths[0],
        "saves": [
            _save_json(save, path) for save, path in zip(dump_history.saves, paths, strict=True)
        ],
        "steps": [value_json(step) for step in dump_history.steps],
        "drift": None if dump_history.drift is None else value_json(dump_history.drift),
        "findings": [findings_json(findings) for findings in dump_history.findings],
        "is_mixed": dump_history.is_mixed,
        "problems": list(dump_history.problems),
    }


def _save_json(save: SaveFile, path: str) -> dict[str, Any]:
    block = save.clock_block
    return {
        "path": path,
        "reading": block.running.reading(),
        "saved_at": rfc3339(block.usable_unix_s),
    }
