"""Whether a layout's table holds together: everything that could go wrong later is refused here."""

from __future__ import annotations

from typing import Protocol

from rtcsave.errors import BadDescription, number_of, refuse_wrong_types, shown
from rtcsave.layouts.fields import CLOCKS, LARGEST_BLOCK, SUMS, Checksum, Field
from rtcsave.stamps import StampForm


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
    _refuse_wrong_parts(layout)
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
            expected=f"1 to {LARGEST_BLOCK:,} bytes",
        )
    _refuse_odd_parts(layout, where)
    taken: dict[int, str] = {}
    for field in layout.fields:
        if field.offset < 0 or field.size < 1 or field.end > layout.size:
            raise BadDescription(
                f"field {field.name} lies outside the block",
                where=where,
                found=f"bytes {field.offset} to {field.end - 1}",
                expected=f"bytes 0 to {layout.size - 1}",
            )
        for at in range(field.offset, field.end):
            if at in taken:
                raise BadDescription(
                    f"fields {taken[at]} and {field.name} overlap",
                    where=where,
                    found=f"byte {at} in both",
                    expected="each byte in one field",
                )
            taken[at] = field.name


def _refuse_wrong_parts(layout: Table) -> None:
    """Refuse what is no part of a table, before anything looks at it."""
    refuse_wrong_types(layout, {"name": str, "clock": str, "size": int})
    if type(layout.fields) is not tuple or not all(type(f) is Field for f in layout.fields):
        raise BadDescription(
            "a layout's fields are a tuple of Field",
            where=f"layout {layout.name}",
            found=shown(layout.fields),
        )
    if type(layout.checksum) not in (Checksum, type(None)):
        raise BadDescription("this is no Checksum", found=shown(layout.checksum))
    if type(layout.stamp) not in (StampForm, type(None)):
        raise BadDescription("this is no way to read a stamp", found=shown(layout.stamp))


def _refuse_odd_parts(layout: Table, where: str) -> None:
    """Refuse a table without a clock, with two stamps, or with bits that no clock has."""
    names = [field.name for field in layout.fields]
    if len(set(names)) != len(names):
        raise BadDescription(
            "two fields have one name",
            where=where,
            found=", ".join(names),
            expected="a name of its own for each",
        )
    if not any(field.part == "running" for field in layout.fields):
        raise BadDescription(
            "there are no running registers",
            where=where,
            found=", ".join(names) or "no fields",
            expected="a field of part running",
        )
    stamps = [field for field in layout.fields if field.part == "stamp"]
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
            found=number_of(stamps[0].size, "byte"),
            expected=number_of(layout.stamp.size, "byte"),
        )
    _refuse_odd_checksum(layout, where)
    _refuse_odd_fields(layout, where)
    _refuse_shared_bits(layout, where)


def _refuse_odd_fields(layout: Table, where: str) -> None:
    """Refuse bits that the clock does not have."""
    widths = {field.name: field.width for field in CLOCKS[layout.clock].FIELDS}
    for field in layout.fields:
        for bits in field.bits:
            if bits.field not in widths:
                raise BadDescription(
                    f"field {field.name} names what the {layout.clock} clock does not have",
                    where=where,
                    found=bits.field,
                    expected=", ".join(widths),
                )
            if not bits.bcd and bits.onto + bits.width > widths[bits.field]:
                raise BadDescription(
                    f"field {field.name} gives {bits.field} more bits than it has",
                    where=where,
                    found=f"bits {bits.onto} to {bits.onto + bits.width - 1}",
                    expected=f"{widths[bits.field]} bits",
                )


def _refuse_shared_bits(layout: Table, where: str) -> None:
    """Refuse bits of a word, or of a clock's field, that are named twice."""
    for part in ("running", "latched"):
        given: dict[tuple[str, int], str] = {}
        for field in layout.fields:
            if field.part != part:
                continue
            for bits in field.bits:
                steps = -(-bits.width // 4) if bits.bcd else bits.width
                for place in range(bits.onto, bits.onto + steps):
                    if (bits.field, place) in given:
                        raise BadDescription(
                            f"{given[bits.field, place]} and {field.name} both hold the same part "
                            f"of {bits.field}",
                            where=where,
                            found=f"place {place} of it twice",
                            expected="each part in one field",
                        )
                    given[bits.field, place] = field.name


def _refuse_odd_checksum(layout: Table, where: str) -> None:
    sums = [field for field in layout.fields if field.part == "checksum"]
    if len(sums) != (layout.checksum is not None):
        raise BadDescription(
            "a layout has one checksum field if it says how it is made, else none",
            where=where,
            found=f"{len(sums)} checksum fields",
            expected="one" if layout.checksum is not None else "none",
        )
    if layout.checksum is None:
        return
    (field,), made = sums, layout.checksum
    if field.size < SUMS[made.kind].size:
        raise BadDescription(
            "the checksum does not fit its field",
            where=where,
            found=number_of(field.size, "byte"),
            expected=number_of(SUMS[made.kind].size, "byte"),
        )
    if made.end > layout.size:
        raise BadDescription(
            "the checksum covers bytes outside the block",
            where=where,
            found=f"bytes {made.start} to {made.end - 1}",
            expected=f"bytes 0 to {layout.size - 1}",
        )
    if made.start < field.end and field.offset < made.end:
        raise BadDescription(
            "the checksum covers itself",
            where=where,
            found=f"bytes {made.start} to {made.end - 1}, itself at {field.offset} to {field.end - 1}",
            expected="bytes that are not its own",
        )
