"""A save made directly, of parts that are known to be right: there are very many of them."""

from __future__ import annotations

from rtcsave.layouts import ClockBlock
from rtcsave.savefile.origin import Origin
from rtcsave.savefile.save import SaveFile

_new = object.__new__
_set_memory = SaveFile.__dict__["memory"].__set__
_set_block = SaveFile.__dict__["block"].__set__
_set_origin = SaveFile.__dict__["origin"].__set__


def checked_save(memory: bytes, block: ClockBlock | None, origin: Origin | None = None) -> SaveFile:
    """The save of an image of a legal length and a block, which the caller knows: nothing is checked."""
    save = _new(SaveFile)
    _set_memory(save, memory)
    _set_block(save, block)
    _set_origin(save, origin)
    return save


def read_from(save: SaveFile, origin: Origin | None) -> SaveFile:
    """The save with where it was read."""
    return checked_save(save.memory, save.block, origin)
