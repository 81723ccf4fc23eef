"""Saves as the trade writes them: many programs write these bytes alike, and no standard describes them."""

from __future__ import annotations

import random

import pytest

from rtcsave import BlockCutShort, CounterClock, Header, check, dumps, examine, loads

STAMP = 1_773_152_100  # 2026-03-10T14:15:00Z, 69B02764h
NOW = STAMP + 3_600
TEN_WORDS = bytes.fromhex(
    "07000000 28000000 0d000000 2c000000 010000003a000000 27000000 0d000000 2c000000 01000000"
)
EIGHT_BYTES = bytes.fromhex("6427b06900000000")
IMAGE = random.Random(11).randbytes(2_048)  # no pattern that repeats
WHOLE = IMAGE + TEN_WORDS + EIGHT_BYTES
BIG_ENDIAN = b"".join(TEN_WORDS[at : at + 4][::-1] for at in range(0, 40, 4)) + EIGHT_BYTES[::-1]


def codes(data: bytes, header: Header | None = None, now: int = NOW) -> list[str]:
    return [finding.code for finding in examine(data, header=header, now=now).findings]


@pytest.mark.parametrize("size", [256, 512, 2_048, 8_192, 32_768, 65_536, 131_072])
def test_an_image_is_the_memory_byte_for_byte(size: int) -> None:
    """Pan Docs, chapter on the cartridge header: the sizes of memory, 256 bytes (serial EEPROM) to 128
    KiB. Common practice: the file is the memory, byte for byte, with the clock block after it."""
    data = bytes(at * 37 % 239 for at in range(size))
    for block in (b"", TEN_WORDS + EIGHT_BYTES, TEN_WORDS + EIGHT_BYTES[:4], BIG_ENDIAN):
        save = loads(data + block, now=NOW)
        assert save.memory == data
        assert (save.block.raw if save.block else b"") == block
        assert dumps(save) == data + block


@pytest.mark.parametrize(
    ("block", "layout"),
    [
        (TEN_WORDS + EIGHT_BYTES, "block48"),
        (TEN_WORDS + EIGHT_BYTES[:4], "block44"),
        (BIG_ENDIAN, "block48-be"),
        (BIG_ENDIAN[:40] + BIG_ENDIAN[44:], "block44-be"),
    ],
)
def test_ten_words_and_a_stamp_of_eight_or_four_bytes(block: bytes, layout: str) -> None:
    """Common practice: running seconds, minutes, hours, day low, day high, the same as last latched, then
    the Unix time; big-endian machines write every word the other way round."""
    for front in (b"", IMAGE):
        clock_block = loads(front + block, now=NOW).clock_block
        assert clock_block.raw == block
        assert clock_block.layout.name == layout
        assert clock_block.running == CounterClock(seconds=7, minutes=40, hours=13, day_counter=300)
        assert clock_block.latched == CounterClock(
            seconds=58, minutes=39, hours=13, day_counter=300
        )
        assert clock_block.stamp == clock_block.saved_unix_s == STAMP
        assert clock_block.saved_at is not None
        assert clock_block.saved_at.isoformat() == "2026-03-10T14:15:00+00:00"


@pytest.mark.parametrize(
    ("stamp", "code"),
    [
        ("0000000000000000", "stamp-absent"),  # 0
        ("ffffffffffffffff", "stamp-absent"),  # -1
        ("6427b069efbeadde", "stamp-upper-half"),  # a garbage upper half
        ("a0de19d89c010000", "stamp-milliseconds"),  # 1773152100000 ms
        ("84 5f b0 69 00000000", "stamp-local-time"),  # local time, four hours ahead of UTC
        ("0000000069b02764", "stamp-byte-order"),  # from a big-endian machine
    ],
)
def test_stamps_as_they_are_seen(stamp: str, code: str) -> None:
    """Common practice: each is a stamp as it is seen in saves."""
    assert codes(IMAGE + TEN_WORDS + bytes.fromhex(stamp)) == [code]


def test_blocks_as_they_are_seen() -> None:
    """Common practice: stray bits, a second block, one cut short, one on a save of a game without a
    clock, a padded and a mirrored image, running and latched registers that disagree."""
    plain = Header(hardware_code=0x03, clock=None, memory_bytes=2_048, checksum_ok=True)
    timed = Header(hardware_code=0x10, clock="counter", memory_bytes=2_048, checksum_ok=True)
    block = TEN_WORDS + EIGHT_BYTES
    newer = TEN_WORDS + bytes.fromhex("6527b06900000000")
    assert codes(IMAGE + b"\x07\xff" + block[2:]) == ["register-stray-bits"]
    assert codes(WHOLE + newer) == ["block-doubled"]
    assert codes(WHOLE[:-20]) == ["block-cut-short"]
    with pytest.raises(BlockCutShort):
        loads(WHOLE[:-20])
    assert codes(WHOLE, plain) == ["block-unexpected"]
    for pad in (b"\xff", b"\x00"):
        assert codes(IMAGE.ljust(8_192, pad) + block, timed) == ["memory-padded"]
    assert codes(IMAGE * 4 + block) == ["memory-mirrored"]
    exchanged = block[20:40] + block[:20] + block[40:]
    assert [finding.code for finding in check(loads(IMAGE + exchanged), now=NOW)] == [
        "latched-exchanged"
    ]
