"""Layouts described by a user, as TOML or as the same table of Python values.

`keys` has every key, `schema` what is made from them: a description to start from, and the JSON Schema
that lets an editor check one while it is typed. What comes out is a `Layout` like any built-in one.
"""

from __future__ import annotations

import contextlib
from collections.abc import Generator, Mapping
from datetime import date, datetime, timezone
from typing import Any

from rtcsave.clocks import Bits
from rtcsave.errors import BadArgument, BadDescription, RtcSaveError, shown
from rtcsave.layouts.fields import CLOCKS, SUMS, Checksum, ClockPart, Field, Order
from rtcsave.layouts.keys import STANDALONE, UNITS, Table
from rtcsave.layouts.table import Layout
from rtcsave.layouts.text import table_in
from rtcsave.stamps import StampForm
from rtcsave.when import check_zone, parse_instant, unix_seconds


def describe(text: str | Mapping[str, Any], source: str = "") -> Layout:
    """The layout that a description describes, as TOML text or as a table of Python values.

    `source` names where it came from, for errors. Whatever is wrong raises `BadDescription` naming
    the source, the key, what was found and what was expected.
    """
    if not isinstance(source, str):
        raise BadArgument("source is the name of a file", found=shown(source))
    table: Any = table_in(text, source) if isinstance(text, str) else text
    if not isinstance(table, Mapping):
        raise BadArgument("a description is TOML text or a table", found=shown(text))
    try:
        return _layout(Table("", table, "", source))
    except BadDescription as error:
        if source and not error.where.startswith(source):
            error.where = f"{source}, {error.where}"
        raise


def _layout(top: Table) -> Layout:
    name = top.text("name")
    if not name or len(name) > 64 or not all(c.isalnum() or c in "-_." for c in name):
        if "name" not in top:
            top.take("name")
        raise top.wrong("name", "this is no name", name, "letters, digits, '-', '_' and '.'")
    size, clock, order = top.number("size"), top.take("clock"), _order(top, "little")
    fields = [_field(table, clock, order, at) for at, table in enumerate(top.tables("field"))]
    fields += [_constant(table, at) for at, table in enumerate(top.tables("constant"))]
    stamp, checksum = None, None
    stamp_table, sum_table = top.table("stamp"), top.table("checksum")
    if stamp_table is not None:
        field, stamp = _stamp(stamp_table, order)
        fields.append(field)
    if sum_table is not None:
        field, checksum = _checksum(sum_table, order)
        fields.append(field)
    place, summary = top.take("place"), top.text("summary")
    top.refuse_others()
    if not fields:
        raise BadDescription("there are no fields", where=top.where("field"))
    try:
        return Layout(
            name=name,
            size=size,
            clock=clock,
            fields=tuple(fields),
            stamp=stamp,
            checksum=checksum,
            standalone=place == STANDALONE,
            summary=summary.strip(),
        )
    except BadDescription as error:
        error.where = top.where(_key_of(error, fields))
        raise


def _key_of(error: BadDescription, fields: list[Field]) -> str:
    """The key that an error about a table as a whole speaks of: of the last field that it names."""
    counted: dict[str, int] = {}
    name = next((word for word in ("checksum", "stamp") if word in error.what), "field")
    said = error.what.replace(",", " ").split()
    for field in fields:
        key = field.part if field.part in ("stamp", "checksum", "constant") else "field"
        at = counted.get(key, 0)
        counted[key] = at + 1
        if field.name in said:
            name = key if key in ("stamp", "checksum") else f"{key}[{at}]"
    return name


@contextlib.contextmanager
def _at(table: Table, key: str = "") -> Generator[None, None, None]:
    """Name the key in an error of a part that does not hold together."""
    try:
        yield
    except BadDescription as error:
        if "key " not in error.where:
            error.where = table.where(key)
        raise


def _order(table: Table, default: Order) -> Order:
    return "big" if table.take("order", default=default) == "big" else "little"


def _numbered(name: str, at: int) -> str:
    """A default name that the next one of its kind does not have."""
    return f"{name}_{at + 1}" if at else name


def _field(table: Table, clock: str, order: Order, at: int) -> Field:
    part: ClockPart = "latched" if table.take("part") == "latched" else "running"
    widths = {field.name: field.width for field in CLOCKS[clock].FIELDS}
    offset, size = table.number("offset"), table.number("bytes")
    if "bits" in table:
        bits = tuple(_bits(piece, widths) for piece in table.tables("bits"))
        if not bits:
            raise BadDescription("a word without bits holds nothing", where=table.where("bits"))
        table.refuse_others(but=("holds", "coding"))
        kind = _numbered("field", at)
    else:
        kind = table.take("holds", words=tuple(widths))
        if kind is None:
            raise BadDescription(
                "a key is missing", where=table.where("holds"), expected=", ".join(widths)
            )
        bcd = table.take("coding") == "bcd"
        width = 8 * size if bcd else min(widths[kind], 8 * size)
        bits = (Bits(field=kind, width=width, bcd=bcd),)
        table.refuse_others()
    with _at(table):
        return Field(
            name=table.take("name", default=f"{part}_{kind}"),
            offset=offset,
            size=size,
            part=part,
            order=_order(table, order),
            bits=bits,
        )


def _bits(table: Table, widths: Mapping[str, int]) -> Bits:
    name = table.take("holds", words=tuple(widths))
    table.refuse_others()
    with _at(table):
        return Bits(
            field=name,
            width=table.number("width", widths[name]),
            at=table.number("at"),
            onto=table.number("onto"),
            bcd=table.take("coding") == "bcd",
        )


def _constant(table: Table, at: int) -> Field:
    if "text" in table:
        text = table.text("text")
        if not text.isascii():
            raise table.wrong("text", "this is no ASCII text", text, "ASCII; else give hex")
        constant = text.encode("ascii")
    else:
        digits = table.take("hex")
        if digits is None:
            expected = "bytes in hexadecimal, as in '52 54 43'"
            raise BadDescription("a key is missing", where=table.where("hex"), expected=expected)
        try:
            constant = bytes.fromhex(digits)
        except ValueError:
            raise table.wrong(
                "hex", "these are no bytes", digits, "pairs of hexadecimal digits"
            ) from None
    if not constant:
        raise BadDescription("a constant has no bytes", where=table.where("hex"))
    table.refuse_others(but=("hex",) if "text" in table else ())
    with _at(table):
        return Field(
            name=table.take("name", default=_numbered("constant", at)),
            offset=table.number("offset"),
            size=len(constant),
            part="constant",
            constant=constant,
        )


def _stamp(table: Table, order: Order) -> tuple[Field, StampForm]:
    size, zone = table.number("bytes"), table.text("zone", "UTC")
    if zone != "UTC":
        try:
            check_zone(zone)
        except RtcSaveError as error:
            expected = f"UTC or an IANA zone; {error.remedy}"
            raise table.wrong("zone", "this is no zone", zone, expected) from None
    signed = table.take("signed")
    unit, epoch_s = table.take("unit"), _epoch(table)
    table.refuse_others()
    with _at(table):
        form = StampForm(
            size=size,
            signed=size == 8 if signed is None else signed,
            counts_per_second=UNITS[unit],
            epoch_unix_s=epoch_s,
            zone="" if zone == "UTC" else zone,
        )
        return _other_field(table, "stamp", size, order), form


def _other_field(table: Table, part: str, size: int, order: Order) -> Field:
    return Field(
        name=table.take("name", default=part),
        offset=table.number("offset"),
        size=size,
        part="stamp" if part == "stamp" else "checksum",
        order=_order(table, order),
    )


def _epoch(table: Table) -> int:
    """The epoch in Unix seconds: `unix`, a date (its midnight in UTC), or an instant."""
    value = table.take("epoch")
    expected = "unix, a date (1904-01-01) or an instant (1904-01-01T00:00:00Z)"
    if value == "unix":
        return 0
    try:
        if isinstance(value, str):
            return parse_instant(value if "T" in value else f"{value}T00:00:00Z")
        if isinstance(value, datetime):
            return unix_seconds(value, "epoch")
        if isinstance(value, date):
            return unix_seconds(datetime(value.year, value.month, value.day, tzinfo=timezone.utc))
    except BadArgument as error:
        raise table.wrong("epoch", error.what, value, expected) from None
    raise table.wrong("epoch", "this is no epoch", value, expected)


def _checksum(table: Table, order: Order) -> tuple[Field, Checksum]:
    kind = table.take("kind")
    size = table.number("bytes", SUMS[kind].size)
    start, end = table.number("from"), table.number("to")
    table.refuse_others()
    with _at(table):
        return _other_field(table, "checksum", size, order), Checksum(
            kind=kind, start=start, end=end
        )
