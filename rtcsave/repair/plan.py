"""What was found, gathered into a plan of small steps; nothing is invented."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Any, Final

from rtcsave.differences import ByteChange, byte_changes
from rtcsave.errors import BadArgument, FileFault, number_of, shown
from rtcsave.findings import FINDINGS, Examination, Finding, FindingKind, Scene, is_safe, recognise
from rtcsave.findings.examination import applicable, check_header
from rtcsave.findings.scene import PAST_RANGE, PastRange
from rtcsave.header import Header
from rtcsave.repair.wanted import Wanted, selection
from rtcsave.savefile import Origin, SaveFile, dumps, read_from
from rtcsave.stamps import EARLIEST_USABLE_S, LAST_DATE_S
from rtcsave.when import Instant, dated, now_or, unix_seconds


@dataclass(frozen=True, slots=True, kw_only=True, repr=False)
class Step:
    """One step of a plan: the finding that it repairs, why, and exactly which bytes it changes."""

    code: str
    """The finding that it repairs."""
    reason: str
    """What was found, in words."""
    changes: tuple[ByteChange, ...]
    """The bytes that change."""

    def __repr__(self) -> str:
        return f"<Step {self.code}: {number_of(len(self.changes), 'change')} of bytes>"


@dataclass(frozen=True, slots=True, kw_only=True)
class Need:
    """What a plan cannot know and only the user can say, for which finding, and how to say it."""

    code: str
    """The finding."""
    what: str
    """The parameter that gives it: `saved_at`."""
    reason: str
    """What was found, in words."""


@dataclass(frozen=True, slots=True, kw_only=True, repr=False)
class RepairPlan:
    """The steps that repair a save.

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
        return _run(self._scene, selection(also, only, skip))[0]

    def apply(
        self, also: Iterable[str] = (), only: Iterable[str] | None = None, skip: Iterable[str] = ()
    ) -> SaveFile:
        """The repaired save: the default plan with the codes of `also` added and of `skip` left out,
        or the steps of `only` and no others. Applied to its own result it changes nothing more.

        Raises the error of `loads` where the bytes are no save even then, `BadArgument` for a
        code that is unknown or has no step. A step whose finding is not there is passed over.
        """
        save = _run(self._scene, selection(also, only, skip))[1].save
        if save is not None:
            return read_from(save, self._origin)
        assert self._refusal is not None
        raise self._refusal

    def __repr__(self) -> str:
        return (
            f"<RepairPlan steps {[s.code for s in self.steps]}, offered {[s.code for s in self.offered]}, "
            f"needs {[n.code for n in self.needs]}>"
        )


def plan_repair(
    save: SaveFile | Examination,
    header: Header | None = None,
    now: Instant | None = None,
    saved_at: Instant | None = None,
    past_range: PastRange | str = "as-time",
) -> RepairPlan:
    """The plan that repairs a save, or what `examine` saw in any bytes.

    `saved_at` is when the save was written, if the user knows; `past_range` says whether a
    register out of range becomes the time that it says (`as-time`) or `zero`, as the chip
    would make it. `BadArgument` for anything else, and for an instant no save can have.
    """
    scene, refusal, origin = _scene(save, header, now, saved_at, past_range)
    steps, after = _run(scene, selection((), None, ()))
    offered, needs = _left_over(after, {step.code for step in steps})
    return RepairPlan(
        steps=steps,
        offered=offered,
        needs=needs,
        _scene=scene,
        _refusal=refusal,
        _origin=origin,
    )


def _scene(
    save: SaveFile | Examination,
    header: Header | None,
    now: Instant | None,
    saved_at: Instant | None,
    past_range: str,
) -> tuple[Scene, FileFault | None, Origin | None]:
    """What a plan looks at, why it is no save (None: it is one), and where it was read."""
    now_s = now_or(now)
    if past_range not in PAST_RANGE:
        raise BadArgument(
            "past_range is unknown", found=shown(past_range), expected="'as-time' or 'zero'"
        )
    said: dict[str, Any] = {
        "now_s": now_s,
        "header": check_header(header),
        "saved_at_s": None
        if saved_at is None
        else _usable(unix_seconds(saved_at, "saved_at"), now_s),
        "past_range": past_range,
    }
    if isinstance(save, Examination):
        if save.save is None and save.refusal is None:
            raise BadArgument("the examination holds neither a save nor the reason for that")
        scene = Scene(
            data=save.data,
            save=save.save,
            also=save.also_layouts,
            layout=save.layout,
            is_read=True,
            **said,
        )
        return scene, save.refusal, save.origin
    if isinstance(save, SaveFile):
        return Scene(data=dumps(save), save=save, **said), None, save.origin
    raise BadArgument("this is neither a save nor an examination", found=type(save).__name__)


def _left_over(after: Scene, taken: set[str]) -> tuple[tuple[Step, ...], tuple[Need, ...]]:
    """The steps that run only when named, and what only the user can say, after the default plan."""
    findings = recognise(after)
    offered: list[Step] = []
    needs: list[Need] = []
    for code in dict.fromkeys(finding.code for finding in findings):
        kind = FINDINGS[code]
        if kind.repairs is None or code in taken:
            continue
        alone = _run(after, selection((), (code,), ()))[0]
        if alone:
            offered.extend(alone)
        elif kind.saved_at and after.saved_at_s is None:
            needs.append(Need(code=code, what="saved_at", reason=_first(findings, code).message))
    return tuple(offered), tuple(needs)


def _usable(saved_at_s: int, now_s: int) -> int:
    if EARLIEST_USABLE_S <= saved_at_s <= min(LAST_DATE_S, now_s):
        return saved_at_s
    raise BadArgument(
        "no save was written at that instant",
        found=dated(saved_at_s) or str(saved_at_s),
        expected=f"{dated(EARLIEST_USABLE_S)} to now ({dated(now_s)})",
    )


def _first(findings: Iterable[Finding], code: str) -> Finding:
    return next(finding for finding in findings if finding.code == code)


MOST_STEPS: Final = 64
"""A plan has at most as many steps: each kind is repaired until nothing more is seen of it."""


def _run(scene: Scene, wanted: Wanted) -> tuple[tuple[Step, ...], Scene]:
    """Take every wanted step that changes something, until none does.

    After each step the bytes are read again as they would be the next time, so that a plan that is
    applied twice does nothing the second time.
    """
    steps: list[Step] = []
    seen = {scene.data}
    again = True
    while again and len(steps) < MOST_STEPS:
        again = False
        for kind in applicable(scene):
            findings = kind.findings(scene) if kind.repairs is not None else []
            after = kind.repaired(scene) if findings and wanted.takes(kind, scene) else None
            if after is None or after.data in seen:
                continue
            if not wanted.named(kind) and not is_safe(scene, after):
                continue
            steps.append(_step(kind, findings, scene, after))
            seen.add(after.data)
            scene = after
            again = True
            break
    return tuple(steps), scene


def _step(kind: FindingKind, findings: list[Finding], before: Scene, after: Scene) -> Step:
    assert after.save is not None
    return Step(
        code=kind.code,
        reason="; ".join(f"{finding.message} (found {finding.found})" for finding in findings),
        changes=byte_changes(before.data, after.data, after.save.block, len(after.save.memory)),
    )
