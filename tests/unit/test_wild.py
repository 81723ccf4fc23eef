"""Saves as they are found in the wild: each case recognised, not taken for another, and repaired."""

from __future__ import annotations

import gzip
import io
import random
import time
import zipfile

import pytest
from known import HEALTHY44, HEALTHY48, HEALTHY48_BE, NOW, memory, patched

from rtcsave import (
    AmbiguousLayout,
    BlockCutShort,
    Header,
    SaveFile,
    UnknownLength,
    dumps,
    examine,
    loads,
    plan_repair,
)

IMAGE = random.Random(5).randbytes(2_000).replace(b"\n", b" ").ljust(2_048, b"\xff")
WHOLE = IMAGE + HEALTHY48
YOUNGER = patched(HEALTHY48, 40, "6527b069")


def promised(memory_bytes: int | None, clock: str | None = "counter") -> Header:
    return Header(hardware_code=0x10, clock=clock, memory_bytes=memory_bytes, checksum_ok=True)


def zipped(members: dict[str, bytes]) -> bytes:
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, data in members.items():
            archive.writestr(name, data)
    return packed.getvalue()


TEXT = IMAGE[:100] + b"a line\nanother\n\nand one\r\n" + IMAGE[125:]

# runs of 32 bytes of 00h and FFh, with a bit that differs (common practice: static RAM at power-up)
POWER_UP = patched((bytes(32) + b"\xff" * 32) * 32, 5, "10")

# code, the bytes, the header, and what the named step (or the default plan) makes of them
CASES: dict[str, tuple[bytes, Header | None, bytes | None]] = {
    "block-doubled": (WHOLE + YOUNGER, None, IMAGE + YOUNGER),
    "block-cut-short": (WHOLE[:-20], None, IMAGE + HEALTHY48[:20] * 2 + bytes(8)),
    "block-inside": (WHOLE.ljust(8_192, b"\xff"), None, WHOLE),
    "block-unexpected": (WHOLE, promised(2_048, None), IMAGE),
    "block-missing": (IMAGE, promised(2_048), None),
    "memory-padded": (IMAGE.ljust(8_192, b"\0") + HEALTHY48, promised(2_048), WHOLE),
    "memory-mirrored": (IMAGE * 4 + HEALTHY48, None, WHOLE),
    "memory-short": (WHOLE, promised(8_192), None),
    "memory-long": (memory(8_192) + HEALTHY48, promised(2_048), None),
    "memory-blank": (b"\xff" * 2_048 + HEALTHY48, None, None),
    "memory-power-up": (POWER_UP + HEALTHY48, None, None),
    "stamp-milliseconds": (IMAGE + patched(HEALTHY48, 40, "a0de19d89c01"), None, WHOLE),
    "stamp-other-epoch": (IMAGE + patched(HEALTHY48, 40, "00a10d25ac4c06"), None, WHOLE),
    "stamp-upper-half": (IMAGE + patched(HEALTHY48, 44, "efbeadde"), None, WHOLE),
    "stamp-byte-order": (IMAGE + HEALTHY48[:40] + HEALTHY48_BE[40:], None, WHOLE),
    "register-stray-bits": (IMAGE + patched(HEALTHY48, 1, "ff"), None, WHOLE),
    "latched-exchanged": (
        IMAGE + HEALTHY48[20:40] + HEALTHY48[:20] + HEALTHY48[40:],
        None,
        WHOLE,
    ),
    "latched-zero": (
        IMAGE + HEALTHY48[:20] + bytes(20) + HEALTHY48[40:],
        None,
        IMAGE + HEALTHY48[:20] * 2 + HEALTHY48[40:],
    ),
    "latched-later": (
        IMAGE + patched(HEALTHY48, 32, "2d"),
        None,
        IMAGE + HEALTHY48[:20] * 2 + HEALTHY48[40:],
    ),
    "wrapped-line-endings": (
        (TEXT + HEALTHY48).replace(b"\n", b"\r\n"),
        None,
        TEXT + HEALTHY48,
    ),
    "wrapped-compressed": (gzip.compress(WHOLE), None, WHOLE),
}


@pytest.mark.parametrize("code", CASES)
def test_each_case_is_its_own_finding_and_no_other(code: str) -> None:
    data, header, _ = CASES[code]
    seen = examine(data, header=header, now=NOW)
    assert [finding.code for finding in seen.findings] == [code]


@pytest.mark.parametrize("code", CASES)
def test_each_case_is_repaired_as_it_should_be(code: str) -> None:
    data, header, expected = CASES[code]
    plan = plan_repair(examine(data, header=header, now=NOW), header, now=NOW)
    certain = code in (
        "block-doubled", "stamp-milliseconds", "stamp-upper-half", "stamp-byte-order",
        "register-stray-bits",
    )  # fmt: skip
    assert [step.code for step in plan.steps] == ([code] if certain else [])
    if expected is None:
        assert plan.offered == ()
        assert dumps(plan.apply()) == data
        return
    assert [step.code for step in plan.offered] == ([] if certain else [code])
    assert dumps(plan.apply(also=[code])) == expected
    assert plan_repair(plan.apply(also=[code]), header, now=NOW).steps == ()


@pytest.mark.parametrize("code", CASES)
def test_the_default_plan_never_touches_the_memory(code: str) -> None:
    data, header, _ = CASES[code]
    seen = examine(data, header=header, now=NOW)
    plan = plan_repair(seen, header, now=NOW)
    for step in plan.steps:
        assert all(change.offset >= 2_048 for change in step.changes)


class TestDuplicates:
    def test_the_younger_is_kept_wherever_it_stands(self) -> None:
        plan = plan_repair(examine(IMAGE + YOUNGER + HEALTHY48, now=NOW), now=NOW)
        assert dumps(plan.apply()) == IMAGE + YOUNGER
        standalone = plan_repair(
            examine(HEALTHY44 + patched(HEALTHY44, 40, "65"), now=NOW), now=NOW
        )
        assert dumps(standalone.apply()) == patched(HEALTHY44, 40, "65")

    @pytest.mark.parametrize(
        "second", [patched(HEALTHY48, 0, "08"), patched(HEALTHY48, 40, "0000000000000000")]
    )
    def test_where_nobody_knows_which_is_younger_it_is_left(self, second: bytes) -> None:
        seen = examine(WHOLE + second, now=NOW)
        plan = plan_repair(seen, now=NOW)
        assert plan.steps == ()
        assert plan.offered == ()
        with pytest.raises(UnknownLength):
            plan.apply(also=["block-doubled"])

    def test_of_two_that_are_the_same_one_is_kept(self) -> None:
        plan = plan_repair(examine(WHOLE + HEALTHY48, now=NOW), now=NOW)
        assert [step.code for step in plan.steps] == ["block-doubled"]
        assert dumps(plan.apply()) == WHOLE

    def test_noise_is_no_second_block(self) -> None:
        seen = examine(WHOLE + b"\x17" + b"\xa5" * 47, now=NOW)
        assert seen.findings == ()

    def test_of_different_layouts_and_more_than_two(self) -> None:
        seen = examine(IMAGE + HEALTHY44 + YOUNGER + HEALTHY48, now=NOW)
        assert [finding.found for finding in seen.findings] == [
            "3 blocks of layout block44 and block48"
        ]
        assert dumps(plan_repair(seen, now=NOW).apply()) == IMAGE + YOUNGER

    def test_with_stray_bits_in_the_first(self) -> None:
        dirty = patched(HEALTHY48, 1, "7f0302")
        plan = plan_repair(examine(IMAGE + dirty + YOUNGER, now=NOW), now=NOW)
        assert dumps(plan.apply()) == IMAGE + YOUNGER

    def test_a_stamp_of_a_day_to_come_decides_nothing(self) -> None:
        late = patched(HEALTHY48, 40, "00e1f5f500000000")  # in the year 2100
        plan = plan_repair(examine(WHOLE + late, now=NOW), now=NOW)
        assert plan.steps == ()


@pytest.mark.parametrize("lost", [1, 2, 3])
def test_a_block_cut_off_in_its_stamp_is_no_block_inside(lost: int) -> None:
    seen = examine(WHOLE[:-lost], now=NOW)
    assert [finding.code for finding in seen.findings] == ["block-cut-short"]


class TestInside:
    @pytest.mark.parametrize("pad", [b"\0", b"\xff"])
    @pytest.mark.parametrize("block", [HEALTHY44, HEALTHY48, HEALTHY48_BE])
    def test_in_an_image_of_any_length(self, pad: bytes, block: bytes) -> None:
        for length in (2_048 + len(block) + 5, 4_096, 8_192, 131_072):
            seen = examine((IMAGE + block).ljust(length, pad), now=NOW)
            assert [finding.code for finding in seen.findings] == ["block-inside"]
            repaired = plan_repair(seen, now=NOW).apply(also=["block-inside"])
            assert repaired.memory == IMAGE
            assert repaired.clock_block.running == loads(block).clock_block.running

    @pytest.mark.parametrize(
        "data",
        [
            (IMAGE + bytes(48)).ljust(8_192, b"\xff"),  # all zero
            (IMAGE + patched(HEALTHY48, 1, "ff")).ljust(8_192, b"\xff"),  # a stray bit
            (IMAGE + HEALTHY48[:40] + bytes(8)).ljust(8_192, b"\xff"),  # no stamp
            (IMAGE + HEALTHY48 + b"\1").ljust(8_192, b"\xff"),  # not only padding after it
            (memory(1_000) + HEALTHY48).ljust(8_192, b"\xff"),  # not at the end of an image
        ],
    )
    def test_anything_less_is_none(self, data: bytes) -> None:
        assert examine(data, now=NOW).findings == ()


class TestMemory:
    def test_a_blank_tail_proves_nothing_without_a_header(self) -> None:
        assert examine(IMAGE.ljust(8_192, b"\xff") + HEALTHY48, now=NOW).findings == ()

    def test_a_tail_that_is_not_blank_is_not_cut(self) -> None:
        data = IMAGE.ljust(8_191, b"\xff") + b"\1" + HEALTHY48
        seen = examine(data, header=promised(2_048), now=NOW)
        assert [finding.code for finding in seen.findings] == ["memory-long"]

    def test_a_mirror_is_proved_and_blank_memory_is_none(self) -> None:
        almost = bytearray(IMAGE * 4)
        almost[-1] ^= 1
        assert examine(bytes(almost) + HEALTHY48, now=NOW).findings == ()
        for filler in (b"\0", b"\xff", b"\x5a"):
            codes = [finding.code for finding in examine(filler * 8_192, now=NOW).findings]
            assert "memory-mirrored" not in codes

    @pytest.mark.parametrize(
        "image",
        [b"\x00\xff" * 4_096, b"ABCD" * 2_048, bytes(range(256)) * 32, memory(512) * 16],
    )
    def test_a_pattern_proves_no_smaller_image(self, image: bytes) -> None:
        codes = {finding.code for finding in examine(image + HEALTHY48, now=NOW).findings}
        assert codes <= {"memory-power-up"}

    def test_a_small_image_is_believed_if_the_header_says_its_size(self) -> None:
        seen = examine(memory(512) * 16, header=promised(512, None), now=NOW)
        assert [finding.code for finding in seen.findings] == ["memory-mirrored"]

    def test_an_image_that_is_too_short_is_that_and_no_more(self) -> None:
        seen = examine(IMAGE * 4 + HEALTHY48, header=promised(32_768), now=NOW)
        assert [finding.code for finding in seen.findings] == ["memory-short"]

    def test_a_mirror_that_the_header_promises_is_none(self) -> None:
        seen = examine(IMAGE * 4 + HEALTHY48, header=promised(8_192), now=NOW)
        assert seen.findings == ()

    def test_the_headers_size_is_the_one_kept(self) -> None:
        data = IMAGE * 16 + HEALTHY48
        seen = examine(data, header=promised(8_192), now=NOW)
        repaired = plan_repair(seen, promised(8_192), now=NOW).apply(also=["memory-mirrored"])
        assert len(repaired.memory) == 8_192

    @pytest.mark.parametrize("length", [4_096, 16_384])
    def test_images_of_a_length_that_no_cartridge_has(self, length: int) -> None:
        mirrored = IMAGE * (length // 2_048)
        padded = IMAGE.ljust(length, b"\xff")
        for image, header, code in (
            (mirrored, None, "memory-mirrored"),
            (padded, promised(2_048), "memory-padded"),
        ):
            for block in (b"", HEALTHY48, HEALTHY44):
                seen = examine(image + block, header=header, now=NOW)
                assert seen.save is None
                assert [finding.code for finding in seen.findings] == [code]
                repaired = plan_repair(seen, header, now=NOW).apply(also=[code])
                assert dumps(repaired) == IMAGE + block

    def test_the_padding_is_where_it_begins(self) -> None:
        seen = examine(IMAGE.ljust(8_192, b"\0"), header=promised(2_048, None), now=NOW)
        assert [(finding.code, finding.offset) for finding in seen.findings] == [
            ("memory-padded", 2_048)
        ]

    def test_an_image_cut_off_is_short(self) -> None:
        seen = examine(memory(8_000), header=promised(8_192), now=NOW)
        assert [(finding.code, finding.found) for finding in seen.findings] == [
            ("memory-short", "8,000 bytes")
        ]
        assert plan_repair(seen, promised(8_192), now=NOW).offered == ()


class TestWrapped:
    @pytest.mark.parametrize("wrap", [gzip.compress, lambda data: zipped({"game.sav": data})])
    def test_one_save_in_an_archive(self, wrap: object) -> None:
        seen = examine(wrap(WHOLE), now=NOW)  # type: ignore[operator]
        assert [finding.code for finding in seen.findings] == ["wrapped-compressed"]
        assert dumps(plan_repair(seen, now=NOW).apply(also=["wrapped-compressed"])) == WHOLE

    @pytest.mark.parametrize(
        ("data", "why"),
        [
            (zipped({"a.sav": WHOLE, "b.sav": WHOLE}), "it holds 2 files"),
            (zipped({"a.txt": b"no save"}), "what is in it is no save"),
            (gzip.compress(b"no save"), "what is in it is no save"),
            (gzip.compress(WHOLE)[:-9], "it ends too early"),
            (gzip.compress(WHOLE) * 2, "it holds more than one member"),
            (gzip.compress(bytes(10_000_000)), "larger than any save"),
            (zipped({"a.sav": bytes(10_000_000)}), "larger than any save"),
            (b"\x1f\x8b\x08" + b"\xff" * 60, "it is damaged"),
            (b"PK\x03\x04" + b"\xff" * 60, "it is damaged"),
        ],
    )
    def test_what_cannot_be_taken_out_says_why(self, data: bytes, why: str) -> None:
        seen = examine(data, now=NOW)
        assert [finding.code for finding in seen.findings] == ["wrapped-compressed"]
        assert why in seen.findings[0].message
        assert plan_repair(seen, now=NOW).offered == ()

    def test_a_bomb_is_not_unpacked(self) -> None:
        bomb = gzip.compress(bytes(200_000_000), 9)
        start = time.perf_counter()
        seen = examine(bomb, now=NOW)
        assert time.perf_counter() - start < 5  # seconds; unpacking no more than a save takes ms
        assert "larger than any save" in seen.findings[0].message

    def test_steps_after_an_unpacked_save_follow_by_themselves(self) -> None:
        odd = gzip.compress(IMAGE + patched(HEALTHY48, 1, "ff"))
        plan = plan_repair(examine(odd, now=NOW), now=NOW)
        assert [step.code for step in plan.chosen(also=["wrapped-compressed"])] == [
            "wrapped-compressed",
            "register-stray-bits",
        ]
        assert dumps(plan.apply(also=["wrapped-compressed"])) == WHOLE

    def test_only_methods_that_unpack_within_bounds(self) -> None:
        packed = io.BytesIO()
        with zipfile.ZipFile(packed, "w", zipfile.ZIP_BZIP2) as archive:
            archive.writestr("a.sav", WHOLE)
        seen = examine(packed.getvalue(), now=NOW)
        assert "cannot be unpacked within bounds" in seen.findings[0].message
        assert plan_repair(seen, now=NOW).offered == ()

    def test_an_archive_of_a_legal_length_is_one_all_the_same(self) -> None:
        packed = gzip.compress(bytes(8_191) + b"\1" + HEALTHY48, mtime=0)
        head = packed[:3] + b"\x10" + packed[4:10]  # with a comment that fills it up to 512 bytes
        whole = head + b"c" * (512 - len(packed) - 1) + b"\0" + packed[10:]
        assert len(whole) == 512
        seen = examine(whole, now=NOW)
        assert [finding.code for finding in seen.findings] == ["wrapped-compressed"]

    def test_line_endings_that_make_a_length_of_a_save_by_chance(self) -> None:
        # 8 KiB, a block of 44 and four 0Ah: after the damage as long as with a block of 48
        image = (b"a line\n" * 4).ljust(8_192, b"x")
        damaged = (image + HEALTHY44).replace(b"\n", b"\r\n")
        assert len(damaged) == 8_192 + 48
        seen = examine(damaged, now=NOW)
        assert [finding.code for finding in seen.findings] == ["wrapped-line-endings"]
        plan = plan_repair(seen, now=NOW)
        assert plan.steps == ()
        assert dumps(plan.apply(also=["wrapped-line-endings"])) == image + HEALTHY44
        # 44 of them and a tail of zeros: what looks like a block is the image's own end
        bare = (b"\n" * 44).ljust(8_192, b"\0")
        seen = examine(bare.replace(b"\n", b"\r\n"), now=NOW)
        assert [finding.code for finding in seen.findings] == ["wrapped-line-endings"]

    def test_line_endings_are_proved_by_length_and_reversal(self) -> None:
        damaged = (TEXT + HEALTHY48).replace(b"\n", b"\r\n")
        assert examine(damaged + b"\0", now=NOW).findings == ()
        alone = damaged.replace(b"\r\n", b"\n", 1)
        assert "wrapped-line-endings" not in [
            finding.code for finding in examine(alone, now=NOW).findings
        ]
        assert examine(TEXT + HEALTHY48, now=NOW).findings == ()


def test_a_healthy_save_beside_them_has_no_finding() -> None:
    for header in (None, promised(2_048)):
        assert examine(WHOLE, header=header, now=NOW).findings == ()
    assert isinstance(examine(WHOLE, now=NOW).save, SaveFile)
    with pytest.raises(BlockCutShort):
        loads(WHOLE[:-20])


def test_a_whole_block_is_not_called_cut_though_nobody_knows_its_byte_order() -> None:
    # ten zero words and a stamp that is a date in both orders (69AED968h, 68D9AE69h)
    zeros = IMAGE + bytes(40) + bytes.fromhex("68d9ae69")
    seen = examine(zeros, now=NOW)
    assert isinstance(seen.refusal, AmbiguousLayout)
    assert seen.findings == ()
    assert plan_repair(seen, now=NOW).offered == ()


def test_a_shorter_block_in_front_of_a_longer_one_is_split_where_all_words_fit() -> None:
    small = bytes.fromhex("01000000 02000000 03000000 04000000 00000000") * 2
    first, second = small + bytes.fromhex("00f15365"), small + bytes.fromhex("8087ed65 00000000")
    seen = examine(IMAGE + first + second, now=NOW)
    (finding,) = seen.findings
    assert (finding.offset, finding.found) == (2_092, "2 blocks of layout block44 and block48")
    assert dumps(plan_repair(seen, now=NOW).apply()) == IMAGE + second


def test_a_block_inside_is_seen_also_with_another_after_the_padding() -> None:
    for inner, outer, kept in ((HEALTHY48, YOUNGER, YOUNGER), (YOUNGER, HEALTHY48, YOUNGER)):
        data = (IMAGE + inner[-48:]).ljust(8_192, b"\xff") + outer[-48:]
        seen = examine(data, now=NOW)
        assert [finding.code for finding in seen.findings] == ["block-inside"]
        plan = plan_repair(seen, now=NOW)
        assert plan.steps == ()
        assert dumps(plan.apply(also=["block-inside"])) == IMAGE + kept[-48:]
    same = examine((IMAGE + HEALTHY48).ljust(8_192, b"\xff") + patched(HEALTHY48, 0, "08"), now=NOW)
    assert [finding.code for finding in same.findings] == ["block-inside"]
    assert plan_repair(same, now=NOW).offered == ()
