"""Duplicate clock blocks: several after each other at the end of a file, where one is expected."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from rtcsave.findings.entry import FindingKind, Sighting
from rtcsave.findings.scene import Scene
from rtcsave.layouts import ClockBlock, Layout
from rtcsave.layouts.codec import codec
from rtcsave.layouts.places import has_plausible_stamp, likeliest
from rtcsave.savefile import SaveFile
from rtcsave.units import MEMORY_SIZES_BYTES
from rtcsave.when import dated

MOST_BLOCKS: Final = 16
"""How many blocks after each other are still taken for such: a program that appends one more at
every save is noticed long before."""


class _Rows:
    """The best way to read the end of a file as a row of so many blocks, from any byte on."""

    def __init__(self, data: bytes, layouts: tuple[Layout, ...], now_s: int) -> None:
        self._data = data
        self._layouts = layouts
        self._now_s = now_s
        self._sizes = sorted({layout.size for layout in layouts}, reverse=True)
        self._blocks: dict[tuple[int, int], ClockBlock | None] = {}
        self._best: dict[tuple[int, int], _Row | None] = {}

    def best(self, at: int, count: int) -> _Row | None:
        """The row of `count` blocks from a byte to the end in which most words fit; None if none."""
        key = (at, count)
        if key not in self._best:
            rows = (self._row(at, count, size) for size in self._sizes)
            self._best[key] = max(
                (row for row in rows if row is not None), key=lambda row: row[:2], default=None
            )
        return self._best[key]

    def _row(self, at: int, count: int, size: int) -> _Row | None:
        """The best row whose first block has that size."""
        left = len(self._data) - at - size
        least, most = (count - 1) * self._sizes[-1], (count - 1) * self._sizes[0]
        if not least <= left <= most:
            return None
        rest = self.best(at + size, count - 1) if count > 1 else (0, 0, ())
        if rest is None:
            return None
        first = self._block(at, size)
        if first is None:
            return None
        fits = codec(first.layout).fits(first.raw)
        plausible = has_plausible_stamp(first, self._now_s)
        return fits + rest[0], plausible + rest[1], (first, *rest[2])

    def _block(self, at: int, size: int) -> ClockBlock | None:
        """The block that some bytes are most likely, None for zeros and for what is no block."""
        key = (at, size)
        if key not in self._blocks:
            raw = self._data[at : at + size]
            block = likeliest(raw, self._layouts, self._now_s) if any(raw) else None
            self._blocks[key] = block
        return self._blocks[key]


_Row = tuple[int, int, tuple[ClockBlock, ...]]
"""How many of the blocks fit, how many have a plausible stamp, and the blocks."""


def _stacked_blocks(scene: Scene) -> tuple[int, tuple[ClockBlock, ...]] | None:
    """Where two to sixteen blocks follow each other at the end of a file that is no save otherwise.

    They may be of different layouts and have stray bits, but none is all zeros. Where they can be
    told apart in several ways, the one is right in which the most words fit; of equal ones the one
    that leaves the most memory.
    """
    return scene.once(_find_stacked_blocks)


def _find_stacked_blocks(scene: Scene) -> tuple[int, tuple[ClockBlock, ...]] | None:
    if scene.save is not None or not scene.layouts:
        return None
    rows = _Rows(scene.data, scene.layouts, scene.now_s)
    best: tuple[float, float] | None = None
    stacked: tuple[int, tuple[ClockBlock, ...]] | None = None
    for at in (*reversed(MEMORY_SIZES_BYTES), 0):
        for count in range(2, MOST_BLOCKS + 1):
            row = rows.best(at, count) if at < len(scene.data) else None
            if row is None:
                continue
            rank = (row[0] / count, row[1] / count)
            if best is None or rank > best:
                best, stacked = rank, (at, row[2])
    return stacked


def _see_duplicates(scene: Scene) -> Iterator[Sighting]:
    stacked = _stacked_blocks(scene)
    if stacked is None:
        return
    at, row = stacked
    stamps = ", ".join(dated(block.usable_unix_s) or "no usable stamp" for block in row)
    more = "a second clock block stands" if len(row) == 2 else f"{len(row) - 1} more blocks stand"
    layouts = " and ".join(dict.fromkeys(block.layout.name for block in row))
    yield Sighting(
        message=f"{more} after the first (stamps, in order: {stamps})",
        offset=at + row[0].layout.size,
        found=f"{len(row)} blocks of layout {layouts}",
        expected="one",
    )


def newest(row: tuple[ClockBlock, ...], now_s: int) -> ClockBlock | None:
    """The newest of some blocks; None unless every stamp is plausible and one is the latest."""
    if not all(has_plausible_stamp(block, now_s) for block in row):
        return None
    *_, before, last = sorted(row, key=lambda block: block.saved_unix_s or 0)
    return None if before.saved_unix_s == last.saved_unix_s else last


def _newest_known(scene: Scene) -> bool:
    stacked = _stacked_blocks(scene)
    return stacked is not None and _kept(stacked[1], scene.now_s) is not None


def _kept(row: tuple[ClockBlock, ...], now_s: int) -> ClockBlock | None:
    """The block to keep: any of identical ones, else the newest."""
    return row[0] if len(set(row)) == 1 else newest(row, now_s)


def _keep_newest(scene: Scene) -> SaveFile | None:
    stacked = _stacked_blocks(scene)
    if stacked is None:
        return None
    at, row = stacked
    kept = _kept(row, scene.now_s)
    return None if kept is None else SaveFile(memory=scene.data[:at], block=kept)


DUPLICATE_KINDS = (
    FindingKind(
        code="block-doubled",
        severity="error",
        title="a second clock block stands after the first",
        remedy="`plan_repair` keeps the newest, where every stamp is plausible and one is the latest, or one "
        "of identical blocks; else look at each (cut the file after it, on a copy) and keep the one that you "
        "know to be right",
        see=_see_duplicates,
        repairs=_keep_newest,
        certain=_newest_known,
    ),
)
