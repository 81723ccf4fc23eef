"""Looking at one file of a collection: a few small reads where those decide, the whole file where not."""

from __future__ import annotations

import os
import struct
from dataclasses import dataclass
from typing import Final

from rtcsave.collection.rows import SurveyRow, healthy_row
from rtcsave.errors import FileFault, RtcSaveError
from rtcsave.findings.examination import look_at
from rtcsave.findings.healthy import (
    PIECE_BYTES,
    TAIL_BYTES,
    TEN_WORDS,
    are_healthy_ten_words,
    is_ordinary,
    is_ordinary_by_pieces,
)
from rtcsave.header import HEADER_END, TITLE_AT, read_header
from rtcsave.layouts import Layout
from rtcsave.layouts.fields import LARGEST_BLOCK
from rtcsave.layouts.places import largest_memory, places_by_length
from rtcsave.storage.reading import read_bytes, read_start
from rtcsave.storage.system import QUICK_FLAGS, read_at, system_failed
from rtcsave.units import LARGEST_FILE_BYTES, MEMORY_SIZES_BYTES

MOST_AFTER_MEMORY: Final = 16 * LARGEST_BLOCK
"""More bytes after a memory image than any number of blocks: such a file is something else."""

_PACKED: Final = (b"\x1f\x8b\x08", b"PK\x03\x04")
_BEFORE_PACKED: Final = 4
_Readers = tuple[tuple[Layout, struct.Struct], ...]
_BLOCK_SIZES: Final[dict[int, tuple[int, int, _Readers]]] = {
    length: (
        places[0].memory_bytes,
        length - places[0].memory_bytes,
        tuple((place.layout, TEN_WORDS[place.layout.name]) for place in places),
    )
    for length, places in places_by_length().items()
    if places[0].memory_bytes
}
"""For each length of an image with a built-in block after it: the lengths of both, and what reads the words
of each block that may be there."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Settings:
    """What every file of a survey is looked at with; it can be sent to another process."""

    now_s: int
    layouts: tuple[Layout, ...] = ()
    thorough: bool = False

    @property
    def is_quick(self) -> bool:
        """Whether a quick look may decide."""
        return not self.layouts and not self.thorough


def look(
    path: str, settings: Settings, *, named: bool = False, program: str | None = None
) -> SurveyRow | None:
    """The row of one file; None for a file in a folder that is no save, by its length and content.

    Pure but for the reading: two small reads decide for almost every healthy save; any other file is read
    whole and examined. Whatever goes wrong is the row's error.
    """
    try:
        if program is None and settings.is_quick:
            row = quick_look(path, settings.now_s)
            if row is not None:
                return row
        return _whole_look(path, settings, named, program)
    except RtcSaveError as error:
        return SurveyRow.of_error(path, error, settings.now_s)
    except OSError as error:
        failed = system_failed(error, "the file cannot be read", path)
        return SurveyRow.of_error(path, failed, settings.now_s)


def quick_look(path: str, now_s: int) -> SurveyRow | None:
    """The row of a save in which nothing is to be found, None where that is not certain.

    Measured step by step (`tests/bench/survey.py`): nothing is made here that a healthy row does not need.
    """
    try:
        descriptor = os.open(path, QUICK_FLAGS)
    except OSError:
        return None  # looked at again, with patience
    try:
        # the length by seeking: what is no regular file has none that fits, or fails here or below
        sizes = _BLOCK_SIZES.get(os.lseek(descriptor, 0, os.SEEK_END))
        if sizes is None:
            return None
        memory_bytes, size, readers = sizes
        tail = read_at(descriptor, TAIL_BYTES + size, memory_bytes - TAIL_BYTES)
        piece = read_at(descriptor, PIECE_BYTES, (memory_bytes >> 1) - PIECE_BYTES)
        if len(tail) != TAIL_BYTES + size:
            return None
        for layout, reader in readers:  # noqa: B007 (it is used below)
            if are_healthy_ten_words(reader.unpack_from(tail, TAIL_BYTES), now_s):
                break
        else:
            return None
        if not is_ordinary_by_pieces(tail, piece):
            memory = read_at(descriptor, memory_bytes, 0)
            if len(memory) != memory_bytes or not is_ordinary(memory):
                return None
    except OSError:
        return None
    finally:
        os.close(descriptor)
    return healthy_row(path, memory_bytes, layout, tail[TAIL_BYTES:], now_s)


def _whole_look(
    path: str, settings: Settings, named: bool, program: str | None
) -> SurveyRow | None:
    """The row of a file that is read whole and examined."""
    if not named and not _may_be_a_save(path, settings.layouts):
        return None
    header = None if program is None else read_header(read_start(program, HEADER_END))
    data = read_bytes(path)[0]
    save, refusal, findings = look_at(data, None, settings.layouts, header, settings.now_s)
    if save is None:
        if not named and not findings:
            return None
        assert refusal is not None
        return SurveyRow(
            path=path,
            findings=findings,
            error=refusal.what,
            error_name=type(refusal).__name__,
            now_s=settings.now_s,
        )
    if not named and save.block is None and _is_program(data):
        return None
    return SurveyRow(
        path=path,
        memory_bytes=len(save.memory),
        block_layout=None if save.block is None else save.block.layout,
        block_raw=b"" if save.block is None else save.block.raw,
        findings=findings,
        now_s=settings.now_s,
    )


def _may_be_a_save(path: str, layouts: tuple[Layout, ...]) -> bool:
    """Whether a file in a folder may be a save by its length, or an archive with one in it."""
    size = os.stat(path).st_size
    if size in places_by_length(layouts) or size in MEMORY_SIZES_BYTES:
        return True
    memory = largest_memory(size)
    if memory and size - memory <= MOST_AFTER_MEMORY:
        return True
    return 0 < size <= LARGEST_FILE_BYTES and read_start(path, _BEFORE_PACKED).startswith(_PACKED)


def _is_program(data: bytes) -> bool:
    """Whether bytes of an image's length are a program image: its header holds together in every part.

    A memory image passes for one by chance about once in a million.
    """
    try:
        header = read_header(data)
    except FileFault:
        return False
    title = data[TITLE_AT].rstrip(b"\0")
    return (
        (header.checksum_ok and header.known and header.memory_bytes is not None)
        and title.isascii()
        and title.decode("ascii").isprintable()
    )
