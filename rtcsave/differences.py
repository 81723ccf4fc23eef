"""What changed between two saves: one account for plans, previews and comparisons."""

from __future__ import annotations

from dataclasses import dataclass

from rtcsave.layouts import ClockBlock
from rtcsave.savefile import SaveFile
from rtcsave.when import dated


@dataclass(frozen=True, slots=True, kw_only=True, repr=False)
class ByteChange:
    """Bytes that differ, side by side: where in the file, what was there, what is there now.

    Runs of bytes of one field are one change. `old` or `new` is empty where a file ends first.
    """

    offset: int
    """Where in the file, from its first byte."""
    old: bytes
    new: bytes
    field: str
    """The word of the layout that they belong to, `memory`, or their place."""

    def __repr__(self) -> str:
        old, new = (
            data[:16].hex(" ") + ("..." if len(data) > 16 else "") for data in (self.old, self.new)
        )
        return f"<ByteChange at {self.offset}: {old} -> {new} ({self.field})>"


@dataclass(frozen=True, slots=True, kw_only=True)
class FieldChange:
    """A value that differs, in words: `running`, `latched`, `stamp`, `layout`, `memory`."""

    field: str
    """What differs."""
    old: str
    """The value before, in words."""
    new: str
    """The value after, in words."""


def _name_at(block: ClockBlock | None, memory_bytes: int, offset: int) -> str:
    if offset < memory_bytes:
        return "memory"
    if block is None or offset >= memory_bytes + block.layout.size:
        return "after the block" if block is not None else "after the memory"
    field = block.layout.field_at(offset - memory_bytes)
    return field.name if field is not None else "unused"


def _stretch(old: bytes, new: bytes) -> ByteChange:
    """The bytes of one file between the beginning and the end that both files share."""
    shared = min(len(old), len(new))
    front = next((at for at in range(shared) if old[at] != new[at]), shared)
    left = shared - front
    back = next((at for at in range(left) if old[-1 - at] != new[-1 - at]), left)
    return ByteChange(
        offset=front,
        old=old[front : len(old) - back],
        new=new[front : len(new) - back],
        field="length",
    )


def byte_changes(
    old: bytes, new: bytes, block: ClockBlock | None, memory_bytes: int
) -> tuple[ByteChange, ...]:
    """The bytes in which two files differ, named by the layout of `block` after the memory.

    Files of different lengths differ in one stretch, between what they begin and end with alike.
    """
    if old == new:
        return ()
    if len(old) != len(new):
        return (_stretch(old, new),)
    runs: list[ByteChange] = []
    start: int | None = None
    name = ""
    first = memory_bytes if old[:memory_bytes] == new[:memory_bytes] else 0

    def close(end: int) -> None:
        if start is not None:
            runs.append(
                ByteChange(offset=start, old=old[start:end], new=new[start:end], field=name)
            )

    for at in range(first, len(old)):
        differs = old[at] != new[at]
        here = _name_at(block, memory_bytes, at) if differs else ""
        if start is not None and here != name:
            close(at)
            start = None
        if differs and start is None:
            start, name = at, here
    close(len(old))
    return tuple(runs)


def save_changes(old: SaveFile, new: SaveFile) -> tuple[FieldChange, ...]:
    """The values in which two saves differ, memory as a count and a first offset."""
    pairs = [("memory", f"{len(old.memory):,} bytes", _memory_words(old.memory, new.memory))]
    a, b = _said(old.block), _said(new.block)
    pairs = [
        (name, old_words, new_words) for name, old_words, new_words in pairs if new_words != "same"
    ]
    pairs += [(name, a[name], b[name]) for name in a if a[name] != b[name]]
    return tuple(
        FieldChange(field=name, old=old_words, new=new_words)
        for name, old_words, new_words in pairs
    )


def first_difference(old: bytes, new: bytes) -> tuple[int, int | None]:
    """How many bytes differ (those that only one has included), and where the first does."""
    if old == new:
        return 0, None
    shared = min(len(old), len(new))
    places = [at for at in range(shared) if old[at] != new[at]]
    first = places[0] if places else shared
    return len(places) + abs(len(old) - len(new)), first


def _memory_words(old: bytes, new: bytes) -> str:
    count, first = first_difference(old, new)
    if not count:
        return "same"
    return f"{len(new):,} bytes, {count} of them different, the first at {first:X}h"


def _said(block: ClockBlock | None) -> dict[str, str]:
    if block is None:
        return dict.fromkeys(("layout", "running", "halt", "carry", "latched", "stamp"), "none")
    running, latched = block.running, block.latched
    stamp = "none" if block.stamp is None else str(block.stamp)
    date = dated(block.saved_unix_s)
    return {
        "layout": block.layout.name,
        "running": running.reading(),
        "halt": "on" if running.halted else "off",
        "carry": "on" if running.carried else "off",
        "latched": "none" if latched is None else latched.reading(),
        "stamp": f"{stamp} ({date})" if date else stamp,
    }
