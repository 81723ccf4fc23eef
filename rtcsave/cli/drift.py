"""`drift`: the rate of a crystal in ppm, with its bound."""

from __future__ import annotations

import argparse
import os
from dataclasses import dataclass

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
    observe,
)
from rtcsave.drift.judging import (
    explain,
    judge_rate,
    minutes_a_year,
    seconds_a_day,
    temperature_shift_ppm,
)
from rtcsave.errors import BadArgument, number_of
from rtcsave.storage.writing import write
from rtcsave.when import say_instant, say_span

EXAMPLES = """\
Positive = the cartridge clock runs fast. Two dumps suffice: where nothing but
truncation blurs them, the bound is certain; a year between them gives a few
hundredths of a ppm. A drift means something only for dumps of the cartridge
itself: a save that a program counted on from the host's clock carries the
host's rate.

A log is CSV, a line an observation: an instant, and what the clock read
(12d03:04:05, 13:52, 13:52:07).

examples:
  rtcsave drift spring.sav summer.sav autumn.sav
  rtcsave drift --log observations.csv --temperature 12
  rtcsave drift --log observations.csv --plot drift.png
"""

_ONLY_DUMPS = (
    "only dumps of the cartridge itself tell its rate; a save that a program counted on carries "
    "the rate of its host"
)


@dataclass(frozen=True, kw_only=True)
class Options(CommonOptions):
    """The command's own options, as they were typed."""

    files: list[str]
    log: str | None
    plot: str | None
    overwrite: bool
    temperature: float | None


def arguments(parser: argparse.ArgumentParser) -> None:
    """The command's own arguments."""
    parser.add_argument("files", nargs="*", metavar="FILE", help="saves of one cartridge")
    parser.add_argument("--log", metavar="FILE.csv", help="a log of observations")
    parser.add_argument("--plot", metavar="FILE", help="draw it: a name ending in .png or .svg")
    parser.add_argument("--overwrite", action="store_true", help="the picture may exist already")
    parser.add_argument(
        "--temperature", metavar="C", type=typed(float), help="degrees Celsius it was kept at"
    )


def run(session: Session[Options]) -> int:
    """Fit one rate to everything that was named."""
    args = session.args
    files = expand(session.args.files)
    if not files and args.log is None:
        raise BadArgument("nothing to fit", remedy="name saves, or --log FILE.csv")
    label = args.log if args.log is not None else files[-1]
    if args.plot is not None and os.path.splitext(args.plot)[1].lower() not in (".png", ".svg"):
        raise BadArgument("a picture is a .png or an .svg", found=args.plot)

    if args.plot is not None:
        refuse_own_input(args.plot, [*files, *([args.log] if args.log is not None else [])])

    def work() -> int:
        seen: list[Observation] = []
        for path in files:
            seen.append(observe(session.load(path)))
        if args.log is not None:
            seen.extend(session.observations(args.log))
        estimate = fit_drift(seen)
        sheet = Sheet(f"{label}: {len(seen)} observations")
        _tell(sheet, estimate, args.temperature)
        told = {"path": label, **value_json(estimate)}
        for one, segment in zip(told["segments"], estimate.segments, strict=True):
            one |= {"n_samples": segment.n_samples, "span_s": segment.span_s}
        if args.plot is not None:
            from rtcsave.report.drift_plot import draw_drift

            kind = os.path.splitext(args.plot)[1][1:].lower()
            picture = draw_drift(estimate, _title(estimate), kind)
            write(picture, args.plot, overwrite=args.overwrite)
            sheet.add("picture", args.plot, "good")
            told["plot"] = args.plot
        session.console.sheet(sheet)
        session.console.object(told)
        return DONE

    return session.guarded(label, work, files)


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
        for at, one in enumerate(estimate.segments):
            sheet.add("" if at else "segments", _segment(one))
        sheet.add("", "between them the clock was set, or stood still; the rate is the longest's")
    for one in estimate.segments:
        for instant in one.outliers:
            sheet.add("outlier", f"the observation at {say_instant(instant)}", "warning")
    sheet.add("mind", _ONLY_DUMPS, "dim")


def _segment(one: DriftSegment) -> str:
    where = f"{say_instant(one.first_unix_s)} to {say_instant(one.last_unix_s)}"
    if one.rate_ppm is None or one.low_ppm is None or one.high_ppm is None:
        return f"{where}: {number_of(one.n_samples, 'observation')}, no rate"
    return f"{where}: {one.rate_ppm:+.3f} ppm ({one.low_ppm:+.3f} to {one.high_ppm:+.3f})"
