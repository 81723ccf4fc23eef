"""A layout as data: the one statement of where a clock lies in a block's bytes.

From the table come the masks that tell a block from noise, a `struct` format (the fast path) for
layouts of plain whole words, and the construct object (`engine`), which serves every layout.
"""

from __future__ import annotations

import struct
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from typing import Any, Final

from rtcsave.clocks import Clock, CounterClock, Register
from rtcsave.errors import BadArgument, shown
from rtcsave.layouts.fields import (
    CLOCKS,
    PARTS,
    SUMS,
    Checksum,
    Field,
    Order,
    Part,
    from_bcd,
    to_bcd,
)
from rtcsave.layouts.soundness import refuse_nonsense
from rtcsave.stamps import StampForm

_STRUCT_LETTERS: Final = {1: "b", 2: "h", 4: "i", 8: "q"}


@dataclass(frozen=True, slots=True, kw_only=True, repr=False)
class Layout:
    """How a clock block is laid out: `size` bytes holding the words of `fields`.

    `clock` is the kind of clock, `stamp` how its stamp is to be read (None: there is none). A
    layout that is `alone` is only ever a file of its own, never behind a memory image.
    """

    name: str
    size: int
    fields: tuple[Field, ...]
    clock: str = CounterClock.kind
    stamp: StampForm | None = None
    checksum: Checksum | None = None
    standalone: bool = False
    summary: str = ""

    clock_type: type[Clock] = field(init=False, repr=False, compare=False)
    _constants: tuple[Field, ...] = field(init=False, repr=False, compare=False)
    _loose: tuple[Part, ...] = field(init=False, repr=False, compare=False)
    _parts: dict[str, tuple[Field, ...]] = field(init=False, repr=False, compare=False)
    _whole: dict[str, slice | None] = field(init=False, repr=False, compare=False)
    _stray_mask: int = field(init=False, repr=False, compare=False)
    _unpack: Callable[[bytes], tuple[int, ...]] = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        refuse_nonsense(self)
        put = object.__setattr__
        put(self, "clock_type", CLOCKS[self.clock])
        parts: dict[str, list[Field]] = {name: [] for name in PARTS}
        for one in self.fields:
            parts[one.part].append(one)
        put(self, "_parts", {part: tuple(found) for part, found in parts.items()})
        put(self, "_constants", tuple(parts["constant"]))
        halves: tuple[Part, ...] = ("running", "latched")
        put(self, "_whole", {part: self._register_words(part) for part in halves})
        loose = [one for one in halves if self._parts[one] and self._whole[one] is None]
        put(self, "_loose", tuple(loose))
        put(self, "_stray_mask", self._mask_of_stray_bits())
        format_ = self.struct_format
        put(self, "_unpack", struct.Struct(format_).unpack if format_ else self._unpack_by_engine)

    def _register_words(self, part: str) -> slice | None:
        """Where the words of a half stand in the table, if they are the clock's registers one by
        one: then the clock reads them as they are."""
        places = [i for i, one in enumerate(self.fields) if one.part == part]
        registers = self.clock_type.REGISTERS
        if [self.fields[i].bits for i in places] != [register.bits for register in registers]:
            return None
        if places != list(range(places[0], places[0] + len(places))):
            return None
        return slice(places[0], places[-1] + 1)

    def _mask_of_stray_bits(self) -> int:
        """Ones where a clock's word has bits that mean nothing, over the block read as one
        little-endian integer."""
        stray = bytearray(self.size)
        for one in self.fields:
            unused = ((1 << 8 * one.size) - 1) & ~one.mask
            stray[one.offset : one.end] = unused.to_bytes(one.size, one.order)
        return int.from_bytes(stray, "little")

    @property
    def struct_format(self) -> str | None:
        """The `struct` format of a layout of plain whole words in one byte order, else None."""
        at = 0
        letters = ""
        for one in self.fields:
            if one.size not in _STRUCT_LETTERS or one.order != self.fields[0].order:
                return None
            if one.offset < at:
                return None
            letters += "x" * (one.offset - at)
            letter = _STRUCT_LETTERS[one.size]
            letters += letter if self.is_signed(one) else letter.upper()
            at = one.end
        if not letters:
            return None
        return ("<" if self.fields[0].order == "little" else ">") + letters + "x" * (self.size - at)

    def is_signed(self, one: Field) -> bool:
        """Whether a field's word reads as a signed number; only a stamp can."""
        return one.part == "stamp" and self.stamp is not None and self.stamp.signed

    def construct(self) -> Any:
        """The construct object built from the table: the general engine, loaded when asked for."""
        from rtcsave.layouts.engine import Word, struct_of

        words = tuple(
            Word(one.name, one.offset, one.size, self.is_signed(one), one.order == "little")
            for one in self.fields
        )
        return struct_of(self.size, words)

    def _unpack_by_engine(self, raw: bytes) -> tuple[int, ...]:
        words = self.construct().parse(raw)
        return tuple(words[one.name] for one in self.fields)

    def words(self, raw: bytes) -> tuple[int, ...]:
        """The words of a block, in the order of the table."""
        return self._unpack(raw)

    def part(self, name: Part) -> tuple[Field, ...]:
        """The fields of one part: running, latched or stamp."""
        return self._parts[name]

    def fits(self, raw: bytes) -> bool:
        """Whether no word of a clock has a bit set past its register's width, none says what no
        clock can hold, and constants are there."""
        if int.from_bytes(raw, "little") & self._stray_mask:
            return False
        if self._constants or self._loose:
            return not self.wrong_constants(raw) and not self.misfits(raw)
        return True

    def wrong_constants(self, raw: bytes) -> tuple[Field, ...]:
        """The constants that a block does not hold."""
        return tuple(one for one in self._constants if raw[one.offset : one.end] != one.constant)

    def misfits(self, raw: bytes) -> tuple[tuple[Field, int], ...]:
        """Words that say what no clock can hold (digits that are none, a year 120), with that.

        Halves of whole registers have none: their clocks hold whatever the registers do.
        """
        found = []
        for part in self._loose:
            clock = self.clock_in(raw, part)
            if clock is None:
                continue
            for one, piece in zip(self._parts[part], self._pieces(clock, part), strict=True):
                held = self.word(raw, one) & one.mask
                if held != piece & one.mask:
                    found.append((one, held))
        return tuple(found)

    def checksum_of(self, raw: bytes) -> bytes | None:
        """The checksum that a block should hold, as its bytes; None if the layout has none."""
        if self.checksum is None:
            return None
        (one,) = self._parts["checksum"]
        covered = raw[self.checksum.start : self.checksum.end]
        return SUMS[self.checksum.kind](covered).to_bytes(one.size, one.order)

    def checksum_wrong(self, raw: bytes) -> bool:
        """Whether a block's checksum is not the one it should hold."""
        right = self.checksum_of(raw)
        if right is None:
            return False
        (one,) = self._parts["checksum"]
        return raw[one.offset : one.end] != right

    def with_checksum(self, raw: bytes) -> bytes:
        """A block's bytes with its checksum set right."""
        right = self.checksum_of(raw)
        if right is None:
            return raw
        (one,) = self._parts["checksum"]
        return raw[: one.offset] + right + raw[one.end :]

    def _summed_again(self, before: bytes, after: bytes) -> bytes:
        """The bytes with the checksum recomputed if a byte that it covers has changed."""
        if self.checksum is None:
            return after
        covered = slice(self.checksum.start, self.checksum.end)
        return after if before[covered] == after[covered] else self.with_checksum(after)

    def blank(self) -> bytes:
        """A block of zeros, its constants and checksum in place."""
        raw = bytes(self.size)
        for one in self._constants:
            raw = raw[: one.offset] + one.constant + raw[one.end :]
        return self.with_checksum(raw)

    def clock_in(self, raw: bytes, part: Part) -> Clock | None:
        """The running or latched clock of a block; None if the layout has no such half."""
        whole = self._whole[part]
        if whole is not None:
            return self.clock_type.from_words(self._unpack(raw)[whole])
        if not self._parts[part]:
            return None
        return self.clock_type.nearest(self._values_in(raw, part))

    def _values_in(self, raw: bytes, part: Part) -> dict[str, int]:
        """The fields of a clock that a half of a block holds, the others 0."""
        values = {one.name: 0 for one in self.clock_type.FIELDS}
        for one in self._parts[part]:
            word = self.word(raw, one)
            for bits in one.bits:
                held = (word & bits.mask) >> bits.at
                if bits.bcd:
                    values[bits.field] += from_bcd(held) * 10**bits.onto
                else:
                    values[bits.field] |= held << bits.onto
        return values

    def put_clock(self, raw: bytes, part: Part, clock: Clock) -> bytes:
        """A block's bytes with a clock put into one half; every other bit stays as it was."""
        block = bytearray(raw)
        for one, held in zip(self._parts[part], self._pieces(clock, part), strict=True):
            word = self.word(raw, one) & ~one.mask | held & one.mask
            block[one.offset : one.end] = word.to_bytes(one.size, one.order)
        return self._summed_again(raw, bytes(block))

    def _pieces(self, clock: Clock, part: Part) -> Sequence[int]:
        """What a clock puts into each word of a half."""
        if self._whole[part] is not None:
            return clock.registers()
        values = clock.values()
        pieces = []
        for one in self._parts[part]:
            word = 0
            for bits in one.bits:
                value = int(values[bits.field])
                if bits.bcd:
                    piece = to_bcd(value // 10**bits.onto)
                else:
                    piece = value >> bits.onto
                word |= piece << bits.at & bits.mask
            pieces.append(word)
        return pieces

    def word(self, raw: bytes, one: Field) -> int:
        """One word of a block as an unsigned integer."""
        return int.from_bytes(raw[one.offset : one.end], one.order)

    def put_word(self, raw: bytes, one: Field, word: int) -> bytes:
        """A block's bytes with one word replaced; a negative one is stored in two's complement."""
        stored = (word & (1 << 8 * one.size) - 1).to_bytes(one.size, one.order)
        return self._summed_again(raw, raw[: one.offset] + stored + raw[one.end :])

    def stamp_in(self, raw: bytes) -> int | None:
        """The raw stamp of a block, signed as its form says; None if the layout has none."""
        if self.stamp is None:
            return None
        (one,) = self._parts["stamp"]
        return int.from_bytes(raw[one.offset : one.end], one.order, signed=self.stamp.signed)

    def put_stamp(self, raw: bytes, stamp: int) -> bytes:
        """A block's bytes with another raw stamp, which must fit: `StampForm.to_raw` sees to it."""
        (one,) = self._parts["stamp"]
        return self.put_word(raw, one, stamp)

    def undescribed(self, raw: bytes) -> tuple[int, ...]:
        """The offsets of the bytes that no field describes and that are not zero."""
        described = {at for one in self.fields for at in range(one.offset, one.end)}
        return tuple(at for at, byte in enumerate(raw) if byte and at not in described)

    def field_at(self, offset: int) -> Field | None:
        """The field that holds the byte at an offset of the block, if any does."""
        return next((one for one in self.fields if one.offset <= offset < one.end), None)

    def __repr__(self) -> str:
        return f"<Layout {self.name}: {self.size} bytes, {self.clock} clock>"

    def __reduce__(self) -> tuple[Any, ...]:
        names = ("name", "size", "clock", "fields", "stamp", "checksum", "standalone", "summary")
        return _rebuild, ({name: getattr(self, name) for name in names},)


def _rebuild(values: dict[str, Any]) -> Layout:
    return Layout(**values)


def register_words(
    registers: Sequence[Register], part: Part, size: int, order: Order, start: int
) -> Sequence[Field]:
    """The fields of a half in which each of some registers of a clock has a word of its own."""
    return [
        Field(
            name=f"{part}_{register.name}",
            offset=start + size * at,
            size=size,
            part=part,
            order=order,
            bits=register.bits,
        )
        for at, register in enumerate(registers)
    ]


def check_layouts(layouts: object) -> tuple[Layout, ...]:
    """Return `layouts` as a tuple if each is one; `BadArgument` if not."""
    if isinstance(layouts, (str, bytes)) or not isinstance(layouts, Iterable):
        raise BadArgument("this is no row of layouts", found=shown(layouts))
    return tuple(check_layout_type(one) for one in layouts)


def check_layout_type(layout: object) -> Layout:
    """Return `layout` if it is one; `BadArgument` if not."""
    if not isinstance(layout, Layout):
        raise BadArgument(
            "this is not a layout",
            found=shown(layout),
            expected="a layout's name or a Layout",
        )
    return layout
