"""Saves as the trade writes them.

PD: Pan Docs, cartridge header, for the sizes of memory. CP: common practice: many programs write
these bytes alike, and no standard describes them.
"""

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


def codes(data: bytes, header: Header | None = None, now: int = NOW) -> list[str]:
    return [one.code for one in examine(data, header=header, now=now).findings]


@pytest.mark.parametrize("size", [256, 512, 2_048, 8_192, 32_768, 65_536, 131_072])
def test_an_image_is_the_memory_byte_for_byte(size: int) -> None:
    # PD for the sizes, CP for the file: 256 bytes (serial EEPROM) to 128 KiB
    data = bytes(at * 37 % 239 for at in range(size))
    for block in (b"", TEN_WORDS + EIGHT_BYTES, TEN_WORDS + EIGHT_BYTES[:4]):
        save = loads(data + block)
        assert save.memory == data
        assert (save.block is None) == (block == b"")
        assert dumps(save) == data + block


@pytest.mark.parametrize("stamp", [EIGHT_BYTES, EIGHT_BYTES[:4]])
def test_ten_words_and_a_stamp_of_eight_or_four_bytes(stamp: bytes) -> None:
    # CP: running seconds, minutes, hours, day low, day high, the same as last latched, Unix time
    block = loads(IMAGE + TEN_WORDS + stamp).clock_block
    assert len(block.raw) == 40 + len(stamp)
    assert block.running == CounterClock(seconds=7, minutes=40, hours=13, day_counter=300)
    assert block.latched == CounterClock(seconds=58, minutes=39, hours=13, day_counter=300)
    assert block.stamp == STAMP


@pytest.mark.parametrize(
    ("stamp", "code"),
    [
        ("0000000000000000", "stamp-absent"),  # CP: 0
        ("ffffffffffffffff", "stamp-absent"),  # CP: -1
        ("6427b069efbeadde", "stamp-upper-half"),  # CP: a garbage upper half
        ("a0de19d89c010000", "stamp-milliseconds"),  # CP: 1773152100000 ms
        ("84 5f b0 69 00000000", "stamp-local-time"),  # CP: local time, four hours ahead of UTC
        ("0000000069b02764", "stamp-byte-order"),  # CP: from a big-endian machine
    ],
)
def test_stamps_as_they_are_seen(stamp: str, code: str) -> None:
    assert codes(IMAGE + TEN_WORDS + bytes.fromhex(stamp)) == [code]


def test_words_from_a_big_endian_machine() -> None:
    # CP: every word the other way round
    words = b"".join(TEN_WORDS[at : at + 4][::-1] for at in range(0, 40, 4))
    block = loads(IMAGE + words + EIGHT_BYTES[::-1]).clock_block
    assert block.running == CounterClock(seconds=7, minutes=40, hours=13, day_counter=300)
    assert block.stamp == STAMP


def test_blocks_as_they_are_seen() -> None:
    # CP: stray bits, a second block, one cut short, one on a game without a clock, a padded and a
    # mirrored image, copies that disagree
    plain = Header(hardware_code=0x03, clock=None, memory_bytes=2_048, checksum_ok=True)
    timed = Header(hardware_code=0x10, clock="counter", memory_bytes=2_048, checksum_ok=True)
    block = TEN_WORDS + EIGHT_BYTES
    younger = TEN_WORDS + bytes.fromhex("6527b06900000000")
    assert codes(IMAGE + b"\x07\xff" + block[2:]) == ["register-stray-bits"]
    assert codes(WHOLE + younger) == ["block-doubled"]
    assert codes(WHOLE[:-20]) == ["block-cut-short"]
    with pytest.raises(BlockCutShort):
        loads(WHOLE[:-20])
    assert codes(WHOLE, plain) == ["block-unexpected"]
    for pad in (b"\xff", b"\x00"):
        assert codes(IMAGE.ljust(8_192, pad) + block, timed) == ["memory-padded"]
    assert codes(IMAGE * 4 + block) == ["memory-mirrored"]
    exchanged = block[20:40] + block[:20] + block[40:]
    assert [one.code for one in check(loads(IMAGE + exchanged), now=NOW)] == ["latched-exchanged"]
