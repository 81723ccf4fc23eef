"""What construct does for us: words that `struct` cannot express, and layouts in declarations of
others. The only importer of construct, loaded only where one of the two is asked for."""

from __future__ import annotations

from functools import lru_cache
from typing import Any

import construct


@lru_cache(maxsize=64)
def number(size: int, signed: bool, little: bool) -> Any:
    """The construct of a whole number of `size` bytes: it parses and builds."""
    return construct.BytesInteger(size, signed=signed, swapped=little)


class BlockAdapter(construct.Adapter):  # type: ignore[misc]  # construct ships no types
    """A clock block of a layout as one more field of somebody's declaration."""

    def __init__(self, layout: Any) -> None:
        super().__init__(construct.Bytes(layout.size))
        self.layout = layout

    def _decode(self, obj: bytes, context: Any, path: str) -> Any:
        return self.layout.block_type(layout=self.layout, raw=bytes(obj))

    def _encode(self, obj: Any, context: Any, path: str) -> bytes:
        raw, layout = getattr(obj, "raw", None), getattr(obj, "layout", None)
        if type(raw) is not bytes or layout != self.layout:
            raise construct.ValidationError(
                f"this is no block of layout {self.layout.name}: {type(obj).__name__}", path=path
            )
        return raw

    def __reduce__(self) -> tuple[type, tuple[Any]]:
        return type(self), (self.layout,)
