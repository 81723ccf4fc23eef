"""What each byte of a clock block means, in words: for people who have never seen one."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Literal, NamedTuple

from rtcsave.clocks import Clock
from rtcsave.clocks.fields import Bits
from rtcsave.layouts.block import ClockBlock
from rtcsave.layouts.codec import codec
from rtcsave.layouts.fields import Field, Part, from_bcd
from rtcsave.when import say_instant

AnnotatedPart = Part | Literal["unknown"]


class AnnotatedWord(NamedTuple):
    """Some bytes of a block that belong together, and what they say."""

    offset: int
    """Where they begin in the block."""
    data: bytes
    name: str
    """The word's name in the layout's table; empty for bytes that it does not describe."""
    part: AnnotatedPart
    """What they belong to."""
    value: int | None
    """The number in them, None for bytes that the layout does not describe."""
    meaning: str
    """What that says, in words."""


def annotate(block: ClockBlock) -> tuple[AnnotatedWord, ...]:
    """Each word of a block, and the bytes between them, in their order: together all of its bytes."""
    words: list[AnnotatedWord] = []
    at = 0
    for field in sorted(block.layout.fields, key=lambda field: field.offset):
        words += _unknown(block.raw, at, field.offset)
        words.append(_word(block, field))
        at = field.end
    return (*words, *_unknown(block.raw, at, len(block.raw)))


def _unknown(raw: bytes, start: int, end: int) -> Iterator[AnnotatedWord]:
    if start < end:
        data = raw[start:end]
        yield AnnotatedWord(start, data, "", "unknown", None, "not described; kept as it is")


def _word(block: ClockBlock, field: Field) -> AnnotatedWord:
    data = block.raw[field.offset : field.end]
    value = codec(block.layout).word(block.raw, field)
    meaning = _meaning(block, field, value)
    if field.part == "stamp" and block.stamp is not None:
        value = block.stamp
    return AnnotatedWord(field.offset, data, field.name, field.part, value, meaning)


def _meaning(block: ClockBlock, field: Field, value: int) -> str:
    layout = block.layout
    if field.part in ("running", "latched"):
        clock = block.running if field.part == "running" else block.latched
        assert clock is not None
        return _of_register(field, value, clock)
    if field.part == "stamp":
        if block.stamp_absent:
            return "absent: nobody knows when the block was written"
        saved_s = block.usable_unix_s
        return "no usable date" if saved_s is None else f"written at {say_instant(saved_s)}"
    if field.part == "constant":
        is_right = block.raw[field.offset : field.end] == field.constant
        return "always the same" if is_right else f"should be {field.constant.hex(' ')}"
    assert layout.checksum is not None
    is_wrong = codec(layout).checksum_wrong(block.raw)
    checksum = layout.checksum
    return (
        f"{checksum.kind} of bytes {checksum.start} to {checksum.end - 1}: "
        f"{'wrong' if is_wrong else 'right'}"
    )


def _of_register(field: Field, value: int, clock: Clock) -> str:
    """What the bits of a register say; the stray ones last."""
    if not field.bits:
        return "no bit of it means anything" + (f"; stray bits {value:X}h" if value else "")
    out_of_range = {wrong.name for wrong in clock.out_of_range()}
    said = [_of_bits(bits, value, clock, bits.field in out_of_range) for bits in field.bits]
    stray = value & ~field.mask
    if stray:
        said.append(f"stray bits {stray:X}h, which mean nothing")
    return ", ".join(said)


def _of_bits(bits: Bits, value: int, clock: Clock, is_out_of_range: bool) -> str:
    piece = (value & bits.mask) >> bits.at
    name = bits.field.replace("_", " ")
    (field,) = (field for field in clock.FIELDS if field.name == bits.field)
    if field.is_flag:
        return f"{name} {'on' if piece else 'off'}"
    if bits.bcd:
        digits = len(f"{bits.mask >> bits.at:X}")
        which = "digits" if digits > 1 else "tens" if bits.onto else "ones"
        text = f"{name}, {which}: {from_bcd(piece)}"
    elif bits.width < field.width:
        last = bits.onto + bits.width - 1
        which = f"bit {last}" if bits.width == 1 else f"bits {bits.onto} to {last}"
        total = int(clock.values()[bits.field])
        text = f"{name}, {which}: {piece} (in all {total})"
    else:
        text = f"{name}: {piece}"
    return f"{text}, out of range" if is_out_of_range else text
