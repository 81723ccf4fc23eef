"""A table of a description, read key by key: types, bounds, words, and errors that say where."""

from __future__ import annotations

from collections.abc import Mapping
from difflib import get_close_matches
from typing import Any

from rtcsave.errors import BadDescription, shown


class Keys:
    """A table of a description: takes its keys one by one, and knows where it stands."""

    def __init__(self, values: Mapping[str, Any], path: str, source: str) -> None:
        self.values = dict(values)
        self.path = path
        self.source = source

    def where(self, key: str) -> str:
        """The key, with the way to it and the source."""
        name = f"{self.path}.{key}" if self.path else key
        return f"{self.source}, key {name}" if self.source else f"key {name}"

    def wrong(self, key: str, what: str, found: object, expected: str) -> BadDescription:
        """The error for a key."""
        return BadDescription(what, where=self.where(key), found=shown(found), expected=expected)

    def take(self, key: str, kind: type, expected: str, default: Any = None) -> Any:
        """The value of a key, of that type; the default, if there is one, where it is missing."""
        if key not in self.values:
            if default is not None:
                return default
            raise BadDescription("a key is missing", where=self.where(key), expected=expected)
        value = self.values.pop(key)
        if not isinstance(value, kind) or (kind is int and isinstance(value, bool)):
            raise self.wrong(key, "a key has the wrong type", value, expected)
        return value

    def number(self, key: str, low: int, high: int, default: int | None = None) -> int:
        """A whole number within bounds."""
        value = self.take(key, int, f"a whole number, {low} to {high}", default)
        assert isinstance(value, int)
        if not low <= value <= high:
            raise self.wrong(key, "a number is out of bounds", value, f"{low} to {high}")
        return value

    def choice(self, key: str, words: tuple[str, ...], default: str | None = None) -> str:
        """One of some words."""
        value = self.take(key, str, "one of " + ", ".join(words), default)
        if value not in words:
            near = get_close_matches(str(value), words, n=1)
            hint = f"; did you mean {near[0]}?" if near else ""
            raise self.wrong(key, "an unknown word", value, ", ".join(words) + hint)
        assert isinstance(value, str)
        return value

    def tables(self, key: str) -> list[Keys]:
        """A list of tables, empty where missing."""
        if isinstance(self.values.get(key), tuple):
            self.values[key] = list(self.values[key])
        held = self.take(key, list, "a list of tables ([[" + key + "]])", [])
        found = []
        for number, one in enumerate(held):
            if not isinstance(one, Mapping):
                raise self.wrong(f"{key}[{number}]", "this is no table", one, "a table")
            path = f"{self.path}.{key}[{number}]" if self.path else f"{key}[{number}]"
            found.append(Keys(one, path, self.source))
        return found

    def table(self, key: str) -> Keys | None:
        """A table, None where missing."""
        if key not in self.values:
            return None
        held = self.take(key, Mapping, "a table")
        return Keys(held, f"{self.path}.{key}" if self.path else key, self.source)

    def done(self, known: tuple[str, ...]) -> None:
        """Refuse keys that nobody took."""
        for key in self.values:
            near = get_close_matches(str(key), known, n=1)
            raise BadDescription(
                "an unknown key",
                where=self.where(str(key)),
                expected=", ".join(known),
                remedy=f"did you mean {near[0]}?" if near else "",
            )
