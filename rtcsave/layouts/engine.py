"""The construct object of a layout: the general engine. The only importer of construct."""

from __future__ import annotations

from functools import lru_cache
from typing import Any, NamedTuple

import construct


class Word(NamedTuple):
    """What the engine must know of a field: its name, place, size, sign and byte order."""

    name: str
    offset: int
    size: int
    signed: bool
    little: bool


@lru_cache(maxsize=64)
def struct_of(size: int, words: tuple[Word, ...]) -> Any:
    """The construct `Struct` of a block of `size` bytes holding these words.

    Parsing gives each word under its name and the bytes between them under `(gap at N)`; building gives
    the same bytes back. Bytes past the end raise construct's `TerminatedError`, too few its
    `StreamError`.
    """
    parts: list[Any] = []
    at = 0
    for one in sorted(words, key=lambda word: word.offset):
        if one.offset > at:
            parts.append(f"(gap at {at})" / construct.Bytes(one.offset - at))
        number = construct.BytesInteger(one.size, signed=one.signed, swapped=one.little)
        parts.append(one.name / number)
        at = one.offset + one.size
    if size > at:
        parts.append(f"(gap at {at})" / construct.Bytes(size - at))
    return construct.Struct(*parts, construct.Terminated)
