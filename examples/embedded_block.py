"""A clock block as one more field of a format of your own, declared with construct.

    python examples/embedded_block.py examples/saves/healthy.sav

The invented format is that of a lending library's card: a mark, the length of a title, the title, and
the clock block of the cartridge. It is built from a save and parsed again: every bit comes back.
"""

from __future__ import annotations

import sys
from typing import Any

import construct

import rtcsave

CARD: Any = construct.Struct(
    "mark" / construct.Const(b"CARD"),
    "title" / construct.PascalString(construct.Byte, "utf-8"),
    "clock" / rtcsave.LAYOUTS["block48"].construct(),
)


def main() -> int:
    """Make a card of a save, and read it again."""
    if len(sys.argv) != 2:
        print("usage: embedded_block.py SAVE", file=sys.stderr)
        return 2
    try:
        block = rtcsave.load(sys.argv[1]).clock_block
        card = CARD.build({"title": "The Ferry of Harrow Quay", "clock": block})
    except rtcsave.RtcSaveError as error:
        print(f"embedded_block: {error}", file=sys.stderr)
        return 1
    except construct.ConstructError as error:  # a block of another layout
        print(f"embedded_block: {error}", file=sys.stderr)
        return 1
    parsed = CARD.parse(card)
    assert parsed.clock == block
    print(f"{len(card)} bytes: {parsed.title}, {parsed.clock.running.reading()}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
