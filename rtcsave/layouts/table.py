"""A layout as data: the one statement of where a clock lies in a block's bytes.

From the table come the masks that tell a block from noise, a `struct` format (the fast path) for
layouts of plain whole words, and the construct object (`engine`), which serves every layout.
"""

from __future__ import annotations

import struct
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, Final, Literal

from rtcsave.clocks import Bits, CalendarClock, Clock, CounterClock, MinuteClock, Register
from rtcsave.errors import BadArgument, BadDescription, shown
from rtcsave.stamps import StampForm

Order = Literal["little", "big"]
Part = Literal["running", "latched", "stamp"]

CLOCKS: Final[Mapping[str, type[Clock]]] = {
    clock.kind: clock for clock in (CounterClock, MinuteClock, CalendarClock)
}
"""The kinds of clock that a layout can hold."""

_STRUCT_LETTERS: Final = {1: "b", 2: "h", 4: "i", 8: "q"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Field:
    """One stored word: `size` bytes at `offset` from the block's start, in one byte order.

    `part` says what it belongs to; `bits` says which of its bits are which bits of the clock. The
    bits that nothing names are kept, and are stray where one is set.
    """

    name: str
    offset: int
    size: int
    part: Part
    order: Order = "little"
    bits: tuple[Bits, ...] = ()

    @property
    def end(self) -> int:
        """The offset of the first byte behind the field."""
        return self.offset + self.size

    @property
    def mask(self) -> int:
        """The bits of the word that mean something; all of them for a stamp."""
        if self.part == "stamp":
            return (1 << 8 * self.size) - 1
        mask = 0
        for part in self.bits:
            mask |= part.mask
        return mask


@dataclass(frozen=True, slots=True, kw_only=True, repr=False)
class Layout:
    """How a clock block is laid out: `size` bytes holding the words of `fields`.

    `clock` is the kind of clock, `stamp` how its stamp is to be read (None: there is none). A
    layout that is `alone` is only ever a file of its own, never behind a memory image.
    """

    name: str
    size: int
    clock: str
    fields: tuple[Field, ...]
    stamp: StampForm | None = None
    alone: bool = False
    summary: str = ""

    clock_type: type[Clock] = field(init=False, repr=False, compare=False)
    _parts: dict[str, tuple[Field, ...]] = field(init=False, repr=False, compare=False)
    _whole: dict[str, slice | None] = field(init=False, repr=False, compare=False)
    _stray_mask: int = field(init=False, repr=False, compare=False)
    _unpack: Callable[[bytes], tuple[int, ...]] = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        self._refuse_nonsense()
        put = object.__setattr__
        put(self, "clock_type", CLOCKS[self.clock])
        parts: dict[str, list[Field]] = {"running": [], "latched": [], "stamp": []}
        for one in self.fields:
            parts[one.part].append(one)
        put(self, "_parts", {part: tuple(found) for part, found in parts.items()})
        put(self, "_whole", {part: self._register_words(part) for part in ("running", "latched")})
        put(self, "_stray_mask", self._mask_of_stray_bits())
        format_ = self.struct_format
        put(self, "_unpack", struct.Struct(format_).unpack if format_ else self._unpack_by_engine)

    def _refuse_nonsense(self) -> None:
        where = f"layout {self.name}"
        if self.clock not in CLOCKS:
            raise BadDescription(
                "unknown kind of clock", where=where, found=self.clock, expected=", ".join(CLOCKS)
            )
        self._refuse_odd_parts(where)
        taken: dict[int, str] = {}
        for one in self.fields:
            if one.offset < 0 or one.size < 1 or one.end > self.size:
                raise BadDescription(
                    f"field {one.name} lies outside the block",
                    where=where,
                    found=f"bytes {one.offset} to {one.end - 1}",
                    expected=f"bytes 0 to {self.size - 1}",
                )
            for at in range(one.offset, one.end):
                if at in taken:
                    raise BadDescription(
                        f"fields {taken[at]} and {one.name} overlap",
                        where=where,
                        found=f"byte {at}",
                    )
                taken[at] = one.name

    def _refuse_odd_parts(self, where: str) -> None:
        """Refuse a table without a clock, with two stamps, or with bits that no clock has."""
        names = [one.name for one in self.fields]
        if len(set(names)) != len(names):
            raise BadDescription("two fields have one name", where=where, found=", ".join(names))
        if not any(one.part == "running" for one in self.fields):
            raise BadDescription("there are no running registers", where=where)
        stamps = [one for one in self.fields if one.part == "stamp"]
        if len(stamps) != (self.stamp is not None):
            raise BadDescription(
                "a layout has one stamp field if it says how a stamp is read, else none",
                where=where,
                found=f"{len(stamps)} stamp fields",
            )
        if self.stamp is not None and stamps[0].size != self.stamp.size:
            raise BadDescription(
                "the stamp's field and its form differ in size",
                where=where,
                found=f"{stamps[0].size} bytes",
                expected=f"{self.stamp.size} bytes",
            )
        widths = {one.name: one.width for one in CLOCKS[self.clock].FIELDS}
        for one in self.fields:
            for bits in one.bits:
                if bits.field not in widths:
                    raise BadDescription(
                        f"field {one.name} names what the {self.clock} clock does not have",
                        where=where,
                        found=bits.field,
                        expected=", ".join(widths),
                    )
                if bits.width < 1 or bits.at < 0 or bits.at + bits.width > 8 * one.size:
                    raise BadDescription(
                        f"bits of {one.name} lie outside its {8 * one.size} bits",
                        where=where,
                        found=f"bits {bits.at} to {bits.at + bits.width - 1}",
                    )

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
        """Whether no word of a clock has a bit set past its register's width."""
        return not int.from_bytes(raw, "little") & self._stray_mask

    def clock_in(self, raw: bytes, part: Part) -> Clock | None:
        """The running or latched clock of a block; None if the layout has no such half."""
        whole = self._whole[part]
        if whole is not None:
            return self.clock_type.from_words(self._unpack(raw)[whole])
        if not self._parts[part]:
            return None
        return self.clock_type.from_values(self._values_in(raw, part))

    def _values_in(self, raw: bytes, part: Part) -> dict[str, int]:
        """The fields of a clock that a half of a block holds, the others 0."""
        values = {one.name: 0 for one in self.clock_type.FIELDS}
        for one in self._parts[part]:
            word = self.word(raw, one)
            for bits in one.bits:
                held = (word & bits.mask) >> bits.at
                if bits.bcd:
                    values[bits.field] += _from_bcd(held) * 10**bits.onto
                else:
                    values[bits.field] |= held << bits.onto
        return values

    def put_clock(self, raw: bytes, part: Part, clock: Clock) -> bytes:
        """A block's bytes with a clock put into one half; every other bit stays as it was."""
        block = bytearray(raw)
        for one, held in zip(self._parts[part], self._pieces(clock, part), strict=True):
            word = self.word(raw, one) & ~one.mask | held & one.mask
            block[one.offset : one.end] = word.to_bytes(one.size, one.order)
        return bytes(block)

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
                    piece = _to_bcd(value // 10**bits.onto)
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
        return raw[: one.offset] + stored + raw[one.end :]

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

    def field_at(self, offset: int) -> Field | None:
        """The field that holds the byte at an offset of the block, if any does."""
        return next((one for one in self.fields if one.offset <= offset < one.end), None)

    def __repr__(self) -> str:
        return f"<Layout {self.name}: {self.size} bytes, {self.clock} clock>"

    def __reduce__(self) -> tuple[Any, ...]:
        names = ("name", "size", "clock", "fields", "stamp", "alone", "summary")
        return _rebuild, ({name: getattr(self, name) for name in names},)


def _from_bcd(held: int) -> int:
    """The number that decimal digits of four bits each hold; a digit past 9 counts by its value."""
    number, place = 0, 1
    while held:
        number += (held & 0xF) * place
        held >>= 4
        place *= 10
    return number


def _to_bcd(number: int) -> int:
    """A number as decimal digits of four bits each."""
    held, shift = 0, 0
    while number:
        held |= number % 10 << shift
        number //= 10
        shift += 4
    return held


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
