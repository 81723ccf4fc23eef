"""What differs between two saves, and whether a cartridge came through whole."""

from __future__ import annotations

import pytest
from known import HEALTHY44, HEALTHY48, STAMP, memory, patched

from rtcsave import SaveFile, compare, loads, verify

BEFORE = loads(memory() + HEALTHY48)


def test_the_same() -> None:
    found = compare(BEFORE, loads(memory() + HEALTHY48))
    assert found.same
    assert (found.memory_differing, found.memory_first_offset) == (0, None)
    assert (found.fields, found.changes) == ((), ())


def test_memory_is_a_count_and_an_offset() -> None:
    other = bytearray(memory())
    other[100] ^= 1
    other[2_000] ^= 1
    found = compare(BEFORE, loads(bytes(other) + HEALTHY48))
    assert not found.same
    assert (found.memory_differing, found.memory_first_offset) == (2, 100)
    assert found.changes == ()


def test_fields_and_bytes_behind_the_memory() -> None:
    found = compare(BEFORE, loads(memory() + patched(patched(HEALTHY48, 0, "08"), 40, "65")))
    assert [(one.field, one.old, one.new) for one in found.fields] == [
        ("running", "300d13:40:07", "300d13:40:08"),
        ("stamp", "1773152100 (2026-03-10T14:15:00Z)", "1773152101 (2026-03-10T14:15:01Z)"),
    ]
    assert [(one.offset, one.old, one.new, one.field) for one in found.changes] == [
        (2_048, b"\x07", b"\x08", "running_seconds"),
        (2_088, b"\x64", b"\x65", "stamp"),
    ]


def test_other_layouts_and_lengths() -> None:
    found = compare(BEFORE, loads(memory() + HEALTHY44))
    assert [one.field for one in found.fields] == ["layout"]
    assert compare(BEFORE, BEFORE.without_block()).fields[0].new == "none"
    assert compare(BEFORE, loads(memory(512))).memory_differing == 1_536


def later(seconds: int, **flags: bool) -> SaveFile:
    clock = BEFORE.clock_block.running.advance(seconds).with_values(**flags)
    return BEFORE.with_clock(clock).with_stamp(STAMP + seconds)


@pytest.mark.parametrize("seconds", [0, 1, 3_600, 100 * 86_400])
def test_yes(seconds: int) -> None:
    found = verify(BEFORE, later(seconds))
    assert found.ok
    assert found.problems == ()
    assert "the memory is identical (2048 bytes)" in found.reasons


def test_yes_over_an_overflow_with_its_carry() -> None:
    assert verify(BEFORE, later(300 * 86_400)).ok
    lost = verify(BEFORE, later(300 * 86_400, carry=False))
    assert lost.problems == ("carry is off, and should not be",)


@pytest.mark.parametrize(
    ("after", "problem"),
    [
        (loads(memory(512) + HEALTHY48), "the memory differs in 1536 bytes, the first at 512"),
        (later(60, halt=True), "halt is on, and was not before"),
        (later(60, carry=True), "carry is on, and should not be"),
        (BEFORE.without_block(), "one of the two has no clock block"),
        (later(86_400).with_clock(BEFORE.clock_block.running), "the clock was stopped"),
        (BEFORE.with_stamp(None), "is absent"),
        (BEFORE.with_stamp(STAMP - 120), "the wrong way round"),
    ],
)
def test_no(after: SaveFile, problem: str) -> None:
    found = verify(BEFORE, after)
    assert not found.ok
    assert any(problem in one for one in found.problems)


def test_the_wrong_way_round() -> None:
    found = verify(later(3_600), BEFORE)
    assert not found.ok
    assert any("the wrong way round" in one for one in found.problems)


def test_a_halted_clock_does_not_go_over() -> None:
    halted = BEFORE.with_clock(BEFORE.clock_block.running.with_values(halt=True))
    assert verify(halted, halted.with_stamp(STAMP + 300 * 86_400)).ok


def test_images_without_a_clock() -> None:
    image = loads(memory())
    assert verify(image, image).ok
