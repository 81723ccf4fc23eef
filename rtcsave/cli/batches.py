"""A plan for many files on the command line: made, carried out, taken back; said in numbers."""

from __future__ import annotations

import os
import sys
from collections import Counter
from collections.abc import Iterable
from dataclasses import replace
from typing import Any, Final

from rtcsave.cli.codes import DONE, FAILED, REFUSED
from rtcsave.cli.console import Sheet, complain
from rtcsave.cli.options import in_options
from rtcsave.cli.session import Session
from rtcsave.cli.words import value_json
from rtcsave.collection.batch import BatchResult, apply_batch, undo_batch
from rtcsave.collection.plans import BatchPlan, parse_plan, plan_batch, plan_lines
from rtcsave.errors import BadArgument, Refused, number_of
from rtcsave.storage.reading import decode, read_bytes
from rtcsave.storage.writing import write
from rtcsave.units import LARGEST_FILE_BYTES

LARGEST_PLAN: Final = 1_024 * LARGEST_FILE_BYTES


def journal_of(plan: str) -> str:
    """The journal beside a plan: `shelf.jsonl` has `shelf.journal.jsonl`."""
    stem = plan.removesuffix(".jsonl")
    return f"{stem}.journal.jsonl"


def make_plan(
    session: Session[Any], paths: Iterable[str], target: str, also: Iterable[str],
    skip: Iterable[str], past_range: str,
) -> int:  # fmt: skip
    """Write what would be done to many files, and say it in numbers."""
    if os.path.lexists(journal_of(target)):
        raise Refused(
            "a plan of that name was carried out",
            where=journal_of(target),
            remedy="name another, so that the journal stays with its own plan",
        )
    plan = plan_batch(
        list(paths),
        layouts=session.known_layouts,
        now=session.now_s,
        also=also,
        skip=skip,
        past_range=past_range,
    )
    if not plan.looked_at:
        raise BadArgument("no save was found", remedy="check the folder")
    in_words = (replace(file, left=tuple(map(in_options, file.left))) for file in plan.files)
    plan = replace(plan, files=tuple(in_words))
    text = "".join(f"{line}\n" for line in plan_lines(plan))
    write(text.encode(), target, backup=False, overwrite=session.args.overwrite)
    _say_plan(session, target, plan)
    return DONE


def _say_plan(session: Session[Any], target: str, plan: BatchPlan) -> None:
    """A plan in numbers: what would be done, what is left for a person, and what comes next."""
    with_steps = [planned for planned in plan.files if planned.steps]
    for_a_person = [planned for planned in plan.files if planned.left]
    sheet = Sheet(f"{target}: a plan; nothing else was written")
    sheet.add("looked at", number_of(plan.looked_at, "save"))
    sheet.add("healthy", number_of(plan.looked_at - len(plan.files), "save"))
    for label, codes in (
        ("step", Counter(step.code for planned in with_steps for step in planned.steps)),
        (
            "left",
            Counter(left.partition(":")[0] for planned in for_a_person for left in planned.left),
        ),
    ):
        for at, (code, count) in enumerate(sorted(codes.items())):
            sheet.add(label if not at else "", f"{code}: {number_of(count, 'file')}")
    sheet.add("to repair", number_of(len(with_steps), "file"))
    sheet.add(
        "next", f"look at it, remove what you do not want, then: rtcsave repair --apply {target}"
    )
    session.console.sheet(sheet)
    session.console.object(
        {
            "path": target,
            "looked_at": plan.looked_at,
            "to_repair": len(with_steps),
            "for_a_person": len(for_a_person),
        }
    )


def apply_plan(session: Session[Any], path: str) -> int:
    """Carry out a plan, and print the numbers of its outcomes."""
    text = decode(read_bytes(path, LARGEST_PLAN)[0], path)
    plan: BatchPlan = parse_plan(text, path)
    journal = journal_of(path)
    try:
        result = apply_batch(plan, journal, layouts=session.known_layouts)
    except KeyboardInterrupt:
        complain(
            f"{path}: run it again to go on, or 'rtcsave restore --journal {journal}' to go back"
        )
        raise
    return _say(session, path, result, f"restore --journal {journal}")


def take_back(session: Session[Any], journal: str) -> int:
    """Take a batch back, and print the numbers of its outcomes."""
    return _say(session, journal, undo_batch(journal), "")


_WORDS: Final = {
    "done": "done",
    "already": "done before",
    "nothing": "without a step",
    "refused": "refused",
    "failed": "failed",
}


def _say(session: Session[Any], path: str, result: BatchResult, undo: str) -> int:
    sys.stdout.flush()
    for file_outcome in result.outcomes:
        if file_outcome.words:
            complain(
                f"{file_outcome.path}: {file_outcome.outcome}: {in_options(file_outcome.words)}"
            )
        session.console.object(value_json(file_outcome))
    sheet = Sheet(path)
    for outcome, words in _WORDS.items():
        count = result.count(outcome)  # type: ignore[arg-type]  # a key of the table
        if count:
            sheet.add(words, number_of(count, "file"))
    if undo and result.count("done"):
        sheet.add("to go back", f"rtcsave {undo}")
    session.console.sheet(sheet)
    if result.count("failed"):
        return FAILED
    return REFUSED if result.count("refused") else DONE
