"""A block made directly, of bytes that are known to have its layout's size: there are very many of them."""

from __future__ import annotations

from rtcsave.layouts.block import ClockBlock
from rtcsave.layouts.table import Layout

_new = object.__new__
_set_layout = ClockBlock.__dict__["layout"].__set__
_set_raw = ClockBlock.__dict__["raw"].__set__
_set_carried_s = ClockBlock.__dict__["carried_s"].__set__


def sized_block(layout: Layout, raw: bytes) -> ClockBlock:
    """The block of a layout in bytes of its very size, which the caller knows: nothing is checked."""
    block = _new(ClockBlock)
    _set_layout(block, layout)
    _set_raw(block, raw)
    _set_carried_s(block, None)
    return block
