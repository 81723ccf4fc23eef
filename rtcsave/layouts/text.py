"""The text of a description: bounded, and parsed as TOML."""

from __future__ import annotations

import tomllib
from typing import Any, Final

from rtcsave.errors import BadDescription

LARGEST_TEXT: Final = 65_536
"""Characters of a description: a block has at most 1,024 bytes, and no more fields than that."""

MOST_DOTS: Final = 64
"""Dots in a line: the parser takes time by the square of the parts of a dotted key."""


def table_in(text: str, source: str) -> dict[str, Any]:
    """The table in a text; hostile ones are refused before they cost anything."""
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
        return tomllib.loads(text.removeprefix("\N{ZERO WIDTH NO-BREAK SPACE}"))
    except tomllib.TOMLDecodeError as error:
        raise BadDescription("this is not TOML", where=source, found=str(error)) from None
    except (RecursionError, ValueError) as error:
        problem = f"{type(error).__name__}: {error}"[:200]
        raise BadDescription("this is not TOML", where=source, found=problem) from None
