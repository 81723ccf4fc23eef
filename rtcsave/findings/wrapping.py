"""Saves that something is wrapped around, or that a text-mode transfer went through.

Nothing is unpacked beyond the largest legal save, and nothing is written unasked.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from rtcsave.errors import FileFault
from rtcsave.findings.entry import FindingKind, Sighting
from rtcsave.findings.scene import Scene
from rtcsave.layouts.codec import codec
from rtcsave.layouts.fields import LARGEST_BLOCK
from rtcsave.savefile import SaveFile, loads
from rtcsave.units import MEMORY_SIZES_BYTES

LARGEST_SAVE: Final = MEMORY_SIZES_BYTES[-1] + LARGEST_BLOCK
_GZIP: Final = b"\x1f\x8b\x08"
_ZIP: Final = b"PK\x03\x04"
_BOUNDED: Final = (0, 8)
"""Stored and deflated: the methods whose unpacking the library stops at the bytes asked for."""


def _inner(data: bytes, scene: Scene) -> SaveFile | None:
    """The save in some bytes, if they are one."""
    try:
        return loads(data, also_layouts=scene.also, now=scene.now_s)
    except FileFault:
        return None


def _reversed_line_endings(scene: Scene) -> SaveFile | None:
    """The save before each 0Ah became 0Dh 0Ah, if that is what happened to it."""
    data = scene.data
    if not _in_doubt(scene):  # asked first: counting reads the whole image
        return None
    pairs = data.count(b"\r\n")
    if not pairs or data.count(b"\n") != pairs:
        return None
    before = _inner(data.replace(b"\r\n", b"\n"), scene)
    if before is None or scene.save is None or before.block is None:
        return before
    return before if codec(before.block.layout).fits(before.block.raw) else None


def _in_doubt(scene: Scene) -> bool:
    """Whether the bytes are no save as they stand, or have a block that hardly is one: all zero, or
    with bits that no register has. A length that grew may be a save's by chance."""
    if scene.save is None:
        return True
    block = scene.save.block
    return block is not None and (not any(block.raw) or not codec(block.layout).fits(block.raw))


def _see_line_endings(scene: Scene) -> Iterator[Sighting]:
    if _reversed_line_endings(scene) is not None:
        pairs = scene.data.count(b"\r\n")
        yield Sighting(
            message="a transfer in text mode turned each 0Ah into 0Dh 0Ah: turned back, the length is "
            "that of a save",
            offset=scene.data.index(b"\r\n"),
            found=f"{len(scene.data):,} bytes, {pairs} pairs of 0Dh 0Ah and no 0Ah alone",
            expected=f"{len(scene.data) - pairs:,} bytes",
        )


def _unpacked(data: bytes) -> tuple[str, bytes | None, str]:
    """What wraps some bytes, what is in it, and why not if nothing is."""
    if data.startswith(_GZIP):
        return ("gzip", *_gunzip(data))
    if data.startswith(_ZIP):
        return ("zip", *_unzip(data))
    return "", None, ""


def _gunzip(data: bytes) -> tuple[bytes | None, str]:
    import zlib  # loaded only where something is packed, as below

    engine = zlib.decompressobj(wbits=31)
    try:
        unpacked = engine.decompress(data, LARGEST_SAVE + 1)
    except zlib.error as error:
        return None, f"it is damaged ({error})"
    if len(unpacked) > LARGEST_SAVE:
        return None, "what is in it is larger than any save"
    if not engine.eof:
        return None, "it ends too early"
    return (None, "it holds more than one member") if engine.unused_data else (unpacked, "")


def _unzip(data: bytes) -> tuple[bytes | None, str]:
    import io
    import zipfile

    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            members = [member for member in archive.infolist() if not member.is_dir()]
            if len(members) != 1:
                return None, f"it holds {len(members)} files"
            if members[0].compress_type not in _BOUNDED:
                return None, "it is packed in a way that cannot be unpacked within bounds"
            if members[0].file_size > LARGEST_SAVE:
                return None, "what is in it is larger than any save"
            with archive.open(members[0]) as stream:
                unpacked = stream.read(LARGEST_SAVE + 1)
    except Exception as error:  # the library raises what its formats and their engines raise
        return None, f"it is damaged or locked ({type(error).__name__})"
    return (
        (None, "what is in it is larger than any save")
        if len(unpacked) > LARGEST_SAVE
        else (unpacked, "")
    )


def _see_compressed(scene: Scene) -> Iterator[Sighting]:
    if scene.block is not None:
        return
    kind, unpacked, why_not = _unpacked(scene.data)
    if not kind or (
        scene.save is not None and (unpacked is None or _inner(unpacked, scene) is None)
    ):
        return  # an image may begin like an archive: only a save inside proves that it is one
    inside = (
        f"{len(unpacked):,} bytes" if unpacked is not None else "nothing that could be unpacked"
    )
    if unpacked is not None and _inner(unpacked, scene) is None:
        why_not = "what is in it is no save"
    yield Sighting(
        message=f"the file is a {kind} archive"
        + (f", and {why_not}: unpack it yourself" if why_not else " with a save in it"),
        offset=0,
        found=f"{len(scene.data):,} bytes of {kind}, {inside} inside",
        expected="the save itself",
    )


def _unpack(scene: Scene) -> SaveFile | None:
    _, unpacked, _ = _unpacked(scene.data)
    return None if unpacked is None or scene.block is not None else _inner(unpacked, scene)


WRAPPING_KINDS = (
    FindingKind(
        code="wrapped-compressed",
        severity="error",
        title="a gzip or zip archive around the save",
        remedy="`also=wrapped-compressed` takes the save out, where it is the only member",
        see=_see_compressed,
        repairs=_unpack,
    ),
    FindingKind(
        code="wrapped-line-endings",
        severity="error",
        title="a text-mode transfer turned each 0Ah into 0Dh 0Ah",
        remedy="`also=wrapped-line-endings` turns them back; transfer in binary mode",
        see=_see_line_endings,
        repairs=_reversed_line_endings,
    ),
)
