"""What speaks for and against each layout that the length of some bytes allows."""

from __future__ import annotations

from dataclasses import dataclass

from rtcsave.layouts.block import ClockBlock
from rtcsave.layouts.places import Place, count_fitting, mostly_fits, places_by_length, stamp_rank
from rtcsave.layouts.table import Layout
from rtcsave.stamps import is_absent, is_plausible
from rtcsave.when import dated, now_or


@dataclass(frozen=True, slots=True, kw_only=True, repr=False)
class Candidate:
    """A layout that the length allows, with the evidence for and against it."""

    layout: Layout
    """The layout."""
    memory_bytes: int
    """The length of the memory image before the block."""
    fitting: int
    """How many words and constants fit."""
    words: int
    """How many words and constants there are."""
    evidence_for: tuple[str, ...]
    """What speaks for it, in words; nothing where too few words fit."""
    evidence_against: tuple[str, ...]
    """What speaks against it, in words."""

    def __repr__(self) -> str:
        return f"<Candidate {self.layout.name}: {self.fitting} of {self.words} words fit>"


def candidates(
    data: bytes, also: tuple[Layout, ...] = (), now_s: int | None = None
) -> tuple[Candidate, ...]:
    """Every layout that the length allows, best first, with what speaks for and against each."""
    present = now_or(now_s)
    weighed = [_weigh(data, place, present) for place in places_by_length(also).get(len(data), ())]

    def rank(candidate: Candidate) -> tuple[int, int, int]:
        block = ClockBlock(layout=candidate.layout, raw=data[candidate.memory_bytes :])
        return -candidate.fitting, -stamp_rank(block, present), len(candidate.evidence_against)

    return tuple(sorted(weighed, key=rank))


def _weigh(data: bytes, place: Place, now_s: int) -> Candidate:
    layout = place.layout
    block = ClockBlock(layout=layout, raw=data[place.memory_bytes :])
    fitting, words = count_fitting(data, place)
    fits = fitting == words if layout.standalone else mostly_fits(data, place)
    good: list[str] = []
    bad: list[str] = []
    where = f"{place.memory_bytes:,} bytes of memory and " if place.memory_bytes else ""
    good.append(f"the length is {where}a block of {layout.size:,} bytes")
    (good if fitting == words else bad).append(f"{fitting} of {words} words fit their registers")
    if not any(block.raw):
        bad.append("every byte is zero")
    running, latched = block.running, block.latched
    (good if running.in_range else bad).append(
        f"the running time {running.reading()} is "
        + ("in its proper range" if running.in_range else "out of range")
    )
    if layout.stamp is not None and block.stamp is not None:
        said = dated(block.saved_unix_s) or "no date"
        if is_absent(block.stamp, layout.stamp):
            bad.append("the stamp is absent")
        elif is_plausible(block.stamp, layout.stamp, now_s):
            good.append(f"the stamp reads {said}")
        else:
            bad.append(f"the stamp reads {said}, which is not plausible")
    if latched is not None and latched.in_range and running.in_range:
        age_s = (running.to_seconds() - latched.to_seconds()) % running.period_s
        if age_s <= running.period_s // 64:
            good.append("the latched time is shortly before the running time")
        else:
            bad.append("the latched time is far from the running time")
    return Candidate(
        layout=layout,
        memory_bytes=place.memory_bytes,
        fitting=fitting,
        words=words,
        evidence_for=tuple(good) if fits else (),
        evidence_against=tuple(bad),
    )
