"""How the words of a layout are read from a block's bytes and written into them.

What only has to tell a block from noise compares masks, and waits for neither struct nor construct.
"""

from __future__ import annotations

import struct
from collections.abc import Sequence
from typing import Final

from rtcsave.clocks import Clock
from rtcsave.layouts.fields import (
    CLOCK_PARTS,
    PARTS,
    SUMS,
    ClockPart,
    Field,
    Part,
    from_bcd,
    to_bcd,
)
from rtcsave.layouts.table import Layout
from rtcsave.layouts.words import ones, read_number, store_word, struct_format


class Codec:
    """Reads and writes the words of one layout; made once for each by `codec`."""

    def __init__(self, layout: Layout) -> None:
        self.layout = layout
        self.parts: dict[Part, tuple[Field, ...]] = {name: layout.part(name) for name in PARTS}
        self.clock_type: type[Clock] = layout.clock_type
        self._whole = {part: self._register_words(part) for part in CLOCK_PARTS}
        self._loose: list[ClockPart] = [
            p for p in CLOCK_PARTS if self.parts[p] and self._whole[p] is None
        ]
        self.stray_mask: int = self._mask_of_stray_bits()
        format_ = self.struct_format
        self._struct = None if format_ is None else struct.Struct(format_)
        self._registers = {part: self._register_reader(part) for part in CLOCK_PARTS}
        self._running = self._registers["running"]

    def _register_words(self, part: ClockPart) -> slice | None:
        """Where the words of a part stand in the table, if they are the clock's registers one by
        one: then the clock reads them as they are."""
        fields = self.layout.fields
        places = [at for at, field in enumerate(fields) if field.part == part]
        registers = self.clock_type.REGISTERS
        if [fields[at].bits for at in places] != [register.bits for register in registers]:
            return None
        if places != list(range(places[0], places[0] + len(places))):
            return None
        return slice(places[0], places[-1] + 1)

    def _mask_of_stray_bits(self) -> int:
        """Ones where a clock's word has bits that mean nothing, over the block read as one
        little-endian integer."""
        stray = bytearray(self.layout.size)
        for field in self.layout.fields:
            unused = ones(field.size) & ~field.mask
            stray[field.offset : field.end] = unused.to_bytes(field.size, field.order)
        return int.from_bytes(stray, "little")

    def _register_reader(self, part: ClockPart) -> struct.Struct | None:
        """What reads only the registers of a part, where they are words that `struct` can express."""
        place = self._whole[part]
        format_ = (
            None if place is None else struct_format(self.layout.fields[place], self.is_signed)
        )
        return None if format_ is None else struct.Struct(format_)

    @property
    def struct_format(self) -> str | None:
        """The `struct` format of a layout of plain whole words in one byte order, else None."""
        format_ = struct_format(self.layout.fields, self.is_signed)
        return (
            None
            if format_ is None
            else format_ + "x" * (self.layout.size - struct.calcsize(format_))
        )

    def is_signed(self, field: Field) -> bool:
        """Whether a word reads as a signed number; only a stamp can."""
        form = self.layout.stamp
        return field.part == "stamp" and form is not None and form.signed

    def words(self, raw: bytes) -> tuple[int, ...]:
        """The words of a block, in the order of the table."""
        if self._struct is not None:
            return self._struct.unpack(raw)
        return tuple(read_number(raw, field, self.is_signed(field)) for field in self.layout.fields)

    def word(self, raw: bytes, field: Field) -> int:
        """One word of a block as an unsigned integer: its bits."""
        return int.from_bytes(raw[field.offset : field.end], field.order)

    def put_word(self, raw: bytes, field: Field, word: int) -> bytes:
        """A block's bytes with one word replaced; a negative one is stored in two's complement.

        The checksum is made again if a byte that it covers changes, and only then.
        """
        block = bytearray(raw)
        store_word(block, field, word)
        return self._summed_again(raw, bytes(block))

    def fits(self, raw: bytes) -> bool:
        """Whether no word of a clock has a bit set past its register's width, none says what no
        clock can hold, and constants are there."""
        if int.from_bytes(raw, "little") & self.stray_mask:
            return False
        if self.parts["constant"] or self._loose:
            return not self.wrong_constants(raw) and not self.misfits(raw)
        return True

    def wrong_constants(self, raw: bytes) -> tuple[Field, ...]:
        """The constants that a block does not hold."""
        return tuple(
            field
            for field in self.parts["constant"]
            if raw[field.offset : field.end] != field.constant
        )

    def misfits(self, raw: bytes) -> tuple[tuple[Field, int], ...]:
        """Words whose value no clock can hold (invalid digits, a year 120), with that value.

        Parts of whole registers have none: their clocks hold whatever the registers do.
        """
        misfits = []
        for part in self._loose:
            clock = self.clock_in(raw, part)
            if clock is None:
                continue
            for field, piece in zip(self.parts[part], self._pieces(clock, part), strict=True):
                word = self.word(raw, field) & field.mask
                if word != piece & field.mask:
                    misfits.append((field, word))
        return tuple(misfits)

    def checksum_of(self, raw: bytes) -> bytes | None:
        """The checksum that a block should hold, as its bytes; None if the layout has none."""
        checksum = self.layout.checksum
        if checksum is None:
            return None
        (field,) = self.parts["checksum"]
        return (
            SUMS[checksum.kind]
            .of(raw[checksum.start : checksum.end])
            .to_bytes(field.size, field.order)
        )

    def checksum_wrong(self, raw: bytes) -> bool:
        """Whether a block's checksum is not the one it should hold."""
        return self.with_checksum(raw) != raw

    def with_checksum(self, raw: bytes) -> bytes:
        """A block's bytes with its checksum set right."""
        right = self.checksum_of(raw)
        if right is None:
            return raw
        (field,) = self.parts["checksum"]
        return raw[: field.offset] + right + raw[field.end :]

    def _summed_again(self, before: bytes, after: bytes) -> bytes:
        """The bytes with the checksum made again if a byte that it covers has changed."""
        checksum = self.layout.checksum
        if checksum is None:
            return after
        covered = slice(checksum.start, checksum.end)
        return after if before[covered] == after[covered] else self.with_checksum(after)

    def blank(self) -> bytes:
        """A block of zeros, its constants and checksum in place."""
        raw = bytes(self.layout.size)
        for field in self.parts["constant"]:
            raw = raw[: field.offset] + field.constant + raw[field.end :]
        return self.with_checksum(raw)

    def running(self, raw: bytes) -> Clock:
        """The running clock of a block; every layout has one."""
        registers = self._running
        if registers is not None:
            return self.clock_type.from_words(registers.unpack_from(raw))
        clock = self.clock_in(raw, "running")
        assert clock is not None, "every layout has running registers"
        return clock

    def clock_in(self, raw: bytes, part: ClockPart) -> Clock | None:
        """The running or latched clock of a block; None if the layout has no such part."""
        registers = self._registers[part]
        if registers is not None:
            return self.clock_type.from_words(registers.unpack_from(raw))
        whole = self._whole[part]
        if whole is not None:
            return self.clock_type.from_words(self.words(raw)[whole])
        if not self.parts[part]:
            return None
        values = {field.name: 0 for field in self.clock_type.FIELDS}
        for word_field in self.parts[part]:
            word = self.word(raw, word_field)
            for bits in word_field.bits:
                piece = (word & bits.mask) >> bits.at
                if bits.bcd:
                    values[bits.field] += from_bcd(piece) * 10**bits.onto
                else:
                    values[bits.field] |= piece << bits.onto
        return self.clock_type.nearest(values)

    def put_clock(self, raw: bytes, part: ClockPart, clock: Clock) -> bytes:
        """A block's bytes with a clock put into one part; every other bit stays as it was."""
        block = bytearray(raw)
        for field, piece in zip(self.parts[part], self._pieces(clock, part), strict=True):
            word = self.word(raw, field) & ~field.mask | piece & field.mask
            store_word(block, field, word)
        return self._summed_again(raw, bytes(block))

    def _pieces(self, clock: Clock, part: ClockPart) -> Sequence[int]:
        """What a clock puts into each word of a part."""
        if self._whole[part] is not None:
            return clock.registers()
        values = clock.values()
        pieces = []
        for field in self.parts[part]:
            word = 0
            for bits in field.bits:
                value = int(values[bits.field])
                piece = to_bcd(value // 10**bits.onto) if bits.bcd else value >> bits.onto
                word |= piece << bits.at & bits.mask
            pieces.append(word)
        return pieces

    def stamp_in(self, raw: bytes) -> int | None:
        """The raw stamp of a block, signed as its form says; None if the layout has none."""
        if self.layout.stamp is None:
            return None
        (field,) = self.parts["stamp"]
        return int.from_bytes(
            raw[field.offset : field.end], field.order, signed=self.layout.stamp.signed
        )

    def put_stamp(self, raw: bytes, stamp: int) -> bytes:
        """A block's bytes with another raw stamp, which must fit: `StampForm.to_raw` sees to it."""
        (field,) = self.parts["stamp"]
        return self.put_word(raw, field, stamp)

    def undescribed(self, raw: bytes) -> tuple[int, ...]:
        """The offsets of the bytes that no word describes and that are not zero: unknown bytes."""
        described = {at for f in self.layout.fields for at in range(f.offset, f.end)}
        return tuple(at for at, byte in enumerate(raw) if byte and at not in described)


_MOST_KEPT: Final = 256
_made: dict[int, Codec] = {}


def codec(layout: Layout) -> Codec:
    """The codec of a layout, made once; found by the layout's identity, since every read asks for it."""
    known = _made.get(id(layout))
    if known is not None and known.layout is layout:
        return known
    if len(_made) >= _MOST_KEPT:
        _made.clear()
    _made[id(layout)] = made = Codec(layout)
    return made
