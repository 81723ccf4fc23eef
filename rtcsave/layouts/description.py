"""Layouts described by a user, as TOML or as the same table of Python values.

`layouts --new` prints a commented starting point; `description.schema.json` beside this file lets an
editor check one while it is typed. What comes out is a `Layout` like any built-in one.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from datetime import date, datetime, timezone
from typing import Any, Final

from rtcsave.clocks import Bits
from rtcsave.errors import BadArgument, BadDescription, RtcSaveError, shown
from rtcsave.layouts.fields import CLOCKS, PARTS, SUM_BYTES, SUMS, Checksum, Field, Part
from rtcsave.layouts.keys import Keys
from rtcsave.layouts.table import Layout
from rtcsave.stamps import StampForm
from rtcsave.when import check_zone, parse_instant, unix_seconds

LARGEST_TEXT: Final = 65_536
"""Characters of a description: a block has at most 1,024 bytes, and no more fields than that."""

MOST_DOTS: Final = 64
"""Dots in a line: the parser takes time by the square of the parts of a dotted key."""

UNITS: Final = {"s": 1, "ms": 1_000, "us": 1_000_000, "µs": 1_000_000, "100ns": 10_000_000}

_ORDERS: Final = ("little", "big")
_CODINGS: Final = ("binary", "bcd")
_PLACES: Final = ("after-memory", "standalone")


def describe(text: str | Mapping[str, Any], source: str = "") -> Layout:
    """The layout that a description describes, as TOML text or as a table of Python values.

    `source` names where it came from, for errors. Whatever is wrong raises `BadDescription` naming
    the source, the key, what was found and what was expected.
    """
    if not isinstance(source, str):
        raise BadArgument("source is the name of a file", found=shown(source))
    table: Any = text
    if isinstance(text, str):
        if len(text) > LARGEST_TEXT:
            raise BadDescription(
                "the description is too long",
                where=source,
                found=f"{len(text)} characters",
                expected=f"at most {LARGEST_TEXT}",
            )
        for number, line in enumerate(text.splitlines(), 1):
            if line.count(".") > MOST_DOTS:
                raise BadDescription(
                    "a line has more dots than any description",
                    where=f"{source}, line {number}" if source else f"line {number}",
                    found=str(line.count(".")),
                    expected=f"at most {MOST_DOTS}",
                )
        try:
            table = tomllib.loads(text.removeprefix("\N{ZERO WIDTH NO-BREAK SPACE}"))
        except tomllib.TOMLDecodeError as error:
            raise BadDescription("this is not TOML", where=source, found=str(error)) from None
        except (RecursionError, ValueError) as error:
            found = f"{type(error).__name__}: {error}"[:200]
            raise BadDescription("this is not TOML", where=source, found=found) from None
    if not isinstance(table, Mapping):
        raise BadArgument("a description is TOML text or a table", found=shown(text))
    try:
        return _layout(Keys(table, "", source))
    except BadDescription as error:
        if source and not error.where.startswith(source):
            error.where = f"{source}, {error.where}"
        raise


_TOP: Final = (
    "name", "summary", "size", "clock", "order", "place", "field", "constant", "stamp", "checksum",
)  # fmt: skip


def _layout(top: Keys) -> Layout:
    name = top.take("name", str, "a short name")
    if not name or len(name) > 64 or not all(one.isalnum() or one in "-_." for one in name):
        raise top.wrong("name", "this is no name", name, "letters, digits, '-', '_' and '.'")
    size = top.number("size", 1, 1_024)
    clock = top.choice("clock", tuple(CLOCKS), "counter")
    order = top.choice("order", _ORDERS, "little")
    place = top.choice("place", _PLACES, "after-memory")
    summary = top.take("summary", str, "a line of text", " ")
    fields = [_field(one, clock, order, at) for at, one in enumerate(top.tables("field"))]
    fields += [_constant(one, at) for at, one in enumerate(top.tables("constant"))]
    stamp_table = top.table("stamp")
    stamp = None
    if stamp_table is not None:
        field, stamp = _stamp(stamp_table, order)
        fields.append(field)
    sum_table = top.table("checksum")
    checksum = None
    if sum_table is not None:
        field, checksum = _checksum(sum_table, order)
        fields.append(field)
    top.done(_TOP)
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
            standalone=place == "standalone",
            summary=summary.strip(),
        )
    except BadDescription as error:
        error.where = top.where(_key_of(error, fields))
        raise


def _key_of(error: BadDescription, fields: list[Field]) -> str:
    """The key that an error about a table as a whole speaks of: of the last field that it names."""
    counted: dict[str, int] = {}
    found = (
        "checksum" if "checksum" in error.what else "stamp" if "stamp" in error.what else "field"
    )
    said = error.what.replace(",", " ").split()
    for one in fields:
        key = one.part if one.part in ("stamp", "checksum", "constant") else "field"
        at = counted.get(key, 0)
        counted[key] = at + 1
        if one.name in said:
            found = key if key in ("stamp", "checksum") else f"{key}[{at}]"
    return found


def _place(one: Keys, default_name: str, most: int = 8) -> tuple[str, int, int]:
    """Name, offset and size of a field."""
    name = one.take("name", str, "a name", default_name)
    return name, one.number("offset", 0, 1_023), one.number("bytes", 1, most, 1)


def _numbered(name: str, at: int) -> str:
    """A default name that the next one of its kind does not have."""
    return f"{name}_{at + 1}" if at else name


def _field(one: Keys, clock: str, order: str, at: int) -> Field:
    part = one.choice("part", ("running", "latched"), "running")
    holds = one.values.get("holds")
    kind = holds if isinstance(holds, str) else _numbered("field", at)
    name, offset, size = _place(one, f"{part}_{kind}")
    own_order = one.choice("order", _ORDERS, order)
    widths = {field.name: field.width for field in CLOCKS[clock].FIELDS}
    if "bits" in one.values:
        bits = tuple(_bits(piece, widths) for piece in one.tables("bits"))
        if not bits:
            raise BadDescription("a word without bits holds nothing", where=one.where("bits"))
        expected: tuple[str, ...] = ("name", "part", "offset", "bytes", "order", "bits")
    else:
        held = one.choice("holds", tuple(widths))
        bcd = one.choice("coding", _CODINGS, "binary") == "bcd"
        width = 8 * size if bcd else min(widths[held], 8 * size)
        bits = (Bits(field=held, width=width, bcd=bcd),)
        expected = ("name", "part", "offset", "bytes", "order", "holds", "coding", "bits")
    one.done(expected)
    return Field(
        name=name,
        offset=offset,
        size=size,
        part=_part(part),
        order="little" if own_order == "little" else "big",
        bits=bits,
    )


def _part(word: str) -> Part:
    return next(part for part in PARTS if part == word)


def _bits(one: Keys, widths: Mapping[str, int]) -> Bits:
    held = one.choice("holds", tuple(widths))
    found = Bits(
        field=held,
        width=one.number("width", 1, 64, widths[held]),
        at=one.number("at", 0, 63, 0),
        onto=one.number("onto", 0, 63, 0),
        bcd=one.choice("coding", _CODINGS, "binary") == "bcd",
    )
    one.done(("holds", "width", "at", "onto", "coding"))
    return found


def _constant(one: Keys, at: int) -> Field:
    name = one.take("name", str, "a name", _numbered("constant", at))
    offset = one.number("offset", 0, 1_023)
    if "text" in one.values:
        text = one.take("text", str, "ASCII text")
        if not text.isascii():
            raise one.wrong("text", "this is no ASCII text", text, "ASCII; else give hex")
        held = text.encode("ascii")
    else:
        digits = one.take("hex", str, "bytes in hexadecimal, as in '52 54 43'")
        try:
            held = bytes.fromhex(digits)
        except ValueError:
            raise one.wrong(
                "hex", "these are no bytes", digits, "pairs of hexadecimal digits"
            ) from None
    if not held:
        raise BadDescription("a constant has no bytes", where=one.where("hex"))
    one.done(("name", "offset", "hex", "text"))
    return Field(name=name, offset=offset, size=len(held), part="constant", constant=held)


def _stamp(one: Keys, order: str) -> tuple[Field, StampForm]:
    name, offset, size = _place(one, "stamp")
    own_order = one.choice("order", _ORDERS, order)
    signed = size == 8
    if "signed" in one.values:
        signed = one.take("signed", bool, "true or false")
    unit = one.choice("unit", tuple(UNITS), "s")
    zone = one.take("zone", str, "UTC or an IANA zone", "UTC")
    if zone != "UTC":
        try:
            check_zone(zone)
        except RtcSaveError as error:
            raise one.wrong(
                "zone", "this is no zone", zone, f"UTC or an IANA zone; {error.remedy}"
            ) from None
    epoch_s = _epoch(one)
    one.done(("name", "offset", "bytes", "order", "signed", "unit", "epoch", "zone"))
    form = StampForm(
        size=size,
        signed=signed,
        counts_per_second=UNITS[unit],
        epoch_unix_s=epoch_s,
        zone="" if zone == "UTC" else zone,
    )
    field = Field(
        name=name,
        offset=offset,
        size=size,
        part="stamp",
        order="little" if own_order == "little" else "big",
    )
    return field, form


def _epoch(one: Keys) -> int:
    """The epoch in Unix seconds: `unix`, a date (its midnight in UTC), or an instant."""
    if "epoch" not in one.values:
        return 0
    value = one.values.pop("epoch")
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
        raise one.wrong("epoch", error.what, value, expected) from None
    raise one.wrong("epoch", "this is no epoch", value, expected)


def _checksum(one: Keys, order: str) -> tuple[Field, Checksum]:
    kind = one.choice("kind", tuple(SUMS))
    name = one.take("name", str, "a name", "checksum")
    offset = one.number("offset", 0, 1_023)
    size = one.number("bytes", 1, 8, SUM_BYTES[kind])
    own_order = one.choice("order", _ORDERS, order)
    start = one.number("from", 0, 1_023, 0) if "from" in one.values else 0
    end = one.number("to", 1, 1_024)
    one.done(("kind", "name", "offset", "bytes", "order", "from", "to"))
    field = Field(
        name=name,
        offset=offset,
        size=size,
        part="checksum",
        order="little" if own_order == "little" else "big",
    )
    return field, Checksum(kind=kind, start=start, end=end)


STARTING_POINT: Final = """\
# A clock block, described for rtcsave. Check it with: rtcsave layouts --check FILE
# Use it with --layout FILE, or put it into your folder of layouts and name it.
name = "my-block"
summary = "what writes it, in a line"
size = 56                    # bytes of the block, 1 to 1024
clock = "counter"            # counter, minutes or calendar
order = "little"             # byte order of words that do not say their own
place = "after-memory"      # or "standalone": never behind a memory image

# Bytes that are always the same. Text or hexadecimal.
[[constant]]
name = "magic"
offset = 0
text = "CLK1"                # or: hex = "43 4C 4B 31"

# Words of the running clock. A word that holds one field whole:
[[field]]
part = "running"             # or "latched"
offset = 4
bytes = 1
holds = "seconds"            # counter: seconds, minutes, hours, day_counter, halt, carry
coding = "bcd"               # or "binary", which is meant if nothing is said

[[field]]
offset = 5
bytes = 1
holds = "minutes"
coding = "bcd"

[[field]]
offset = 6
bytes = 1
holds = "hours"
coding = "bcd"

# A word whose bits belong to several fields. Bits that nothing names are kept.
[[field]]
name = "day_low"
offset = 7
bytes = 1
bits = [{ holds = "day_counter", width = 8 }]

[[field]]
name = "day_high"
offset = 8
bytes = 1
bits = [
  { holds = "day_counter", width = 1, at = 0, onto = 8 },  # bit 0 here is bit 8 there
  { holds = "halt", at = 6 },
  { holds = "carry", at = 7 },
]

# When the block was written. Bytes that nothing describes (here 9 to 39) are padding, and are kept.
[stamp]
offset = 40
bytes = 8
unit = "s"                   # s, ms, us or 100ns
epoch = "1970-01-01"         # any date or instant
zone = "UTC"                 # or an IANA zone, whose wall clock it counts

# Made again when a byte that it covers changes, and only then.
[checksum]
kind = "crc-32"              # sum-8, sum-16, xor, crc-16 (CCITT) or crc-32
offset = 48
from = 0                     # the first byte that it covers
to = 48                      # the first byte that it does not cover
"""
"""A description to start from, with every key explained."""
