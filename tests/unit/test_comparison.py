"""What differs between two saves, and whether a cartridge came through whole."""

from __future__ import annotations

import random
from datetime import timedelta

import pytest
from known import HEALTHY44, HEALTHY48, REGISTERS10, STAMP, memory, patched

from rtcsave import BadArgument, CounterClock, SaveFile, compare, loads, verify

BEFORE = loads(memory() + HEALTHY48)


def test_the_same() -> None:
    comparison = compare(BEFORE, loads(memory() + HEALTHY48))
    assert comparison.same
    assert (comparison.memory_differing, comparison.memory_first_offset) == (0, None)
    assert (comparison.fields, comparison.changes) == ((), ())
    assert (comparison.ordinary, comparison.reasons, comparison.elapsed) == (
        True,
        ("the files are the same",),
        None,
    )


def test_memory_is_a_count_and_an_offset() -> None:
    other = bytearray(memory())
    other[100] ^= 1
    other[2_000] ^= 1
    comparison = compare(BEFORE, loads(bytes(other) + HEALTHY48))
    assert not comparison.same
    assert (comparison.memory_differing, comparison.memory_first_offset) == (2, 100)
    assert comparison.changes == ()


def test_fields_and_bytes_after_the_memory() -> None:
    comparison = compare(BEFORE, loads(memory() + patched(patched(HEALTHY48, 0, "08"), 40, "65")))
    assert [(change.field, change.old, change.new) for change in comparison.fields] == [
        ("running", "300d13:40:07", "300d13:40:08"),
        ("stamp", "1773152100 (2026-03-10 14:15:00 UTC)", "1773152101 (2026-03-10 14:15:01 UTC)"),
    ]
    assert [
        (change.offset, change.old, change.new, change.field) for change in comparison.changes
    ] == [
        (2_048, b"\x07", b"\x08", "running_seconds"),
        (2_088, b"\x64", b"\x65", "stamp"),
    ]


def test_other_layouts_and_lengths() -> None:
    comparison = compare(BEFORE, loads(memory() + HEALTHY44))
    assert [change.field for change in comparison.fields] == ["layout"]
    assert compare(BEFORE, BEFORE.without_block()).fields[0].new == "none"
    assert compare(BEFORE, loads(memory(512))).memory_differing == 1_536


def later(seconds: int, **flags: bool) -> SaveFile:
    clock = BEFORE.clock_block.running.advance(seconds).with_values(**flags)
    return BEFORE.with_clock(clock).with_stamp(STAMP + seconds)


@pytest.mark.parametrize("seconds", [0, 1, 3_600, 100 * 86_400])
def test_yes(seconds: int) -> None:
    verification = verify(BEFORE, later(seconds))
    assert verification.ok
    assert verification.problems == ()
    assert "the memory is identical (2,048 bytes)" in verification.reasons


def test_yes_over_an_overflow_with_its_carry() -> None:
    assert verify(BEFORE, later(300 * 86_400)).ok
    lost = verify(BEFORE, later(300 * 86_400, carry=False))
    assert lost.problems == ("carry is off, and should be on",)


@pytest.mark.parametrize(
    ("after", "problem"),
    [
        (loads(memory(512) + HEALTHY48), "the memory differs in 1,536 bytes, the first at 512"),
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
    verification = verify(BEFORE, after)
    assert not verification.ok
    assert any(problem in text for text in verification.problems)


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
    verification = verify(BEFORE, BEFORE.with_clock(clock).with_stamp(STAMP + seconds))
    assert (verification.ok, verification.error_s) == (ok, off)
    assert words in verification.reasons[1]
    assert (words in " ".join(verification.problems)) is not ok
    assert "set" not in verification.reasons[1]


def test_a_clock_that_did_not_move_is_late_by_all_of_the_time() -> None:
    verification = verify(BEFORE, BEFORE.with_stamp(STAMP + 300 * 86_400))
    assert verification.error_s == -300 * 86_400
    assert verification.problems[0].startswith("the clock is 300 days slow after 300 days")


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
    verification = verify(BEFORE, restarted)
    assert not verification.ok
    assert not any("carry" in reason for reason in verification.reasons)


def test_different_memory_is_said_first() -> None:
    chance = random.Random(2)
    a, b = (loads(chance.randbytes(2_048) + HEALTHY48) for _ in range(2))
    assert verify(a, b).problems[0].startswith("The memory images have nothing in common")


def test_the_wrong_way_round() -> None:
    verification = verify(later(3_600), BEFORE)
    assert not verification.ok
    assert verification.problems == (
        "the files are the wrong way round: the later save was written 1 h before the earlier one",
    )
    assert verification.reasons == ("the memory is identical (2,048 bytes)", *verification.problems)
    overflowed = verify(later(300 * 86_400), BEFORE)
    assert len(overflowed.reasons) == 2
    assert "written 300 days before the earlier one" in overflowed.problems[0]


def test_a_restarted_clock_is_slow_by_what_it_lost() -> None:
    restarted = BEFORE.with_clock(CounterClock.from_seconds(3_600)).with_stamp(STAMP + 300 * 86_400)
    verification = verify(BEFORE, restarted)
    # 300d13:40:07 and 300 days are 600d13:40:07; 1 h of that is shown
    assert verification.error_s == -51_889_207 + 3_600
    assert not any("fast" in reason for reason in verification.reasons)


def test_what_helps_where_a_layout_has_no_stamp() -> None:
    registers = loads(REGISTERS10, layout="registers10")
    assert "First convert to a layout that has a stamp." in verify(registers, registers).problems[0]
    unstamped = BEFORE.with_stamp(None)
    assert "convert" not in verify(unstamped, unstamped).problems[0]


@pytest.mark.parametrize("seconds", [1, 300, 3_600, 86_400])
def test_ordinary_of_two_dumps(seconds: int) -> None:
    comparison = compare(BEFORE, later(seconds))
    assert (comparison.same, comparison.ordinary, comparison.problems) == (False, True, ())
    assert comparison.elapsed is not None
    assert comparison.elapsed.cause == "untouched"
    assert comparison.reasons[0] == "the memory is identical (2,048 bytes)"
    assert comparison.reasons[2] == "halt and carry are alike"


def test_ordinary_over_an_overflow() -> None:
    comparison = compare(BEFORE, later(300 * 86_400))
    assert comparison.reasons[1:] == (
        "the clock moved by 300 days, and the stamps by 300 days",
        "carry is newly set, as an overflow sets it",
    )
    assert compare(BEFORE, later(300 * 86_400, carry=False)).problems == (
        "carry is off, after an overflow",
    )


def off_by(days: int, seconds: int, stamped: bool = True) -> SaveFile:
    """A dump `seconds` later whose day counter is off by so many days."""
    save = later(seconds)
    clock = BEFORE.clock_block.running.shifted(seconds + days * 86_400)[0]
    save = save.with_clock(clock.with_values(carry=False))
    return save if stamped else save.with_stamp(None)


@pytest.mark.parametrize(
    ("after", "problem"),
    [
        # 300 = 256 + 32 + 8 + 4 and 44 = 32 + 8 + 4
        (off_by(-256, 300), "the clock jumped back by 256 days: one bit of the day counter"),
        (off_by(-256, 300, stamped=False), "the clock jumped back by 256 days: one bit"),
        (off_by(16, 300), "the clock jumped forward by 16 days: one bit of the day counter"),
        (
            off_by(20, 300),
            "the clock did not move as the stamps did. Almost certainly somebody set",
        ),
        (later(300, halt=True), "halt is on, and was off"),
        (later(300, carry=True), "carry is on, and was off"),
        (BEFORE.with_stamp(STAMP + 300), "the clock was stopped"),
        (
            BEFORE.with_clock(later(0).clock_block.running.shifted(-300)[0]).with_stamp(None),
            "went back by 5 min",
        ),
        (BEFORE.without_block(), "the save from after has no clock block"),
        (loads(memory() + HEALTHY44), "the layout is block44, and was block48"),
        (loads(b"\x01" + memory()[1:] + HEALTHY48), "the memory differs in 1 byte, the first at 0"),
    ],
)
def test_not_ordinary_of_two_dumps(after: SaveFile, problem: str) -> None:
    comparison = compare(BEFORE, after)
    assert not comparison.ordinary
    assert len(comparison.problems) == 1
    assert problem in comparison.problems[0]


def test_what_no_two_stamps_can_confirm() -> None:
    comparison = compare(BEFORE, later(300).with_stamp(None))
    assert comparison.ordinary
    assert comparison.reasons[1] == "the clock moved by 5 min; no two usable stamps can confirm it"
    passed = BEFORE.clock_block.running.advance(86_400 + 300)
    assert compare(BEFORE, BEFORE.with_clock(passed).with_stamp(None)).ordinary


def test_dumps_that_are_not_in_order_are_said_once() -> None:
    comparison = compare(later(300), BEFORE)
    assert comparison.problems == (
        "the files are the wrong way round: the later save was written 5 min before the earlier one",
    )


def test_latched_registers_that_changed_are_ordinary() -> None:
    latched = patched(HEALTHY48, 20, "39")
    comparison = compare(BEFORE, loads(memory() + latched))
    assert comparison.ordinary
    assert comparison.reasons[-1] == "the latched registers changed, as each latch changes them"


def test_a_halted_clock_does_not_overflow() -> None:
    halted = BEFORE.with_clock(BEFORE.clock_block.running.with_values(halt=True))
    assert verify(halted, halted.with_stamp(STAMP + 300 * 86_400)).ok


def test_images_without_a_clock() -> None:
    image = loads(memory())
    assert verify(image, image).ok
