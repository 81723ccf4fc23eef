"""`repair`: plan, repair, keep a backup."""

from __future__ import annotations

import argparse
import os
from collections.abc import Iterable
from typing import Any

from rtcsave.cli.codes import DONE, FOUND
from rtcsave.cli.console import Sheet, complain
from rtcsave.cli.given import WritingOptions
from rtcsave.cli.parsing import add_writing, one_of
from rtcsave.cli.paths import expand
from rtcsave.cli.programs import add_program, program_header
from rtcsave.cli.session import Session
from rtcsave.cli.words import add_finding_lines, findings_json, value_json
from rtcsave.cli.writing import (
    add_change_lines,
    changes_json,
    finish_save,
    not_written,
    refuse_contradictions,
)
from rtcsave.errors import BadArgument, FileFault, number_of
from rtcsave.findings import Finding, check, examine
from rtcsave.header import Header
from rtcsave.repair import RepairPlan, Step, plan_repair
from rtcsave.savefile import SaveFile

EXAMPLES = """\
The default plan repairs only what is certain and never touches the game's
memory. What only you can know (when the save was written) it asks for. 'check'
says what was found, 'check --list' all codes.

For many files, let a plan be written first. Look at it; remove lines of files,
or steps of a line, that you do not want. Then have just that done. It can be
stopped at any time and done again; 'restore --journal' takes it all back.

exit code: 0 done, 1 a warning or an error remains, 3 not readable as a save, 4
refused

examples:
  rtcsave repair game.sav --dry-run
  rtcsave repair game.sav --saved-at 2026-03-10T14:15:00Z
  rtcsave repair game.sav --only register-stray-bits
  rtcsave repair game.sav --past-range zero -o repaired.sav
  rtcsave repair shelf --plan plan.jsonl
  rtcsave repair --apply plan.jsonl
"""


class Options(WritingOptions):
    """The command's own options, as they were typed."""

    files: list[str]
    also: list[str] | None
    only: list[str] | None
    skip: list[str] | None
    saved_at: str | None
    past_range: str
    program: str | None
    plan: str | None
    apply: str | None


def arguments(parser: argparse.ArgumentParser) -> None:
    """The command's own arguments."""
    parser.add_argument(
        "files",
        nargs="*",
        metavar="FILE",
        help="any file, or - for standard input; with --plan folders too",
    )
    for name, what in (
        ("--also", "repair this too, which only runs when named"),
        ("--only", "repair this and nothing else"),
        ("--skip", "leave this as it is"),
    ):
        parser.add_argument(name, metavar="CODE", action="append", help=f"{what} (repeatable)")
    parser.add_argument(
        "--saved-at",
        metavar="INSTANT",
        help="when the save was written, or file-time for the file's own time",
    )
    parser.add_argument(
        "--past-range",
        type=one_of("as-time", "zero"),
        default="as-time",
        metavar="HOW",
        help="a register out of range becomes the time that it says (as-time, the default), or "
        "zero, as the chip itself would make it",
    )
    add_program(parser)
    many = parser.add_argument_group("many files, reviewably")
    many.add_argument(
        "--plan", metavar="PLAN.jsonl", help="only write what would be done; a line a file"
    )
    many.add_argument("--apply", metavar="PLAN.jsonl", help="do exactly what such a plan says")
    add_writing(parser)


def run(session: Session[Options]) -> int:
    """Repair every file, or make or carry out a plan for many."""
    args = session.args
    if args.plan is not None or args.apply is not None:
        return _many(session)
    if not args.files:
        raise BadArgument("no file was named", remedy="name one, or a plan with --apply")
    files = expand(args.files)
    for folder in filter(os.path.isdir, files):
        raise BadArgument(
            "a folder is repaired by a plan",
            found=folder,
            remedy="write one (--plan PLAN.jsonl), look at it, then --apply PLAN.jsonl",
        )
    refuse_contradictions(session, files)
    header = program_header(session.args.program)
    return session.each(files, lambda path: _work(session, path, header))


def _many(session: Session[Options]) -> int:
    """A plan for many files: made, or carried out."""
    from rtcsave.cli.batches import apply_plan, make_plan

    args = session.args
    if args.only or args.saved_at or args.program or args.output or args.no_backup or args.keep:
        raise BadArgument("--plan and --apply go with --also, --skip and --past-range only")
    if args.apply is not None:
        if args.files or args.plan or args.also or args.skip or args.dry_run:
            raise BadArgument("--apply goes alone: the plan says what is done")
        return apply_plan(session, args.apply)
    assert args.plan is not None
    if not args.files:
        raise BadArgument("no folder was named")
    return make_plan(
        session, expand(args.files), args.plan, args.also or (), args.skip or (), args.past_range
    )


def _work(session: Session[Options], path: str, header: Header | None) -> int:
    args = session.args
    also, only, skip = args.also or (), args.only, args.skip or ()
    data, origin = session.read(path)
    seen = examine(data, session.layout, session.also_layouts, header, origin, session.now_s)
    if seen.refusal is not None and not seen.findings:
        raise seen.refusal
    saved_at_s = session.saved_at_of(args.saved_at, origin, path)
    plan = plan_repair(seen, header, session.now_s, saved_at_s, args.past_range)
    steps = plan.chosen(also=also, only=only, skip=skip)
    repaired: SaveFile | None = None
    try:
        repaired = plan.apply(also=also, only=only, skip=skip)
    except FileFault as error:  # no save yet: the plan still says what would make it one
        complain(f"rtcsave: {path}: {error.what}; nothing was written")
    left, rest = seen.findings, plan
    if repaired is not None:  # what is still to be offered once these steps are taken
        left = check(repaired, header, session.now_s)
        rest = plan_repair(repaired, header, session.now_s, saved_at_s, args.past_range)
    sheet = Sheet(f"{path}: {number_of(len(steps), 'step')}")
    _add_plan(sheet, steps, rest, left)
    if "wrapped-compressed" in {step.code for step in steps} and args.output is None:
        sheet.add("mind", "the file keeps its name; -o NAME gives the save another", "note")
    answers: dict[str, Any] = {
        "path": path,
        "steps": _steps_json(steps),
        "offered": _steps_json(rest.offered),
        "needs": value_json(rest.needs),
        "findings": findings_json(left),
    }
    if repaired is None:
        session.console.sheet(sheet)
        session.console.object({**answers, **not_written(args.dry_run)})
        return FOUND
    finish_save(session, path, data, repaired, sheet, answers, quiet_diff=True)
    return FOUND if any(finding.severity != "note" for finding in left) else DONE


def _add_plan(
    sheet: Sheet, steps: Iterable[Step], rest: RepairPlan, left: Iterable[Finding]
) -> None:
    """The steps with their bytes, what is needed or offered beside them, and what remains."""
    for number, step in enumerate(steps, 1):
        sheet.add(f"step {number}", f"{step.code}: {step.reason}", "title")
        add_change_lines(sheet, step.changes, label="")
    for need in rest.needs:
        sheet.add("needs", f"{need.code}: {need.reason}; give --saved-at INSTANT", "warning")
    for step in rest.offered:
        sheet.add("offered", f"--also {step.code}: {step.reason}")
    if left:
        add_finding_lines(sheet, left, remedies=True)


def _steps_json(steps: Iterable[Step]) -> list[dict[str, Any]]:
    return [
        {"code": step.code, "reason": step.reason, "changes": changes_json(step.changes)}
        for step in steps
    ]
