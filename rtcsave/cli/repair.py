"""`repair`: plan, mend, keep a backup."""

from __future__ import annotations

import argparse
from collections.abc import Iterable
from typing import Any

from rtcsave.cli.console import Sheet, complain
from rtcsave.cli.parsing import add_writing, one_of
from rtcsave.cli.programs import add_program, program_header
from rtcsave.cli.session import DONE, FOUND, Session
from rtcsave.cli.words import add_finding_lines, findings_json
from rtcsave.cli.writing import add_change_lines, changes_json, finish_save, refuse_contradictions
from rtcsave.errors import FileFault, number_of
from rtcsave.findings import Examination, check, examine
from rtcsave.repair import RepairPlan, Step, plan_repair
from rtcsave.savefile import SaveFile

ABOUT = "mend what is certain, keep a backup; more when it is named"
EXAMPLES = """\
The default plan mends only what is certain and never touches the game's
memory. What only you can know (when the save was written) it asks for. 'check'
says what was found, 'check --list' all codes.

exit code: 0 nothing is left, 1 findings remain, 3 not readable as a save, 4
refused

examples:
  rtcsave repair game.sav --dry-run
  rtcsave repair game.sav --saved-at 2026-03-10T14:15:00Z
  rtcsave repair game.sav --only register-stray-bits
  rtcsave repair game.sav --past-range zero -o mended.sav
"""


def arguments(parser: argparse.ArgumentParser) -> None:
    """The command's own arguments."""
    parser.add_argument(
        "files", nargs="+", metavar="FILE", help="any file, or - for standard input"
    )
    for name, what in (
        ("--also", "mend this too, which only runs when named"),
        ("--only", "mend this and nothing else"),
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
        help="a register past its range becomes the time that it says (as-time, the default), or "
        "zero, as the chip itself would make it",
    )
    add_program(parser)
    add_writing(parser)


def run(session: Session) -> int:
    """Mend every file."""
    args = session.args
    files = session.files
    refuse_contradictions(session, files)
    chosen = {"also": args.also or (), "only": args.only, "skip": args.skip or ()}

    header = program_header(session)

    def work(path: str) -> int:
        data, origin = session.read(path)
        seen = examine(data, session.layout, session.also_layouts, header, origin, session.now_s)
        if seen.refusal is not None and not seen.findings:
            raise seen.refusal
        saved_at_s = session.saved_at_of(origin, path)

        def plan_for(what: SaveFile | Examination) -> RepairPlan:
            return plan_repair(what, header, session.now_s, saved_at_s, args.past_range)

        plan = plan_for(seen)
        steps = plan.chosen(**chosen)
        mended: SaveFile | None = None
        try:
            mended = plan.apply(**chosen)
        except FileFault as error:  # no save yet: the plan still says what would make it one
            complain(f"rtcsave: {path}: {error.what}; nothing was written")
        left = seen.findings if mended is None else check(mended, header, session.now_s)
        sheet = Sheet(f"{path}: {number_of(len(steps), 'step')}")
        _add_steps(sheet, steps)
        offered, needs = plan.offered, plan.needs
        if mended is not None:  # what is still to be offered once these steps are taken
            rest = plan_for(mended)
            offered, needs = rest.offered, rest.needs
        for need in needs:
            sheet.add("needs", f"{need.code}: {need.reason}; say --saved-at INSTANT", "warning")
        for step in offered:
            sheet.add("offered", f"--also {step.code}: {step.reason}")
        if left:
            add_finding_lines(sheet, left, remedies=True)
        told: dict[str, Any] = {
            "path": path,
            "steps": _steps_json(steps),
            "offered": _steps_json(offered),
            "needs": [
                {"code": need.code, "what": need.what, "reason": need.reason} for need in needs
            ],
            "findings": findings_json(left),
        }
        if "wrapped-compressed" in {step.code for step in steps} and args.output is None:
            sheet.add("mind", "the file keeps its name; -o NAME gives the save another", "note")
        if mended is None:
            session.console.sheet(sheet)
            session.console.object(
                told
                | {
                    "changes": [],
                    "dry_run": args.dry_run,
                    "written": False,
                    "output": None,
                    "backup": None,
                }
            )
            return FOUND
        finish_save(session, path, data, mended, sheet, told, quiet_diff=True)
        return FOUND if left else DONE

    return session.each(files, work)


def _add_steps(sheet: Sheet, steps: Iterable[Step]) -> None:
    for number, step in enumerate(steps, 1):
        sheet.add(f"step {number}", f"{step.code}: {step.reason}", "title")
        add_change_lines(sheet, step.changes, label="")


def _steps_json(steps: Iterable[Step]) -> list[dict[str, Any]]:
    return [
        {"code": step.code, "reason": step.reason, "changes": changes_json(step.changes)}
        for step in steps
    ]
