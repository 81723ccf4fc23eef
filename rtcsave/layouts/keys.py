"""The keys of a description, each stated once: from this table come the parser, the JSON Schema and
the starting point."""

from __future__ import annotations

from collections.abc import Mapping
from difflib import get_close_matches
from typing import Any, Final, Literal, NamedTuple

from rtcsave.errors import BadDescription, shown
from rtcsave.layouts.fields import CLOCK_PARTS, CLOCKS, LARGEST_BLOCK, SUMS
from rtcsave.stamps import LARGEST_STAMP

UNITS: Final = {"s": 1, "ms": 1_000, "us": 1_000_000, "µs": 1_000_000, "100ns": 10_000_000}
STANDALONE: Final = "standalone"

Kind = Literal["text", "number", "word", "flag", "epoch", "tables", "table"]
_TYPES: Final[Mapping[Kind, tuple[type, ...]]] = {
    "text": (str,), "number": (int,), "word": (str,), "flag": (bool,), "epoch": (object,),
    "tables": (list, tuple), "table": (Mapping,),
}  # fmt: skip


class Key(NamedTuple):
    """One key: what it takes, what is meant where it is missing, and a line about it.

    `low` and `high` bound a number, `words` are those that it may be, `of` is the section of a table.
    """

    name: str
    kind: Kind
    help: str = ""
    is_required: bool = False
    default: Any = None
    low: int = 0
    high: int = 0
    words: tuple[str, ...] = ()
    of: str = ""
    pattern: str = ""

    @property
    def expected(self) -> str:
        """What it takes, in words."""
        if self.kind == "number":
            return f"a whole number, {self.low} to {self.high}"
        if self.kind == "word":
            return "one of " + ", ".join(self.words)
        return {"flag": "true or false", "tables": f"a list of tables ([[{self.name}]])",
                "table": "a table"}.get(self.kind, "text")  # fmt: skip


def _number(name: str, low: int, high: int, help_: str = "", **more: Any) -> Key:
    return Key(name, "number", help_, low=low, high=high, **more)


def _word(name: str, words: tuple[str, ...], help_: str = "", **more: Any) -> Key:
    return Key(name, "word", help_, words=words, **more)


_HOLDS: Final = tuple(dict.fromkeys(f.name for c in CLOCKS.values() for f in c.FIELDS))
_NAME: Final = Key("name", "text", "a name of its own, made from what it holds if missing")
_OFFSET: Final = _number("offset", 0, LARGEST_BLOCK - 1, "its first byte", is_required=True)
_BYTES: Final = _number("bytes", 1, LARGEST_STAMP, "how many bytes it has", default=1)
_ORDER: Final = _word("order", ("little", "big"), "byte order, if not that of the whole block")
_CODING: Final = _word(
    "coding", ("binary", "bcd"), 'or "binary", which is meant if nothing is said', default="binary"
)

SECTIONS: Final[Mapping[str, tuple[Key, ...]]] = {
    "": (
        Key("name", "text", is_required=True, pattern=r"^[\w.-]{1,64}$"),
        Key("summary", "text", "what writes it, in a line", default=""),
        _number(
            "size", 1, LARGEST_BLOCK, f"bytes of the block, 1 to {LARGEST_BLOCK}", is_required=True
        ),
        _word("clock", tuple(CLOCKS), ", ".join(CLOCKS), default="counter"),
        _word(
            "order",
            ("little", "big"),
            "byte order of words that do not say their own",
            default="little",
        ),
        _word(
            "place",
            ("after-memory", STANDALONE),
            f'or "{STANDALONE}": never after a memory image',
            default="after-memory",
        ),
        Key("field", "tables", is_required=True, of="field"),
        Key("constant", "tables", of="constant"),
        Key("stamp", "table", of="stamp"),
        Key("checksum", "table", of="checksum"),
    ),
    "field": (
        _NAME,
        _word("part", CLOCK_PARTS, 'or "latched"', default="running"),
        _OFFSET,
        _BYTES,
        _ORDER,
        _word("holds", _HOLDS, "counter: " + ", ".join(f.name for f in CLOCKS["counter"].FIELDS)),
        _CODING,
        Key("bits", "tables", of="bits"),
    ),
    "bits": (
        _word("holds", _HOLDS, is_required=True),
        _number("width", 1, 64, "how many bits; those of the field if missing"),
        _number("at", 0, 63, "its lowest bit in the word", default=0),
        _number("onto", 0, 63, "its lowest bit in the field", default=0),
        _CODING,
    ),
    "constant": (
        _NAME,
        _OFFSET,
        Key("text", "text", 'or: hex = "43 4C 4B 31"', pattern="^[\\u0000-\\u007f]+$"),
        Key("hex", "text", "bytes in hexadecimal", pattern=r"^\s*([0-9A-Fa-f]{2}\s*)+$"),
    ),
    "stamp": (
        _NAME,
        _OFFSET,
        _BYTES,
        _ORDER,
        Key("signed", "flag", "whether it is signed; 8 bytes are if nothing is said"),
        _word("unit", tuple(UNITS), "s, ms, us or 100ns", default="s"),
        Key("epoch", "epoch", "any date or instant", default="unix"),
        Key("zone", "text", "or an IANA zone, whose wall clock it counts", default="UTC"),
    ),
    "checksum": (
        _word("kind", tuple(SUMS), ", ".join(SUMS) + " (crc-16: CCITT)", is_required=True),
        _NAME,
        _OFFSET,
        _number("bytes", 1, LARGEST_STAMP, "how many bytes it has; those of its kind if missing"),
        _ORDER,
        _number("from", 0, LARGEST_BLOCK - 1, "the first byte that it covers", default=0),
        _number("to", 1, LARGEST_BLOCK, "the first byte that it does not cover", is_required=True),
    ),
}
"""Every key of every section; the section "" is the description itself."""


class Table:
    """A table of a description, read key by key, that knows its place in the description."""

    def __init__(self, section: str, values: Mapping[str, Any], path: str, source: str) -> None:
        self._keys = {key.name: key for key in SECTIONS[section]}
        self._values = dict(values)
        self._path = path
        self._source = source

    def __contains__(self, name: str) -> bool:
        return name in self._values

    def where(self, name: str = "") -> str:
        """The key, with the way to it and the source."""
        way = f"key {'.'.join(filter(None, (self._path, name)))}"
        return f"{self._source}, {way}" if self._source else way

    def wrong(self, name: str, what: str, found: object, expected: str) -> BadDescription:
        """The error for a key."""
        return BadDescription(what, where=self.where(name), found=shown(found), expected=expected)

    def take(self, name: str, *, words: tuple[str, ...] = (), default: Any = None) -> Any:
        """The value of a key, checked; its default (or the one given) where it is missing."""
        key = self._keys[name]
        if words:
            key = key._replace(words=words)
        if name not in self._values:
            fallback = key.default if default is None else default
            if fallback is None and key.is_required:
                raise BadDescription(
                    "a key is missing", where=self.where(name), expected=key.expected
                )
            return fallback
        value: Any = self._values[name]
        is_flag = isinstance(value, bool)
        is_right = any(isinstance(value, kind) for kind in _TYPES[key.kind])
        if not is_right or (is_flag and key.kind == "number"):
            raise self.wrong(name, "a key has the wrong type", value, key.expected)
        if key.kind == "number" and not key.low <= value <= key.high:
            raise self.wrong(name, "a number is out of bounds", value, f"{key.low} to {key.high}")
        if key.kind == "word" and value not in key.words:
            near = get_close_matches(str(value), key.words, n=1)
            hint = f"; did you mean {near[0]}?" if near else ""
            raise self.wrong(name, "an unknown word", value, ", ".join(key.words) + hint)
        return value

    def text(self, name: str, default: str = "") -> str:
        """The text of a key."""
        return str(self.take(name, default=default))

    def number(self, name: str, default: int | None = None) -> int:
        """The whole number of a key."""
        return int(self.take(name, default=default))

    def tables(self, name: str) -> list[Table]:
        """The tables of a key, none where it is missing."""
        tables = []
        for number, values in enumerate(self.take(name, default=[])):
            way = f"{name}[{number}]"
            if not isinstance(values, Mapping):
                raise self.wrong(way, "this is no table", values, "a table")
            tables.append(self._inner(name, values, way))
        return tables

    def table(self, name: str) -> Table | None:
        """The table of a key, None where it is missing."""
        values = self.take(name)
        return None if values is None else self._inner(name, values, name)

    def _inner(self, name: str, values: Mapping[str, Any], way: str) -> Table:
        path = ".".join(filter(None, (self._path, way)))
        return Table(self._keys[name].of, values, path, self._source)

    def refuse_others(self, but: tuple[str, ...] = ()) -> None:
        """Refuse keys that the section does not have, and those of `but`, which others exclude."""
        known = [name for name in self._keys if name not in but]
        for name in self._values:
            if name in known:
                continue
            near = get_close_matches(str(name), known, n=1)
            raise BadDescription(
                "an unknown key",
                where=self.where(str(name)),
                expected=", ".join(known),
                remedy=f"did you mean {near[0]}?" if near else "",
            )
