"""`show --bytes`: a clock block byte by byte, with what each word means."""

from __future__ import annotations

from itertools import groupby
from typing import Any, Final

from rtcsave.cli.console import Console
from rtcsave.layouts.annotation import AnnotatedWord, annotate
from rtcsave.savefile import SaveFile

_HEADINGS: Final = {
    "running": "running registers: what the clock itself counted",
    "latched": "latched registers: the copy of them that the game last read",
    "stamp": "stamp: when the block was written",
    "constant": "constants: the same in every block of this layout",
    "checksum": "checksum: made from the bytes before it",
    "unknown": "unknown bytes",
}
_TONES: Final = ("running", "latched", "stamp")


def print_bytes(console: Console, save: SaveFile) -> None:
    """Print the bytes of a save's clock block, the parts under a heading each."""
    block = save.block
    if block is None:
        console.line("there is no clock block: the file is a memory image alone")
        return
    start = len(save.memory)
    before = f"after {start:,} bytes of memory" if start else "a file of its own"
    console.line("")
    console.line(f"the clock block: {len(block.raw):,} bytes, {before}, layout {block.layout.name}")
    orders = {field.order for field in block.layout.fields if field.size > 1}
    if len(orders) == 1:
        which = "lowest" if orders == {"little"} else "highest"
        console.line(f"in a number of several bytes the {which} comes first")
    for part, words in groupby(annotate(block), key=lambda word: word.part):
        console.line("")
        console.line(_HEADINGS[part])
        rows = [_row(word, start) for word in words]
        tone = part if part in _TONES else ""
        console.table(("offset", "bytes", "word", "value", "meaning"), rows, tone)


def _row(word: AnnotatedWord, start: int) -> tuple[str, ...]:
    value = "" if word.value is None else str(word.value)
    return str(start + word.offset), word.data.hex(" "), word.name, value, word.meaning


def bytes_json(save: SaveFile) -> list[dict[str, Any]]:
    """The same as JSON; offsets count from the start of the file."""
    if save.block is None:
        return []
    return [
        {
            "offset": len(save.memory) + word.offset,
            "bytes": word.data.hex(),
            "word": word.name,
            "part": word.part,
            "value": word.value,
            "meaning": word.meaning,
        }
        for word in annotate(save.block)
    ]
