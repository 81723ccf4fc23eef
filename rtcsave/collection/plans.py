"""A plan to repair many files, as data that a person can read and cut down, and nothing else.

A file of lines of JSON: a header, then a line a file. Lines may be removed, and steps may be struck from a
line. Every line and every step bears a seal, so that any other change is noticed and refused.
"""

from __future__ import annotations

import hashlib
import json
import os
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from typing import Any, Final

from rtcsave.collection.surveying import survey
from rtcsave.differences import ByteChange
from rtcsave.errors import BadDescription, FileFault, RtcSaveError, shown
from rtcsave.findings import Examination, Finding, examine
from rtcsave.layouts import Layout, check_layouts
from rtcsave.repair import plan_repair
from rtcsave.storage.attributes import what_is_lost
from rtcsave.storage.reading import read
from rtcsave.units import VERSION
from rtcsave.when import Instant, now_or

FORMAT: Final = 1
HEADER: Final = "rtcsave_plan"


@dataclass(frozen=True, slots=True, kw_only=True)
class PlannedStep:
    """One step of one file: the finding that it repairs, why, and the bytes that it changes."""

    code: str
    """The finding that it repairs."""
    reason: str
    """What was found, in words."""
    changes: tuple[ByteChange, ...]
    """The bytes that change."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PlannedFile:
    """What is to be done to one file, and what is left of it for a person."""

    path: str
    """The whole path."""
    digest: str
    """The SHA-256 digest of the file as it was looked at."""
    steps: tuple[PlannedStep, ...]
    """The steps, in order; none where only a person can help."""
    left: tuple[str, ...]
    """What is left after them, in words: the finding, and what helps."""


@dataclass(frozen=True, slots=True, kw_only=True, repr=False)
class BatchPlan:
    """The plan for many files: for which present it was made, what was named, and each file."""

    now_s: int
    """The Unix second that the stamps were judged by."""
    also: tuple[str, ...] = ()
    """The findings that were named to be repaired too."""
    skip: tuple[str, ...] = ()
    """The findings that were named to be left."""
    past_range: str = "as-time"
    """What becomes of a register out of range, as for `plan_repair`."""
    files: tuple[PlannedFile, ...]
    """The files in which there is something to do or to say."""
    looked_at: int = field(default=0, compare=False)
    """How many saves were looked at, healthy ones too."""

    def __repr__(self) -> str:
        with_steps = sum(bool(planned.steps) for planned in self.files)
        return f"<BatchPlan: {with_steps} files to repair, of {self.looked_at} looked at>"


def plan_batch(
    paths: Any,
    *,
    layouts: Iterable[Layout] = (),
    now: Instant | None = None,
    also: Iterable[str] = (),
    skip: Iterable[str] = (),
    past_range: str = "as-time",
    follow: bool = False,
    pattern: str | None = None,
    executor: Any = None,
) -> BatchPlan:
    """What `plan_repair` would do to every save in some files and folders; nothing is written.

    Paths, `layouts`, `follow`, `pattern` and `executor` are as for `survey`; `also`, `skip` and
    `past_range` as for `plan_repair`. Healthy saves are only counted. `BadArgument` for a wrong call.
    """
    now_s, known = now_or(now), check_layouts(layouts)
    plan = BatchPlan(
        now_s=now_s, also=tuple(also), skip=tuple(skip), past_range=past_range, files=()
    )
    looked_at, files = 0, []
    rows = survey(
        paths,
        layouts=known,
        now=now_s,
        follow=follow,
        pattern=pattern,
        executor=executor,
        ordered=True,
    )
    for row in rows:
        looked_at += 1
        if row.findings or row.error is not None:
            files.append(_planned(row.path, row.error, plan, known))
    return replace(plan, files=tuple(files), looked_at=looked_at)


def _planned(
    path: str, error: str | None, plan: BatchPlan, layouts: tuple[Layout, ...]
) -> PlannedFile:
    """What is to be done to one file that is not healthy."""
    try:
        data, origin = read(path)
        seen = examine(data, None, layouts, origin=origin, now=plan.now_s)
        steps, left = steps_of(seen, plan)
        lost = what_is_lost(path, os.stat(path)) if steps else ()
    except (RtcSaveError, OSError) as failed:
        return PlannedFile(path=path, digest="", steps=(), left=(error or str(failed),))
    return PlannedFile(
        path=origin.path,
        digest=origin.digest,
        steps=steps,
        left=(
            *(f"{finding.code}: {finding.remedy}" for finding in left),
            *(f"mind: {words}" for words in lost),
        ),
    )


def steps_of(
    seen: Examination, plan: BatchPlan, only: tuple[str, ...] | None = None
) -> tuple[tuple[PlannedStep, ...], tuple[Finding, ...]]:
    """The steps for one file, and what is found after them; with `only` just those."""
    repair = plan_repair(seen, now=plan.now_s, past_range=plan.past_range)
    chosen = {"also": plan.also, "skip": plan.skip} if only is None else {"only": only}
    steps = tuple(
        PlannedStep(code=step.code, reason=step.reason, changes=step.changes)
        for step in repair.chosen(**chosen)
    )
    try:
        repaired = repair.apply(**chosen)
    except FileFault:
        return steps, seen.findings
    after = examine(
        repaired.memory + (b"" if repaired.block is None else repaired.block.raw),
        None,
        seen.also_layouts,
        now=plan.now_s,
    )
    return steps, after.findings


def plan_lines(plan: BatchPlan) -> Iterator[str]:
    """The plan as lines of JSON: the header, then a line a file."""
    head = _head(plan)
    yield json.dumps({**head, "seal": _seal(head)})
    for planned in plan.files:
        file_line = {"path": planned.path, "digest": planned.digest, "left": list(planned.left)}
        steps = [_step_json(step) for step in planned.steps]
        sealed = [{**step, "seal": _seal(head, file_line, step)} for step in steps]
        yield json.dumps({**file_line, "steps": sealed, "seal": _seal(head, file_line)})


def _head(plan: BatchPlan) -> dict[str, Any]:
    return {
        HEADER: FORMAT,
        "version": VERSION,
        "now": plan.now_s,
        "also": list(plan.also),
        "skip": list(plan.skip),
        "past_range": plan.past_range,
        "looked_at": plan.looked_at,
    }


def _step_json(step: PlannedStep) -> dict[str, Any]:
    changes = [
        {"offset": c.offset, "old": c.old.hex(), "new": c.new.hex(), "field": c.field}
        for c in step.changes
    ]
    return {"code": step.code, "reason": step.reason, "changes": changes}


def _seal(*parts: Mapping[str, Any]) -> str:
    """A short digest over some values: it shows that nothing in them was changed."""
    text = json.dumps(parts, sort_keys=True)
    return hashlib.sha256(text.encode()).hexdigest()[:16]


def parse_plan(text: str, path: str = "") -> BatchPlan:
    """The plan in lines of JSON; `BadDescription` names the line in which something was changed."""
    lines = [(number, line) for number, line in enumerate(text.splitlines(), 1) if line.strip()]
    if not lines:
        raise BadDescription("the plan is empty", where=path)
    head = _object(*lines[0], path)
    seal = head.pop("seal", None)
    if head.get(HEADER) != FORMAT or seal != _seal(head):
        raise _changed(path, 1, "its header")
    files = tuple(
        _file(_object(number, line, path), head, path, number) for number, line in lines[1:]
    )
    paths = [planned.path for planned in files]
    if len(paths) != len(set(paths)):
        raise BadDescription("a file stands in two lines of the plan", where=path)
    return BatchPlan(
        now_s=head["now"],
        also=tuple(head["also"]),
        skip=tuple(head["skip"]),
        past_range=head["past_range"],
        files=files,
        looked_at=head["looked_at"],
    )


def _object(number: int, line: str, path: str) -> dict[str, Any]:
    try:
        value = json.loads(line)
    except (ValueError, RecursionError) as error:
        raise BadDescription(
            "a line of the plan is no JSON", where=f"{path}, line {number}", found=str(error)[:200]
        ) from None
    if not isinstance(value, dict):
        raise BadDescription(
            "a line of the plan is no object", where=f"{path}, line {number}", found=shown(value)
        )
    return value


def _file(line: dict[str, Any], head: dict[str, Any], path: str, number: int) -> PlannedFile:
    seal, steps = line.pop("seal", None), line.pop("steps", None)
    if seal != _seal(head, line) or not isinstance(steps, list):
        raise _changed(path, number, "more than lines and steps that were removed")
    kept = []
    for step in steps:
        if not isinstance(step, dict) or step.pop("seal", None) != _seal(head, line, step):
            raise _changed(path, number, "a step")
        changes = tuple(
            ByteChange(
                offset=c["offset"],
                old=bytes.fromhex(c["old"]),
                new=bytes.fromhex(c["new"]),
                field=c["field"],
            )
            for c in step["changes"]
        )
        kept.append(PlannedStep(code=step["code"], reason=step["reason"], changes=changes))
    return PlannedFile(
        path=line["path"], digest=line["digest"], steps=tuple(kept), left=tuple(line["left"])
    )


def _changed(path: str, number: int, what: str) -> BadDescription:
    return BadDescription(
        "the plan was changed",
        where=f"{path}, line {number}",
        found=what,
        expected="lines removed, or steps struck from a line, and nothing else",
        remedy="make the plan anew",
    )
