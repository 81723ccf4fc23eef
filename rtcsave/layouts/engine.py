"""The construct object of a layout: the general engine. The only importer of construct."""

from __future__ import annotations

from functools import lru_cache
from typing import Any

import construct

from rtcsave.layouts.table import Layout


@lru_cache(maxsize=64)
def construct_of(layout: Layout) -> Any:
    """The construct `Struct` built from a layout's table.

    Parsing gives each field's word under its name and the bytes between fields under `gap_N`;
    building gives the same bytes back. Size: `layout.size`. Bytes past the end raise construct's
    `TerminatedError`, too few its `StreamError`.
    """
    parts: list[Any] = []
    at = 0
    for one in sorted(layout.fields, key=lambda one: one.offset):
        if one.offset > at:
            parts.append(f"gap_{at}" / construct.Bytes(one.offset - at))
        parts.append(
            one.name
            / construct.BytesInteger(
                one.size, signed=layout.is_signed(one), swapped=one.order == "little"
            )
        )
        at = one.end
    if layout.size > at:
        parts.append(f"gap_{at}" / construct.Bytes(layout.size - at))
    return construct.Struct(*parts, construct.Terminated)
