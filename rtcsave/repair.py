"""What was found, gathered into a plan of small steps; nothing is invented."""

from __future__ import annotations

import contextlib
from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from datetime import datetime
from typing import Final, NamedTuple

from rtcsave.differences import ByteChange, byte_changes
from rtcsave.errors import BadArgument, DoesNotFit, FileFault, shown
from rtcsave.findings import FAULTS, Examination, Fault, Finding, Scene, recognise
from rtcsave.findings.entry import PastRange
from rtcsave.findings.examination import applicable, check_header
from rtcsave.header import Header
from rtcsave.layouts import Place
from rtcsave.layouts.detection import largest_memory, mostly_fits
from rtcsave.savefile import Origin, SaveFile, dumps, loads
from rtcsave.stamps import EARLIEST_USABLE_S, LAST_DATE_S
from rtcsave.when import now_or, rfc3339, unix_seconds

_BY_CODE: Final = {fault.code: fault for fault in FAULTS}
_PAST_RANGE: Final = ("as-time", "zero")


class _Wanted(NamedTuple):
    """Which faults are to be mended: those that were named, and those that are certain."""

    also: frozenset[str]
    only: frozenset[str] | None
    skip: frozenset[str]

    def named(self, fault: Fault) -> bool:
        """Whether the caller asked for this fault by its code."""
        return fault.code in (self.also if self.only is None else self.only)

    def __call__(self, fault: Fault, scene: Scene) -> bool:
        if fault.code in self.skip:
            return False
        return self.named(fault) or (self.only is None and fault.certain(scene))


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One step of a plan: the fault it mends, why, and exactly which bytes it changes."""

    code: str
    reason: str
    changes: tuple[ByteChange, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Need:
    """What a plan cannot know and only the user can say, for which finding, and how to say it."""

    code: str
    what: str
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class RepairPlan:
    """The steps that mend a save.

    `steps` are those of the default plan, in order; `offered` those that run only when named;
    `needs` is what the user would have to say for more. Nothing happens until `apply`.
    """

    steps: tuple[Step, ...]
    offered: tuple[Step, ...]
    needs: tuple[Need, ...]
    _scene: Scene = field(repr=False)
    _refusal: FileFault | None = field(repr=False, compare=False)
    _origin: Origin | None = field(repr=False, compare=False)

    def chosen(
        self, also: Iterable[str] = (), only: Iterable[str] | None = None, skip: Iterable[str] = ()
    ) -> tuple[Step, ...]:
        """The steps that `apply` with the same words would take."""
        return _run(self._scene, _selection(also, only, skip))[0]

    def apply(
        self, also: Iterable[str] = (), only: Iterable[str] | None = None, skip: Iterable[str] = ()
    ) -> SaveFile:
        """The mended save: the default plan with the codes of `also` added and of `skip` left out,
        or the steps of `only` and no others. Applied to its own result it changes nothing more.

        Raises the error of `loads` where the bytes are no save even then, `BadArgument` for a
        code that is unknown or has no step. A step whose fault is not there is passed over.
        """
        save = _run(self._scene, _selection(also, only, skip))[1].save
        if save is not None:
            return replace(save, origin=self._origin)
        assert self._refusal is not None
        raise self._refusal


def plan_repair(
    save: SaveFile | Examination,
    header: Header | None = None,
    now: datetime | int | None = None,
    saved_at: datetime | int | None = None,
    past_range: PastRange | str = "as-time",
) -> RepairPlan:
    """The plan that mends a save, or what `examine` saw in any bytes.

    `saved_at` is when the save was written, if the user knows; `past_range` says whether a
    register past its range becomes the time that it says (`as-time`) or `zero`, as the chip
    would make it. `BadArgument` for anything else, and for an instant no save can have.
    """
    now_s = now_or(now)
    if past_range not in _PAST_RANGE:
        raise BadArgument(
            "past_range is unknown", found=shown(past_range), expected="'as-time' or 'zero'"
        )
    saved_at_s = None if saved_at is None else _usable(unix_seconds(saved_at, "saved_at"), now_s)
    if isinstance(save, Examination):
        held, data, refusal, origin = save.save, save.data, save.refusal, save.origin
        also, layout, is_read = save.also_layouts, save.layout, True
        if held is None and save.refusal is None:
            raise BadArgument("the examination holds neither a save nor the reason for that")
    elif isinstance(save, SaveFile):
        held, data, refusal, origin, also = save, dumps(save), None, save.origin, ()
        layout, is_read = None, False
    else:
        raise BadArgument("this is neither a save nor an examination", found=type(save).__name__)
    scene = Scene(
        data=data,
        save=held,
        now_s=now_s,
        header=check_header(header),
        also=also,
        layout=layout,
        is_read=is_read,
        saved_at_s=saved_at_s,
        past_range="zero" if past_range == "zero" else "as-time",
    )
    steps, after = _run(scene, _selection((), None, ()))
    taken = {step.code for step in steps}
    findings = recognise(after)
    offered: list[Step] = []
    needs: list[Need] = []
    for code in dict.fromkeys(finding.code for finding in findings):
        fault = _BY_CODE[code]
        if fault.mend is None or code in taken:
            continue
        alone = _run(after, _selection((), (code,), ()))[0]
        if alone:
            offered.extend(alone)
        elif fault.saved_at and saved_at_s is None:
            needs.append(Need(code=code, what="saved_at", reason=_first(findings, code).message))
    return RepairPlan(
        steps=steps,
        offered=tuple(offered),
        needs=tuple(needs),
        _scene=scene,
        _refusal=refusal,
        _origin=origin,
    )


def _usable(saved_at_s: int, now_s: int) -> int:
    if EARLIEST_USABLE_S <= saved_at_s <= min(LAST_DATE_S, now_s):
        return saved_at_s
    raise BadArgument(
        "no save was written at that instant",
        found=rfc3339(saved_at_s) or str(saved_at_s),
        expected=f"{rfc3339(EARLIEST_USABLE_S)} to now ({rfc3339(now_s)})",
    )


def _first(findings: Iterable[Finding], code: str) -> Finding:
    return next(finding for finding in findings if finding.code == code)


def _selection(also: Iterable[str], only: Iterable[str] | None, skip: Iterable[str]) -> _Wanted:
    """Whether a fault is to be mended, by what the caller named."""
    added, left_out = _known(also, "also"), _known(skip, "skip")
    if only is not None and added:
        raise BadArgument(
            "only and also contradict each other", remedy="name every step in only (--only)"
        )
    chosen = None if only is None else _known(only, "only")
    return _Wanted(also=added, only=chosen, skip=left_out)


def _known(codes: Iterable[str], name: str) -> frozenset[str]:
    if not isinstance(codes, Iterable):
        raise BadArgument(f"{name} takes codes of findings", found=shown(codes))
    named = (codes,) if isinstance(codes, str) else tuple(codes)
    for code in named:
        fault = _BY_CODE.get(code) if isinstance(code, str) else None
        if fault is None:
            from difflib import get_close_matches

            near = get_close_matches(str(code), _BY_CODE, n=1)
            raise BadArgument(
                f"unknown finding in {name}",
                found=shown(code),
                remedy=f"did you mean {near[0]}?" if near else "see 'rtcsave check --list'",
            )
        if fault.mend is None and name != "skip":
            raise BadArgument(
                f"no step mends {code}", where=name, remedy=f"what helps: {fault.remedy}"
            )
    return frozenset(named)


MOST_STEPS: Final = 64
"""A plan has at most as many steps: each fault is mended until nothing more is seen of it."""


def _run(scene: Scene, wanted: _Wanted) -> tuple[tuple[Step, ...], Scene]:
    """Take every wanted step that changes something, until none does.

    After each step the bytes are read again as they would be the next time, so that a plan that is
    applied twice does nothing the second time.
    """
    steps: list[Step] = []
    seen = {scene.data}
    again = True
    while again and len(steps) < MOST_STEPS:
        again = False
        for fault in applicable(scene):
            findings = fault.findings(scene) if fault.mend is not None else []
            if not findings or not wanted(fault, scene):
                continue
            mended = _mended(fault, scene)
            if mended is None or mended == scene.save:
                continue
            after = _read_again(scene, mended)
            if after.data in seen:
                continue
            if not wanted.named(fault) and not _is_safe(scene, after):
                continue
            steps.append(_step(fault, findings, scene, after))
            seen.add(after.data)
            scene = after
            again = True
            break
    return tuple(steps), scene


def _read_again(scene: Scene, mended: SaveFile) -> Scene:
    """The scene of a mended save, its bytes read as those of the scene before were read."""
    data = dumps(mended)
    save = mended
    if scene.is_read:
        with contextlib.suppress(FileFault):  # zeros, or a layout of one's own: right all the same
            save = loads(data, scene.layout, scene.also, scene.now_s)
    return replace(scene, data=data, save=save)


def _is_safe(before: Scene, after: Scene) -> bool:
    """Whether a step may be taken unasked, whatever layouts are described or named.

    It must leave every byte alone that could be memory: those of the largest memory image that the file
    can begin with. Only where the caller named the layout does the block begin where that layout says.
    And the block must be one: where less than seven of ten words fit, the layout may be another.
    """
    block = before.block
    if block is not None and not mostly_fits(block.raw, Place(memory_bytes=0, layout=block.layout)):
        return False
    if before.layout is not None and before.save is not None:
        size = len(before.save.memory)
    else:
        size = largest_memory(len(before.data))
    return before.data[:size] == after.data[:size]


def _mended(fault: Fault, scene: Scene) -> SaveFile | None:
    """What a fault's mending makes of a scene; None where the layout has no room for it."""
    assert fault.mend is not None
    try:
        return fault.mend(scene)
    except DoesNotFit:
        return None


def _step(fault: Fault, findings: list[Finding], before: Scene, after: Scene) -> Step:
    assert after.save is not None
    return Step(
        code=fault.code,
        reason="; ".join(f"{one.message} (found {one.found})" for one in findings),
        changes=byte_changes(before.data, after.data, after.block, len(after.save.memory)),
    )
