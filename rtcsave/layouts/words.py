"""One stored word of a block: a number in some bytes, read and written.

`struct` reads and writes words of 1, 2, 4 and 8 bytes; construct those that it cannot express.
"""

from __future__ import annotations

import struct
from collections.abc import Callable, Sequence
from typing import Final

from rtcsave.layouts.fields import Field

_STRUCT_LETTERS: Final = {1: "b", 2: "h", 4: "i", 8: "q"}


def ones(size: int) -> int:
    """A word of so many bytes with every bit set."""
    return (1 << 8 * size) - 1


def struct_format(fields: Sequence[Field], is_signed: Callable[[Field], bool]) -> str | None:
    """The `struct` format of a block up to the last of some plain words in one byte order, else None."""
    at, letters = 0, ""
    order = fields[0].order
    for field in fields:
        letter = _STRUCT_LETTERS.get(field.size)
        if letter is None or field.order != order or field.offset < at:
            return None
        letters += "x" * (field.offset - at)
        letters += letter if is_signed(field) else letter.upper()
        at = field.end
    return ("<" if order == "little" else ">") + letters


def read_number(raw: bytes, field: Field, signed: bool) -> int:
    """One word of a block as the number that it is."""
    letter, little = _STRUCT_LETTERS.get(field.size), field.order == "little"
    if letter is not None:
        format_ = ("<" if little else ">") + (letter if signed else letter.upper())
        number: int = struct.unpack_from(format_, raw, field.offset)[0]
        return number
    from rtcsave.layouts._engine import number as construct_of

    value: int = construct_of(field.size, signed, little).parse(raw[field.offset : field.end])
    return value


def store_word(block: bytearray, field: Field, word: int) -> None:
    """Put one word into a block; a negative one in two's complement."""
    letter, little = _STRUCT_LETTERS.get(field.size), field.order == "little"
    unsigned = word & ones(field.size)
    if letter is not None:
        struct.pack_into(("<" if little else ">") + letter.upper(), block, field.offset, unsigned)
        return
    from rtcsave.layouts._engine import number as construct_of

    block[field.offset : field.end] = construct_of(field.size, False, little).build(unsigned)
