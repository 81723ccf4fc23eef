"""Bytes as callers have them: anything with the buffer protocol."""

from __future__ import annotations

from typing import Protocol

from rtcsave.errors import BadArgument


class Buffer(Protocol):
    """Whatever gives its bytes away: `bytes`, `bytearray`, `memoryview`, `array`, `mmap`, ..."""

    def __buffer__(self, flags: int, /) -> memoryview:
        """The protocol of buffers (PEP 688)."""
        ...


def as_bytes(data: object, what: str, remedy: str = "") -> bytes:
    """The bytes of a buffer; `BadArgument` for anything else (`what` says what it should be)."""
    if type(data) is bytes:
        return data
    try:
        return memoryview(data).tobytes()  # type: ignore[arg-type]  # that is the question
    except (TypeError, BufferError):
        raise BadArgument(
            what, found=type(data).__name__, expected="bytes", remedy=remedy
        ) from None
