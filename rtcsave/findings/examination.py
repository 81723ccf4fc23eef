"""All entries together: what is wrong with a save, or with any bytes at all."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import TYPE_CHECKING, Final

from rtcsave.buffers import Buffer, as_bytes
from rtcsave.errors import BadArgument, FileFault, number_of, shown
from rtcsave.findings.block import BLOCK_KINDS
from rtcsave.findings.entry import Finding, FindingKind
from rtcsave.findings.healthy import has_healthy_registers, has_healthy_words
from rtcsave.findings.latched import LATCHED_KINDS
from rtcsave.findings.memory import MEMORY_KINDS
from rtcsave.findings.registers import REGISTER_KINDS
from rtcsave.findings.remains import UNREADABLE
from rtcsave.findings.scene import Scene
from rtcsave.findings.stamp import STAMP_KINDS
from rtcsave.findings.wrapping import WRAPPING_KINDS
from rtcsave.layouts import BUILT_IN, Layout, check_layouts, layout_named
from rtcsave.savefile import Origin, SaveFile, loads, read_from
from rtcsave.when import Instant, now_or

if TYPE_CHECKING:
    from rtcsave.header import Header
    from rtcsave.layouts.evidence import Candidate

_OF_THE_WORDS: Final = (*REGISTER_KINDS, *LATCHED_KINDS, *STAMP_KINDS)
_OF_THE_FILE: Final[tuple[FindingKind, ...]] = (*BLOCK_KINDS, *MEMORY_KINDS)
_OVERFLOW: Final = next(
    kind for kind in REGISTER_KINDS if kind.code == "register-overflow-since-stamp"
)
_OF_THE_STAMP: Final[Mapping[str, tuple[FindingKind, ...]]] = {
    "": (*_OF_THE_FILE, _OVERFLOW),
    **{kind.code: (*_OF_THE_FILE, _OVERFLOW, kind) for kind in STAMP_KINDS},
}
"""By what is wrong with the stamp: what may be seen where nothing is wrong with the registers."""
_UNWRAPPED: Final[tuple[FindingKind, ...]] = (*_OF_THE_FILE, *_OF_THE_WORDS, UNREADABLE)
FINDINGS: Final[Mapping[str, FindingKind]] = MappingProxyType(
    {kind.code: kind for kind in (*WRAPPING_KINDS, *_UNWRAPPED)}
)
"""Every kind of finding by its code, in the order in which they are looked for and repaired."""


@dataclass(frozen=True, slots=True, kw_only=True, repr=False)
class Examination:
    """What could be seen in some bytes.

    `save` is None where `loads` would refuse them; `refusal` is then the error it raises.
    `candidates` are the layouts that the length allows, with the evidence, best first. `layout` is the
    one that the caller named.
    """

    data: bytes
    """The bytes."""
    save: SaveFile | None
    candidates: tuple[Candidate, ...]
    findings: tuple[Finding, ...]
    """What was found, as `check` gives it."""
    refusal: FileFault | None = None
    also_layouts: tuple[Layout, ...] = field(default=(), compare=False)
    """The layouts that were looked for beside the built-in ones."""
    layout: Layout | None = field(default=None, compare=False)
    origin: Origin | None = field(default=None, compare=False)
    """Where the bytes were read, None for bytes in memory."""

    def __repr__(self) -> str:
        what = repr(self.save) if self.save is not None else f"no save: {self.refusal}"
        how_many = number_of(len(self.findings), "finding")
        return f"<Examination of {len(self.data):,} bytes: {what[:120]}, {how_many}>"


def applicable(scene: Scene) -> tuple[FindingKind, ...]:
    """The entries that may speak of a scene.

    While something is wrapped around a save, nothing else that is seen in it means anything.
    """
    for kind in WRAPPING_KINDS:
        if kind.findings(scene):
            return (kind,)
    if scene.block is None:
        return _UNWRAPPED
    if has_healthy_words(scene.block.block, scene.now_s):
        return _OF_THE_FILE
    if has_healthy_registers(scene.block.block):
        judged = scene.block.stamp_judged
        return _OF_THE_STAMP["" if judged is None else judged.code]
    return _UNWRAPPED


def recognise(scene: Scene) -> tuple[Finding, ...]:
    """What every entry has to say about a scene.

    Bytes that are no save have one cause: the first entry that sees it speaks for all.
    """
    findings: list[Finding] = []
    for kind in applicable(scene):
        findings += kind.findings(scene)
        if findings and scene.save is None:
            break
    return tuple(findings)


def check_header(header: object) -> Header | None:
    """Return `header` if it is one, or None; `BadArgument` if not."""
    if header is None:
        return None
    from rtcsave.header import Header

    if isinstance(header, Header):
        return header
    raise BadArgument("this is no header", found=shown(header), expected="what read_header gives")


def _loaded(
    data: bytes, layout: Layout | None, also: tuple[Layout, ...], now_s: int
) -> tuple[SaveFile | None, FileFault | None]:
    """The save in some bytes, or the error that says why they are no save."""
    try:
        return loads(data, layout, also, now_s), None
    except FileFault as error:
        return None, error


def examine(
    data: Buffer,
    layout: str | Layout | None = None,
    also_layouts: Iterable[Layout] = (),
    header: Header | None = None,
    origin: Origin | None = None,
    now: Instant | None = None,
) -> Examination:
    """What can be said of any bytes at all; their content never raises.

    Only a wrong call does: `BadArgument` for what is not bytes, an unknown layout, a naive `now`.
    """
    from rtcsave.layouts.evidence import candidates

    now_s = now_or(now)
    also = check_layouts(also_layouts)
    named = None if layout is None else layout_named(layout, also)
    if named is not None and named not in (*BUILT_IN, *also):
        also = (*also, named)
    raw = as_bytes(data, "a save is bytes", "to read a file, use read(path)")
    save, refusal, findings = look_at(raw, named, also, check_header(header), now_s)
    return Examination(
        data=raw,
        save=None if save is None else read_from(save, origin),
        candidates=candidates(raw, also, now_s),
        findings=findings,
        refusal=refusal,
        also_layouts=also,
        layout=named,
        origin=origin,
    )


def look_at(
    data: bytes,
    layout: Layout | None,
    also: tuple[Layout, ...],
    header: Header | None,
    now_s: int,
) -> tuple[SaveFile | None, FileFault | None, tuple[Finding, ...]]:
    """The save in some bytes, or the reason that there is none, and the findings."""
    save, refusal = _loaded(data, layout, also, now_s)
    scene = Scene(
        data=data,
        save=save,
        now_s=now_s,
        header=header,
        also=also,
        layout=layout,
        is_read=True,
    )
    return save, refusal, recognise(scene)
