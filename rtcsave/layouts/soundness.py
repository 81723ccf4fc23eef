"""Whether a layout's table holds together: everything that could go wrong later is refused here."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Final, Protocol

from rtcsave.clocks import Bits
from rtcsave.errors import BadDescription, shown
from rtcsave.layouts.fields import CLOCKS, LARGEST_BLOCK, SUM_BYTES, SUMS, Checksum, Field
from rtcsave.stamps import StampForm
from rtcsave.when import check_zone

NAME: Final = re.compile(r"[^\W\d_][\w.-]{0,63}")
"""A field's name: it stands in JSON, in the diff of bytes, and in construct's containers."""

LARGEST_STAMP: Final = 8
"""Bytes of the widest stamp."""


class Table(Protocol):
    """What of a layout is judged."""

    @property
    def name(self) -> str: ...  # noqa: D102
    @property
    def size(self) -> int: ...  # noqa: D102
    @property
    def clock(self) -> str: ...  # noqa: D102
    @property
    def fields(self) -> tuple[Field, ...]: ...  # noqa: D102
    @property
    def stamp(self) -> StampForm | None: ...  # noqa: D102
    @property
    def checksum(self) -> Checksum | None: ...  # noqa: D102


def refuse_nonsense(layout: Table) -> None:
    """Raise `BadDescription` for the first thing in a layout's table that does not hold together."""
    _refuse_wrong_types(layout)
    where = f"layout {layout.name}"
    if layout.clock not in CLOCKS:
        raise BadDescription(
            "unknown kind of clock", where=where, found=layout.clock, expected=", ".join(CLOCKS)
        )
    if not 1 <= layout.size <= LARGEST_BLOCK:
        raise BadDescription(
            "a block has no such size",
            where=where,
            found=shown(layout.size),
            expected=f"1 to {LARGEST_BLOCK} bytes",
        )
    _refuse_odd_parts(layout, where)
    taken: dict[int, str] = {}
    for one in layout.fields:
        if one.offset < 0 or one.size < 1 or one.end > layout.size:
            raise BadDescription(
                f"field {one.name} lies outside the block",
                where=where,
                found=f"bytes {one.offset} to {one.end - 1}",
                expected=f"bytes 0 to {layout.size - 1}",
            )
        for at in range(one.offset, one.end):
            if at in taken:
                raise BadDescription(
                    f"fields {taken[at]} and {one.name} overlap",
                    where=where,
                    found=f"byte {at} in both",
                    expected="each byte in one field",
                )
            taken[at] = one.name


_FIELD_TYPES: Final = {"name": str, "offset": int, "size": int, "bits": tuple, "constant": bytes}
_BITS_TYPES: Final = {"field": str, "width": int, "at": int, "onto": int, "bcd": bool}
_CHECKSUM_TYPES: Final = {"kind": str, "start": int, "end": int}


def _refuse_wrong_type(part: object, types: Mapping[str, type]) -> None:
    """Refuse a part of a table in which something is of another type than it has to be."""
    for name, kind in types.items():
        value = getattr(part, name)
        if type(value) is not kind:
            raise BadDescription(
                f"{name} of a {type(part).__name__} has the wrong type",
                found=shown(value),
                expected=kind.__name__,
            )


def _refuse_wrong_types(layout: Table) -> None:
    """Refuse what is of another type than the table's parts have, before anything looks at it."""
    for name, kind in (("name", str), ("clock", str), ("size", int)):
        value = getattr(layout, name)
        if type(value) is not kind:
            raise BadDescription(
                f"a layout's {name} has the wrong type",
                found=shown(value),
                expected="text" if kind is str else "a whole number",
            )
    if type(layout.fields) is not tuple or not all(type(one) is Field for one in layout.fields):
        raise BadDescription(
            "a layout's fields are a tuple of Field",
            where=f"layout {layout.name}",
            found=shown(layout.fields),
        )
    for one in layout.fields:
        _refuse_wrong_type(one, _FIELD_TYPES)
        for bits in one.bits:
            if type(bits) is not Bits:
                raise BadDescription("bits are a tuple of Bits", where=one.name, found=shown(bits))
            _refuse_wrong_type(bits, _BITS_TYPES)
        if not NAME.fullmatch(one.name):
            raise BadDescription(
                f"field {one.name!r} has a name that is none",
                found=shown(one.name),
                expected="1 to 64 letters, digits, '_', '-' and '.', beginning with a letter",
            )
        if one.order not in ("little", "big"):
            raise BadDescription(
                f"field {one.name} has an unknown order",
                found=shown(one.order),
                expected="little or big",
            )
    if layout.checksum is not None:
        if type(layout.checksum) is not Checksum:
            raise BadDescription("this is no Checksum", found=shown(layout.checksum))
        _refuse_wrong_type(layout.checksum, _CHECKSUM_TYPES)
    form = layout.stamp
    if form is None:
        return
    sound = (
        type(form) is StampForm
        and type(form.size) is int
        and type(form.counts_per_second) is int
        and type(form.epoch_unix_s) is int
        and type(form.zone) is str
        and type(form.signed) is bool
        and 1 <= form.size <= LARGEST_STAMP
        and form.counts_per_second >= 1
    )
    if not sound:
        raise BadDescription(
            "this is no way to read a stamp",
            where=f"layout {layout.name}",
            found=shown(form),
            expected=f"a StampForm of 1 to {LARGEST_STAMP} bytes and 1 count a second or more",
        )
    if form.zone:
        check_zone(form.zone)


def _refuse_odd_parts(layout: Table, where: str) -> None:
    """Refuse a table without a clock, with two stamps, or with bits that no clock has."""
    names = [one.name for one in layout.fields]
    if len(set(names)) != len(names):
        raise BadDescription(
            "two fields have one name",
            where=where,
            found=", ".join(names),
            expected="a name of its own for each",
        )
    if not any(one.part == "running" for one in layout.fields):
        raise BadDescription(
            "there are no running registers",
            where=where,
            found=", ".join(names) or "no fields",
            expected="a field of part running",
        )
    stamps = [one for one in layout.fields if one.part == "stamp"]
    if len(stamps) != (layout.stamp is not None):
        raise BadDescription(
            "a layout has one stamp field if it says how a stamp is read, else none",
            where=where,
            found=f"{len(stamps)} stamp fields",
            expected="one" if layout.stamp is not None else "none",
        )
    if layout.stamp is not None and stamps[0].size != layout.stamp.size:
        raise BadDescription(
            "the stamp's field and its form differ in size",
            where=where,
            found=f"{stamps[0].size} bytes",
            expected=f"{layout.stamp.size} bytes",
        )
    _refuse_odd_checksum(layout, where)
    widths = {one.name: one.width for one in CLOCKS[layout.clock].FIELDS}
    for one in layout.fields:
        if one.part == "constant" and len(one.constant) != one.size:
            raise BadDescription(
                f"constant {one.name} does not fill its field",
                where=where,
                found=f"{len(one.constant)} bytes",
                expected=f"{one.size} bytes",
            )
        for bits in one.bits:
            if bits.field not in widths:
                raise BadDescription(
                    f"field {one.name} names what the {layout.clock} clock does not have",
                    where=where,
                    found=bits.field,
                    expected=", ".join(widths),
                )
            if bits.width < 1 or bits.at < 0 or bits.at + bits.width > 8 * one.size:
                raise BadDescription(
                    f"bits of {one.name} lie outside its {8 * one.size} bits",
                    where=where,
                    found=f"bits {bits.at} to {bits.at + bits.width - 1}",
                    expected=f"bits 0 to {8 * one.size - 1}",
                )
            if bits.onto < 0 or (not bits.bcd and bits.onto + bits.width > widths[bits.field]):
                raise BadDescription(
                    f"field {one.name} gives {bits.field} more bits than it has",
                    where=where,
                    found=f"bits {bits.onto} to {bits.onto + bits.width - 1}",
                    expected=f"{widths[bits.field]} bits",
                )
    _refuse_shared_bits(layout, where)


def _refuse_shared_bits(layout: Table, where: str) -> None:
    """Refuse bits of a word, or of a clock's field, that are named twice."""
    for part in ("running", "latched"):
        given: dict[tuple[str, int], str] = {}
        for one in layout.fields:
            if one.part != part:
                continue
            taken = 0
            for bits in one.bits:
                if taken & bits.mask:
                    raise BadDescription(
                        f"bits of {one.name} are named twice",
                        where=where,
                        found=f"bits {bits.at} to {bits.at + bits.width - 1} once more",
                        expected="each bit named once",
                    )
                taken |= bits.mask
                steps = -(-bits.width // 4) if bits.bcd else bits.width
                for place in range(bits.onto, bits.onto + steps):
                    if (bits.field, place) in given:
                        raise BadDescription(
                            f"{given[bits.field, place]} and {one.name} both hold the same part "
                            f"of {bits.field}",
                            where=where,
                            found=f"place {place} of it twice",
                            expected="each part in one field",
                        )
                    given[bits.field, place] = one.name


def _refuse_odd_checksum(layout: Table, where: str) -> None:
    sums = [one for one in layout.fields if one.part == "checksum"]
    if len(sums) != (layout.checksum is not None):
        raise BadDescription(
            "a layout has one checksum field if it says how it is made, else none",
            where=where,
            found=f"{len(sums)} checksum fields",
            expected="one" if layout.checksum is not None else "none",
        )
    if layout.checksum is None:
        return
    (one,), made = sums, layout.checksum
    if made.kind not in SUMS:
        raise BadDescription(
            "unknown checksum", where=where, found=shown(made.kind), expected=", ".join(SUMS)
        )
    if one.size < SUM_BYTES[made.kind]:
        raise BadDescription(
            "the checksum has no room",
            where=where,
            found=f"{one.size} bytes",
            expected=f"{SUM_BYTES[made.kind]} bytes",
        )
    if not 0 <= made.start < made.end <= layout.size:
        raise BadDescription(
            "the checksum covers bytes outside the block",
            where=where,
            found=f"bytes {made.start} to {made.end - 1}",
            expected=f"bytes 0 to {layout.size - 1}",
        )
    if made.start < one.end and one.offset < made.end:
        raise BadDescription(
            "the checksum covers itself",
            where=where,
            found=f"bytes {made.start} to {made.end - 1}, itself at {one.offset} to {one.end - 1}",
            expected="bytes that are not its own",
        )
