"""`drift`: the rate of a crystal in ppm, with its bound."""

from __future__ import annotations

import argparse
import os
from collections.abc import Sequence
from itertools import pairwise
from typing import Any

from rtcsave.cli.codes import DONE
from rtcsave.cli.console import Sheet
from rtcsave.cli.given import CommonOptions
from rtcsave.cli.parsing import typed
from rtcsave.cli.paths import expand
from rtcsave.cli.session import Session
from rtcsave.cli.words import value_json
from rtcsave.cli.writing import refuse_own_input
from rtcsave.drift import (
    DriftEstimate,
    DriftSegment,
    Observation,
    fit_drift,
)
from rtcsave.drift.judging import (
    explain,
    judge_rate,
    minutes_a_year,
    seconds_a_day,
    temperature_shift_ppm,
)
from rtcsave.elapsed_time import refuse_different_memory
from rtcsave.errors import BadArgument, number_of
from rtcsave.savefile import SaveFile
from rtcsave.storage.writing import write
from rtcsave.when import parse_duration, say_instant, say_span

EXAMPLES = """\
Positive = the cartridge clock runs fast. Two dumps suffice: a month between
them gives a few ppm, a year a third of one. The bound is certain if every
instant is the second at which the clock was read, give or take the slack, and
nobody set the clock. A setting smaller than about 10 s is not seen.

A drift means something only for dumps of the cartridge itself: a save that an
emulator advanced carries the rate of its host.

A log is CSV, a line an observation: an instant, and what the clock read
(12d03:04:05, 13:52, 13:52:07). A column named slack says how far off an
instant may be (2s, 1m).

examples:
  rtcsave drift spring.sav summer.sav autumn.sav
  rtcsave drift --log observations.csv --temperature 12
  rtcsave drift --log observations.csv --plot drift.png
"""

_ONLY_DUMPS = (
    "only dumps of the cartridge itself tell its rate; a save that an emulator advanced carries "
    "the rate of its host"
)


FONTS = "the first one looks for your fonts, and keeps a list of them in your cache"


class Options(CommonOptions):
    """The command's own options, as they were typed."""

    files: list[str]
    log: str | None
    plot: str | None
    overwrite: bool
    temperature: float | None
    slack: int | None
    different_memory: bool


def arguments(parser: argparse.ArgumentParser) -> None:
    """The command's own arguments."""
    parser.add_argument("files", nargs="*", metavar="FILE", help="saves of one cartridge")
    parser.add_argument("--log", metavar="FILE.csv", help="a log of observations")
    parser.add_argument(
        "--plot",
        metavar="FILE",
        help=f"draw it: a name ending in .png or .svg; {FONTS}",
    )
    parser.add_argument("--overwrite", action="store_true", help="the picture may exist already")
    parser.add_argument(
        "--temperature", metavar="C", type=typed(float), help="degrees Celsius it was kept at"
    )
    parser.add_argument(
        "--slack",
        metavar="DURATION",
        type=typed(parse_duration),
        help="how far off each instant may be either way (1s for a log, 5s for a save)",
    )
    parser.add_argument(
        "--different-memory",
        action="store_true",
        help="fit saves whose memory has nothing in common",
    )


def run(session: Session[Options]) -> int:
    """Fit one rate to everything that was named."""
    args = session.args
    files = expand(session.args.files)
    if not files and args.log is None:
        raise BadArgument("nothing to fit", remedy="name saves, or --log FILE.csv")
    label = args.log if args.log is not None else files[-1]
    if args.plot is not None:
        picture_kind(args.plot)
        refuse_own_input(args.plot, [*files, *([args.log] if args.log is not None else [])])

    def work() -> int:
        saves = [session.load(path) for path in files]
        if not args.different_memory:
            _refuse_different_memory(files, saves)
        seen: list[Observation | SaveFile] = [*saves]
        if args.log is not None:
            seen.extend(session.observations(args.log))
        estimate = fit_drift(seen, slack_s=args.slack)
        sheet = Sheet(f"{label}: {len(seen)} observations")
        _tell(sheet, estimate, args.temperature)
        answers: dict[str, Any] = {"path": label, **value_json(estimate)}
        answers["segments"] = [
            {**value_json(segment), "n_samples": segment.n_samples, "span_s": segment.span_s}
            for segment in estimate.segments
        ]
        if args.plot is not None:
            draw(estimate, args.plot, args.overwrite)
            sheet.add("picture", args.plot, "good")
            answers["plot"] = args.plot
        session.console.sheet(sheet)
        session.console.object(answers)
        return DONE

    return session.guarded(label, work, files)


def picture_kind(path: str) -> str:
    """The kind of picture that a file's name asks for; an unknown kind is refused."""
    kind = os.path.splitext(path)[1][1:].lower()
    if kind not in ("png", "svg"):
        raise BadArgument("a picture is a .png or an .svg", found=path)
    return kind


def draw(estimate: DriftEstimate, path: str, overwrite: bool) -> None:
    """Write the picture of an estimate."""
    from rtcsave.report.drift_plot import draw_drift

    write(draw_drift(estimate, _title(estimate), picture_kind(path)), path, overwrite=overwrite)


def _refuse_different_memory(paths: Sequence[str], saves: Sequence[SaveFile]) -> None:
    """Refuse saves of which one has nothing in common with the one before it."""

    def written_s(pair: tuple[str, SaveFile]) -> int:
        block = pair[1].block
        return 0 if block is None or block.usable_unix_s is None else block.usable_unix_s

    for (_, before), (path, after) in pairwise(
        sorted(zip(paths, saves, strict=True), key=written_s)
    ):
        refuse_different_memory(before.memory, after.memory, path)


def _title(estimate: DriftEstimate) -> str:
    if estimate.rate_ppm is None or estimate.bound_ppm is None:
        return "rate not bounded"
    return f"{estimate.rate_ppm:+.2f} ppm ± {estimate.bound_ppm:.2f} (positive: runs fast)"


def _tell(sheet: Sheet, estimate: DriftEstimate, celsius: float | None) -> None:
    sheet.add("rate", explain(estimate))
    if estimate.rate_ppm is not None:
        day_s, year_min = seconds_a_day(estimate.rate_ppm), minutes_a_year(estimate.rate_ppm)
        sheet.add("that is", f"{day_s:+.3f} s a day, {year_min:+.2f} min a year")
        sheet.add("judged", judge_rate(estimate.rate_ppm))
    sheet.add("span", f"{say_span(estimate.span_s)}, {estimate.n_samples} observations")
    if celsius is not None:
        typical, most, least = temperature_shift_ppm(celsius)
        sheet.add(
            "temperature",
            f"at {celsius:g} °C a clock crystal shifts by {typical:+.1f} ppm "
            f"({most:+.1f} to {least:+.1f})",
        )
    if len(estimate.segments) > 1:
        for at, segment in enumerate(estimate.segments):
            sheet.add("" if at else "segments", _segment(segment))
        sheet.add(
            "", "the clock was set or stopped between them; the rate is what all of them allow"
        )
    for segment in estimate.segments:
        for instant in segment.outliers:
            sheet.add("outlier", f"the observation at {say_instant(instant)}", "warning")
    sheet.add("mind", _ONLY_DUMPS, "dim")


def _segment(segment: DriftSegment) -> str:
    where = f"{say_instant(segment.first_unix_s)} to {say_instant(segment.last_unix_s)}"
    if segment.rate_ppm is None or segment.low_ppm is None or segment.high_ppm is None:
        return f"{where}: {number_of(segment.n_samples, 'observation')}, no rate"
    return (
        f"{where}: {segment.rate_ppm:+.3f} ppm ({segment.low_ppm:+.3f} to {segment.high_ppm:+.3f})"
    )
