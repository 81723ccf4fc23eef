"""What differs between two saves, and whether a cartridge came through whole."""

from __future__ import annotations

import random
from datetime import timedelta

import pytest
from known import HEALTHY44, HEALTHY48, STAMP, memory, patched

from rtcsave import BadArgument, CounterClock, SaveFile, compare, loads, verify

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


def test_fields_and_bytes_after_the_memory() -> None:
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
    assert lost.problems == ("carry is off, and should be on",)


@pytest.mark.parametrize(
    ("after", "problem"),
    [
        (loads(memory(512) + HEALTHY48), "the memory differs in 1536 bytes, the first at 512"),
        (later(60, halt=True), "halt is on, and was not before"),
        (later(60, carry=True), "carry is on, and should be off"),
        (BEFORE.without_block(), "the save from after has no clock block"),
        (
            later(86_400).with_clock(BEFORE.clock_block.running),
            "the clock is 1 day slow after 1 day (allowed: 1 min 4 s)",
        ),
        (
            BEFORE.with_stamp(None),
            "cannot be judged without two usable stamps. The stamp of the later save is absent",
        ),
        (BEFORE.with_stamp(STAMP - 120), "the wrong way round"),
    ],
)
def test_no(after: SaveFile, problem: str) -> None:
    found = verify(BEFORE, after)
    assert not found.ok
    assert any(problem in one for one in found.problems)


@pytest.mark.parametrize(
    ("off", "days", "ok", "words"),
    [
        (2, 1, True, "the clock is 2 s fast after 1 day (allowed: 1 min 4 s)"),
        (-25, 1, True, "the clock is 25 s slow after 1 day (allowed: 1 min 4 s)"),
        (0, 1, True, "the clock is right after 1 day (allowed: 1 min 4 s)"),
        (64, 1, True, "1 min 4 s fast"),
        (65, 1, False, "1 min 5 s fast"),
        (3_600, 1, False, "1 h fast"),
        (3_492, 215, False, "58 min 12 s fast"),  # 188 ppm
        (-960, 215, True, "over so long a time that allowance says little"),
    ],
)
def test_the_error_of_the_clock_is_always_said(off: int, days: int, ok: bool, words: str) -> None:
    seconds = days * 86_400
    clock = BEFORE.clock_block.running.advance(seconds + off)
    found = verify(BEFORE, BEFORE.with_clock(clock).with_stamp(STAMP + seconds))
    assert (found.ok, found.error_s) == (ok, off)
    assert words in found.reasons[1]
    assert (words in " ".join(found.problems)) is not ok
    assert "set" not in found.reasons[1]


def test_a_clock_that_did_not_move_is_late_by_all_of_the_time() -> None:
    found = verify(BEFORE, BEFORE.with_stamp(STAMP + 300 * 86_400))
    assert found.error_s == -300 * 86_400
    assert found.problems[0].startswith("the clock is 300 days slow after 300 days")


def test_how_right_a_clock_must_be() -> None:
    after = later(86_400).with_stamp(STAMP + 86_406)
    assert verify(BEFORE, after).error_s == -6
    assert not verify(BEFORE, after, within_s=0).ok
    assert not verify(BEFORE, after, within_s=1).ok  # 1 s, and 50 ppm of a day are 4 s
    assert verify(BEFORE, after, within_s=timedelta(seconds=2)).ok
    for wrong in (-1, 0.5):
        with pytest.raises(BadArgument, match="within_s"):
            verify(BEFORE, after, within_s=wrong)  # type: ignore[arg-type]


def test_a_clock_that_is_wrong_is_not_judged_by_its_carry() -> None:
    restarted = BEFORE.with_clock(CounterClock.from_seconds(86_400)).with_stamp(
        STAMP + 300 * 86_400
    )
    found = verify(BEFORE, restarted)
    assert not found.ok
    assert not any("carry" in reason for reason in found.reasons)


def test_different_memory_is_said_first() -> None:
    chance = random.Random(2)
    a, b = (loads(chance.randbytes(2_048) + HEALTHY48) for _ in range(2))
    assert verify(a, b).problems[0].startswith("The memory images have nothing in common")


def test_the_wrong_way_round() -> None:
    found = verify(later(3_600), BEFORE)
    assert not found.ok
    assert any("the wrong way round" in one for one in found.problems)


def test_a_halted_clock_does_not_overflow() -> None:
    halted = BEFORE.with_clock(BEFORE.clock_block.running.with_values(halt=True))
    assert verify(halted, halted.with_stamp(STAMP + 300 * 86_400)).ok


def test_images_without_a_clock() -> None:
    image = loads(memory())
    assert verify(image, image).ok
