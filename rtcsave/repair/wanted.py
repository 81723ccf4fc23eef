"""Which steps the caller wants: by the codes that were named, and what is certain."""

from __future__ import annotations

from collections.abc import Iterable
from typing import NamedTuple

from rtcsave.errors import BadArgument, shown
from rtcsave.findings import FINDINGS, FindingKind, Scene


class Wanted(NamedTuple):
    """Which kinds of findings are to be repaired: those that were named, and those that are certain."""

    also: frozenset[str]
    only: frozenset[str] | None
    skip: frozenset[str]

    def named(self, kind: FindingKind) -> bool:
        """Whether the caller asked for this kind by its code."""
        return kind.code in (self.also if self.only is None else self.only)

    def takes(self, kind: FindingKind, scene: Scene) -> bool:
        """Whether a kind is to be repaired in a file where it was seen."""
        if kind.code in self.skip:
            return False
        return self.named(kind) or (self.only is None and kind.certain(scene))


def selection(also: Iterable[str], only: Iterable[str] | None, skip: Iterable[str]) -> Wanted:
    """Whether a kind of finding is to be repaired, by what the caller named."""
    added, left_out = _known(also, "also"), _known(skip, "skip")
    if only is not None and added:
        raise BadArgument("only and also contradict each other", remedy="name every step in `only`")
    chosen = None if only is None else _known(only, "only")
    return Wanted(also=added, only=chosen, skip=left_out)


def _known(codes: Iterable[str], name: str) -> frozenset[str]:
    if not isinstance(codes, Iterable):
        raise BadArgument(f"{name} takes codes of findings", found=shown(codes))
    named = (codes,) if isinstance(codes, str) else tuple(codes)
    for code in named:
        kind = FINDINGS.get(code) if isinstance(code, str) else None
        if kind is None:
            from difflib import get_close_matches

            near = get_close_matches(str(code), list(FINDINGS), n=1)
            raise BadArgument(
                f"unknown finding in {name}",
                found=shown(code),
                remedy=f"did you mean {near[0]}?" if near else "`FINDINGS` has them all",
            )
        if kind.repairs is None and name != "skip":
            raise BadArgument(
                f"no step repairs {code}", where=name, remedy=f"what helps: {kind.remedy}"
            )
    return frozenset(named)
