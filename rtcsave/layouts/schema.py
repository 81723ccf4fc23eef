"""What is made from the table of keys: the JSON Schema for editors, and a description to start from."""

from __future__ import annotations

import json
from typing import Any, Final

from rtcsave.layouts.keys import SECTIONS, Key

_ONE_OF: Final = {
    "field": [{"required": ["holds"]}, {"required": ["bits"], "not": {"required": ["coding"]}}],
    "constant": [{"required": ["hex"]}, {"required": ["text"]}],
}
"""Keys of which a section has one or the other."""


def schema() -> dict[str, Any]:
    """The JSON Schema of a description, as `description.schema.json` beside this file holds it."""
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "A clock block described for rtcsave",
        **_section(""),
        "$defs": {section: _section(section) for section in SECTIONS if section},
    }


def _section(section: str) -> dict[str, Any]:
    keys = SECTIONS[section]
    section_schema: dict[str, Any] = {
        "type": "object",
        "required": [key.name for key in keys if key.is_required],
        "additionalProperties": False,
        "properties": {key.name: _key(key) for key in keys},
    }
    if section in _ONE_OF:
        section_schema["oneOf"] = _ONE_OF[section]
    return section_schema


def _key(key: Key) -> dict[str, Any]:
    reference = {"$ref": f"#/$defs/{key.of}"}
    form: dict[str, Any]
    if key.kind == "tables":
        form = {"type": "array", "items": reference}
        if key.is_required or key.of == "bits":
            form["minItems"] = 1
    elif key.kind == "table":
        return reference
    elif key.kind == "number":
        form = {"type": "integer", "minimum": key.low, "maximum": key.high}
    elif key.kind == "word":
        form = {"enum": list(key.words)}
    elif key.kind == "epoch":
        form = {"not": {"type": ["number", "boolean", "array", "null"]}}
    else:
        form = {"type": "boolean" if key.kind == "flag" else "string"}
    if key.help:
        form["description"] = key.help
    if key.pattern:
        form["pattern"] = key.pattern
    if key.default not in (None, ""):
        form["default"] = key.default
    return form


_DECIMAL: Final = {"bytes": 1, "coding": "bcd"}
_HIGH_BITS: Final = [
    {"holds": "day_counter", "width": 1, "at": 0, "onto": 8},
    {"holds": "halt", "at": 6},
    {"holds": "carry", "at": 7},
]
_EXAMPLE: Final[tuple[tuple[str, str, dict[str, Any]], ...]] = (
    (
        "",
        "A clock block, described for rtcsave. Check it with: rtcsave layouts --check FILE\n"
        "Use it with --layout FILE, or put it into your folder of layouts and name it.",
        {
            "name": "my-block", "summary": "what writes it, in a line", "size": 56,
            "clock": "counter", "order": "little", "place": "after-memory",
        },
    ),
    (
        "[[constant]]",
        "Bytes that are always the same. Text or hexadecimal.",
        {"name": "magic", "offset": 0, "text": "CLK1"},
    ),
    (
        "[[field]]",
        "Words of the running clock. A word that holds one field whole:",
        {"part": "running", "offset": 4, "bytes": 1, "holds": "seconds", "coding": "bcd"},
    ),
    ("[[field]]", "", {"offset": 5, "holds": "minutes", **_DECIMAL}),
    ("[[field]]", "", {"offset": 6, "holds": "hours", **_DECIMAL}),
    (
        "[[field]]",
        "A word whose bits belong to several fields. Bits that nothing names are kept.",
        {
            "name": "day_low", "offset": 7, "bytes": 1,
            "bits": [{"holds": "day_counter", "width": 8}],
        },
    ),
    (
        "[[field]]",
        "Bit 0 of this word is bit 8 of the day counter.",
        {"name": "day_high", "offset": 8, "bytes": 1, "bits": _HIGH_BITS},
    ),
    (
        "[stamp]",
        "When the block was written. Bytes that nothing describes (here 9 to 39) are padding, and are kept.",
        {"offset": 40, "bytes": 8, "unit": "s", "epoch": "1970-01-01", "zone": "UTC"},
    ),
    (
        "[checksum]",
        "Made again when a byte that it covers changes, and only then.",
        {"kind": "crc-32", "offset": 48, "from": 0, "to": 48},
    ),
)  # fmt: skip


def starting_point() -> str:
    """A description to start from, in TOML, with every key explained where it first appears."""
    lines: list[str] = []
    explained: set[str] = set()
    for heading, comment, values in _EXAMPLE:
        section = heading.strip("[]")
        if lines:
            lines.append("")
        lines += [f"# {line}" for line in comment.splitlines()]
        lines += [heading] if heading else []
        for key in SECTIONS[section]:
            if key.name not in values:
                continue
            line = f"{key.name} = {_toml(values[key.name])}"
            if key.help and key.name not in explained and key.help != values[key.name]:
                line = f"{line:<28} # {key.help}"
                explained.add(key.name)
            lines.append(line)
    return "\n".join(lines) + "\n"


def _toml(value: Any) -> str:
    """A value in TOML: numbers and text as JSON has them, rows of tables within a line each."""
    if not isinstance(value, list):
        return json.dumps(value)
    rows = [
        "{ " + ", ".join(f"{name} = {json.dumps(v)}" for name, v in row.items()) + " }"
        for row in value
    ]
    return f"[{rows[0]}]" if len(rows) == 1 else "[\n  " + ",\n  ".join(rows) + ",\n]"


STARTING_POINT: Final = starting_point()
