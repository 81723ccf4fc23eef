"""Bytes to a save, and a save to bytes."""

from __future__ import annotations

from collections.abc import Iterable

from rtcsave.buffers import Buffer, as_bytes
from rtcsave.layouts import Layout, check_layouts, layout_named, place_given, place_of
from rtcsave.layouts.detection import only_place
from rtcsave.layouts.sized import sized_block
from rtcsave.savefile.making import checked_save
from rtcsave.savefile.save import SaveFile, check_save
from rtcsave.when import Instant, unix_seconds


def loads(
    data: Buffer,
    layout: str | Layout | None = None,
    also_layouts: Iterable[Layout] = (),
    now: Instant | None = None,
) -> SaveFile:
    """The save in these bytes: a memory image, an image with a clock block, or a standalone block.

    Without `layout` the length and the words decide (`also_layouts` join the built-in ones); with
    it, any bytes of a fitting length are taken as that layout, however odd. `now` (None: the
    present) matters only where a stamp must decide between byte orders.

    >>> save = loads(bytes([7, 40, 13, 44, 1]), layout="registers5")
    >>> save.clock_block.running.reading(), dumps(save)
    ('300d13:40:07', b'\\x07(\\r,\\x01')

    `dumps(loads(x)) == x` for whatever is accepted. Raises `UnknownLength` (of it `EmptyFile`,
    `NotAClockBlock`), `BlockCutShort`, `AmbiguousLayout`; `BadArgument` for what is not bytes.
    """
    if type(data) is not bytes:
        data = as_bytes(data, "a save is bytes", "to read a file, use load(path)")
    place = None if layout is not None or also_layouts else only_place(data)
    if place is None:
        also = check_layouts(also_layouts) if also_layouts else ()
        if layout is not None:
            place = place_given(data, layout_named(layout, also))
        else:
            place = place_of(data, also, None if now is None else unix_seconds(now, "now"))
    elif now is not None:
        unix_seconds(now, "now")
    if place is None:
        return SaveFile(memory=data)
    at = place.memory_bytes
    return checked_save(data[:at], sized_block(place.layout, data[at:]))


def dumps(save: SaveFile) -> bytes:
    """The bytes of a save: the memory image, then the clock block, every bit as it was."""
    check_save(save)
    return save.memory if save.block is None else save.memory + save.block.raw
