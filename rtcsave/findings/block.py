"""Findings of a clock block as a whole: its constants, its checksum, and what the header says of it."""

from __future__ import annotations

from collections.abc import Iterator

from rtcsave.findings.duplicates import DUPLICATE_KINDS
from rtcsave.findings.entry import FindingKind, Sighting, repaired_in_block, seen_in_block
from rtcsave.findings.remains import CUT_SHORT, INSIDE
from rtcsave.findings.scene import BlockScene, Scene
from rtcsave.layouts import ClockBlock
from rtcsave.layouts.codec import codec
from rtcsave.layouts.places import rivals, stamp_rank
from rtcsave.savefile import SaveFile
from rtcsave.when import dated


def _see_checksum(scene: BlockScene) -> Iterator[Sighting]:
    layout, raw = scene.layout, scene.block.raw
    right = codec(layout).checksum_of(raw)
    if right is None or not codec(layout).checksum_wrong(raw):
        return
    (word,) = layout.part("checksum")
    yield Sighting(
        message="the block's checksum is wrong: a byte of it was changed by something that does not "
        "know of it, or damaged",
        offset=scene.offset + word.offset,
        found=raw[word.offset : word.end].hex(" "),
        expected=right.hex(" "),
    )


def _sum_again(scene: BlockScene) -> SaveFile:
    raw = codec(scene.layout).with_checksum(scene.block.raw)
    return scene.with_block(ClockBlock(layout=scene.layout, raw=raw))


def _see_constant(scene: BlockScene) -> Iterator[Sighting]:
    for word in codec(scene.layout).wrong_constants(scene.block.raw):
        yield Sighting(
            message=f"{word.name} is not what it always is",
            offset=scene.offset + word.offset,
            found=scene.block.raw[word.offset : word.end].hex(" "),
            expected=word.constant.hex(" "),
        )


def _put_constants(scene: BlockScene) -> SaveFile:
    layout, raw = scene.layout, scene.block.raw
    for word in codec(layout).wrong_constants(raw):
        raw = codec(layout).put_word(raw, word, int.from_bytes(word.constant, word.order))
    return scene.with_block(ClockBlock(layout=layout, raw=raw))


def _see_byte_order(scene: BlockScene) -> Iterator[Sighting]:
    """A stamp that alone chose the layout, where the other order is not much less likely.

    A plausible date is beyond doubt where the other order gives no usable one.
    """
    if scene.file.layout is not None:
        return
    now_s = scene.file.now_s
    rank = stamp_rank(scene.block, now_s)
    for other in rivals(scene.block, scene.file.also):
        if stamp_rank(other, now_s) == rank - 1:
            yield Sighting(
                message=f"every word fits in {other.layout.name} too: the stamp alone chose "
                f"{scene.layout.name}",
                offset=scene.offset + scene.layout.part("stamp")[0].offset,
                found=f"{dated(scene.block.saved_unix_s)} in {scene.layout.name}, "
                f"{dated(other.saved_unix_s) or 'no date'} in {other.layout.name}",
                expected="the date on which the save was written",
            )


def _see_missing(scene: Scene) -> Iterator[Sighting]:
    header = scene.header
    if scene.save is not None and scene.block is None and header is not None and header.clock:
        yield Sighting(
            message=f"the game's cartridge has a clock, the save has none{scene.doubt}",
            offset=len(scene.data),
            found="a memory image alone",
            expected=f"a {header.clock} clock after it",
        )


def _see_unexpected(scene: BlockScene) -> Iterator[Sighting]:
    header = scene.file.header
    if header is not None and header.known and header.clock is None:
        yield Sighting(
            message=f"the game's cartridge has no clock, the save has a block{scene.file.doubt}",
            offset=scene.offset,
            found=f"a block of layout {scene.layout.name}",
            expected=f"no clock (hardware code {header.hardware_code:02X}h)",
        )


def _take_off(scene: BlockScene) -> SaveFile | None:
    return scene.save.without_block() if scene.save.memory else None


def _see_other_kind(scene: BlockScene) -> Iterator[Sighting]:
    header = scene.file.header
    if header is None or header.clock in (None, scene.layout.clock):
        return
    yield Sighting(
        message=f"the save's clock is of another kind than the cartridge's{scene.file.doubt}",
        offset=scene.offset,
        found=f"a {scene.layout.clock} clock",
        expected=f"a {header.clock} clock",
    )


BLOCK_KINDS = (
    *DUPLICATE_KINDS,
    INSIDE,
    FindingKind(
        code="block-constant",
        severity="warning",
        title="bytes that the layout says are always the same are others",
        remedy="it may be another layout; if not, `also=block-constant` puts them back",
        see=seen_in_block(_see_constant),
        repairs=repaired_in_block(_put_constants),
    ),
    FindingKind(
        code="block-checksum",
        severity="error",
        title="the block's checksum is wrong",
        remedy="compare with another dump; `also=block-checksum` makes it again over what is there",
        see=seen_in_block(_see_checksum),
        repairs=repaired_in_block(_sum_again),
    ),
    FindingKind(
        code="block-byte-order",
        severity="note",
        title="the registers are zero: the stamp alone chose the byte order",
        remedy="if its date is wrong, name the other layout (`layout`)",
        see=seen_in_block(_see_byte_order),
    ),
    FindingKind(
        code="block-missing",
        severity="warning",
        title="the program's header says that there is a clock, and the save has none",
        remedy="the tool that wrote it kept no clock: take the clock from an older file, with its block",
        see=_see_missing,
    ),
    FindingKind(
        code="block-unexpected",
        severity="warning",
        title="the program's header says that there is no clock, and the save has a block",
        remedy="`also=block-unexpected` takes the block off; check that it is the right "
        "program first",
        see=seen_in_block(_see_unexpected),
        repairs=repaired_in_block(_take_off),
    ),
    FindingKind(
        code="block-other-kind",
        severity="error",
        title="the save's clock is of another kind than the program's header says",
        remedy="check that the save belongs to the program",
        see=seen_in_block(_see_other_kind),
    ),
    CUT_SHORT,
)
