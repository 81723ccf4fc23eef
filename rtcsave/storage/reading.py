"""Reading whole files: regular ones, of a size that a save can have."""

from __future__ import annotations

import contextlib
import errno
import os
import stat
from collections.abc import Iterable

from rtcsave.errors import (
    BadArgument,
    BadDescription,
    NotARegularFile,
    RtcSaveError,
    TooLarge,
    number_of,
    shown,
)
from rtcsave.layouts import Layout
from rtcsave.savefile import Origin, SaveFile, loads, read_from
from rtcsave.storage.system import dressing_errors, open_for_reading, system_failed
from rtcsave.units import LARGEST_FILE_BYTES
from rtcsave.when import Instant

_KINDS = (
    (stat.S_ISDIR, "a folder"),
    (stat.S_ISFIFO, "a pipe"),
    (stat.S_ISSOCK, "a socket"),
    (stat.S_ISCHR, "a device"),
    (stat.S_ISBLK, "a device"),
)


def path_text(path: str | os.PathLike[str]) -> str:
    """A path as text; `BadArgument` for anything else."""
    if type(path) is str and path and path.isascii() and "\0" not in path:  # nearly always
        return path
    text: object = None
    with contextlib.suppress(TypeError):
        text = os.fspath(path)
    if not isinstance(text, str) or not text or "\0" in text or not _is_encodable(text):
        raise BadArgument(
            "this is not a path",
            found=shown(path),
            expected="text or a path object",
            remedy="for the bytes of a save, use loads(data)",
        )
    return text


def _is_encodable(text: str) -> bool:
    """Whether this text can be a name on the system; a text with single surrogates cannot."""
    try:
        os.fsencode(text)
    except UnicodeEncodeError:
        return False
    return True


def digest_of(data: bytes) -> str:
    """The SHA-256 digest by which a file is recognised."""
    import hashlib  # what only reads and shows does without it

    return hashlib.sha256(data).hexdigest()


def refuse_irregular(status: os.stat_result, path: str) -> None:
    """Raise `NotARegularFile` unless this is the status of a regular file."""
    if stat.S_ISREG(status.st_mode):
        return
    if stat.S_ISDIR(status.st_mode) and not os.access(path, os.R_OK | os.X_OK):
        refused = PermissionError(errno.EACCES, os.strerror(errno.EACCES), path)
        raise system_failed(refused, "the folder cannot be read", path)
    kind = next((words for test, words in _KINDS if test(status.st_mode)), "something else")
    raise NotARegularFile(
        "this is not a regular file",
        where=path,
        found=kind,
        expected="a save file",
        remedy="name the files in it (*.sav)" if kind == "a folder" else "copy it to a file first",
    )


def read_bytes(
    path: str, largest: int = LARGEST_FILE_BYTES, only_first: int | None = None
) -> tuple[bytes, os.stat_result]:
    """The bytes of a regular file and its status; a larger one is refused by its size, unread."""
    with dressing_errors("the file cannot be read", path):
        try:
            descriptor = open_for_reading(path)
        except PermissionError:  # what a system says of a folder, too
            refuse_irregular(os.stat(path), path)
            raise
        try:
            status = os.fstat(descriptor)
            refuse_irregular(status, path)
            limit = only_first if only_first is not None else largest + 1
            if only_first is None and status.st_size > largest:
                raise _too_large(path, status.st_size, largest)
            data = _read_up_to(descriptor, limit, status.st_size)
        finally:
            os.close(descriptor)
    if only_first is None and len(data) > largest:
        raise _too_large(path, len(data), largest)
    return data, status


def read_descriptor(descriptor: int, largest: int) -> bytes:
    """The bytes of an open file from its beginning, whatever was read of it before."""
    os.lseek(descriptor, 0, os.SEEK_SET)
    return _read_up_to(descriptor, largest + 1, os.fstat(descriptor).st_size)


def _read_up_to(descriptor: int, limit: int, expected: int) -> bytes:
    """What an open file holds from here on, at most `limit` bytes, in pieces of its expected size.

    A buffer of the size of the limit would cost more than the file.
    """
    parts: list[bytes] = []
    left = limit
    while part := os.read(descriptor, min(left, expected + 1)):
        parts.append(part)
        left -= len(part)
    return parts[0] if len(parts) == 1 else b"".join(parts)


def _too_large(path: str, size: int, largest: int) -> TooLarge:
    return TooLarge(
        "the file is too large",
        where=path,
        found=number_of(size, "byte"),
        expected=f"at most {largest:,}",
        remedy="it was not read; check that it is the right file",
    )


def read_start(path: str, size: int) -> bytes:
    """The first bytes of a regular file of any length."""
    return read_bytes(path_text(path), only_first=size)[0]


def read(path: str | os.PathLike[str]) -> tuple[bytes, Origin]:
    """The bytes of a file and where they came from, for `examine` and for writing back.

    Raises `NotARegularFile`, `TooLarge` (over 1,048,576 bytes), `SystemFailed`.
    """
    return read_with_origin(path_text(path), LARGEST_FILE_BYTES)


def read_only(path: str) -> tuple[bytes, Origin]:
    """The same for what will not write: without a digest, so that writing back would be refused."""
    data, status = read_bytes(path_text(path))
    return data, Origin(path=path, digest="", modified_ns=status.st_mtime_ns)


def read_with_origin(text: str, largest: int) -> tuple[bytes, Origin]:
    """The same of a file of up to `largest` bytes, which need not be a save."""
    data, status = read_bytes(text, largest)
    with dressing_errors("the working folder cannot be told", text):
        whole = os.path.abspath(text)
    return data, Origin(path=whole, digest=digest_of(data), modified_ns=status.st_mtime_ns)


def load(
    path: str | os.PathLike[str],
    layout: str | Layout | None = None,
    also_layouts: Iterable[Layout] = (),
    now: Instant | None = None,
) -> SaveFile:
    """The save in a file, remembering where it came from; else as `loads`."""
    data, origin = read(path)
    try:
        save = loads(data, layout, also_layouts, now)
    except RtcSaveError as error:
        text = path_text(path)
        error.where = f"{text}, {error.where}" if error.where else text
        raise
    return read_from(save, origin)


def read_text(path: str, largest: int = LARGEST_FILE_BYTES) -> str:
    """The text of a file in UTF-8, or UTF-16 with a byte-order mark, as terminals write them."""
    return decode(read_bytes(path, largest)[0], path)


def decode(data: bytes, path: str) -> str:
    """The text in some bytes, in UTF-8, or UTF-16 with a byte-order mark."""
    encoding = "utf-16" if data[:2] in (b"\xff\xfe", b"\xfe\xff") else "utf-8-sig"
    try:
        text = data.decode(encoding)
        if "\0" in text:
            raise BadDescription(
                "the file is not text that can be read: it has NUL bytes",
                where=f"{path}, byte {data.index(0)}",
                expected="UTF-8, or UTF-16 with a byte-order mark",
                remedy="save it as UTF-8",
            )
        return text
    except UnicodeDecodeError as error:
        raise BadDescription(
            "the file is not text",
            where=f"{path}, byte {error.start}",
            expected="UTF-8, or UTF-16 with a byte-order mark",
        ) from None
