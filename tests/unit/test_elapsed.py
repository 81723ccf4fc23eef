"""Two saves between which something happened: what `elapsed` makes of it, and how sure it is."""

from __future__ import annotations

import random

import pytest
from bench import simulate_elapsed
from bench.histories import BLANK
from bench.kinds_of_history import KINDS, Kind, a_clock
from known import HEALTHY48, REGISTERS5, STAMP, patched

from rtcsave import (
    BadArgument,
    CalendarClock,
    CounterClock,
    Elapsed,
    MinuteClock,
    NoClock,
    SaveFile,
    correct,
    elapsed,
    loads,
)
from rtcsave.elapsed_time import memory_alike
from rtcsave.layouts.codec import codec

DAY = 86_400
HOUR = 3_600
PERIOD = 44_236_800  # 512 days: facts, Time
T = STAMP
R = 100 * DAY
NOW = STAMP + 3_000 * DAY


def save(reading_s: int, unix_s: int | None, **flags: bool) -> SaveFile:
    clock = CounterClock.from_seconds(reading_s % PERIOD, **flags)
    return loads(HEALTHY48).with_clock(clock).with_stamp(unix_s)


def between(change_s: int, stamps_s: int, start_s: int = R, **flags: bool) -> Elapsed:
    """The earlier save reads `start_s`; flags are the later save's."""
    return elapsed(save(start_s, T), save(start_s + change_s, T + stamps_s, **flags), NOW)


def causes(result: Elapsed) -> list[str]:
    return [item.cause for item in result.explanations]


def times(result: Elapsed) -> set[int | None]:
    return {item.elapsed_s for item in result.explanations}


# what happened, registers, stamps, carry of the later save, the causes that must be listed (the
# first of them first), the time of the first in seconds, whether all agree
SITUATIONS = [
    ("ran an hour", 3_600, 3_600, False, "untouched", 3_600, True),
    ("truncation", 3_601, 3_600, False, "untouched", 3_600, True),
    ("ran a year", 365 * DAY, 365 * DAY, False, "untouched", 365 * DAY, True),
    ("a stamp some seconds late", 600, 605, False, "untouched", 605, True),
    ("an overflow", 500 * DAY, 500 * DAY, True, "untouched", 500 * DAY, True),
    ("three overflows", 1_600 * DAY, 1_600 * DAY, True, "untouched", 1_600 * DAY, True),
    ("an overflow, carry cleared", 500 * DAY, 500 * DAY, False, "untouched", 500 * DAY, True),
    ("23 ppm fast, 453 days", 453 * DAY + 900, 453 * DAY, True, "untouched", 453 * DAY, True),
    ("45 ppm slow, 200 days", 200 * DAY - 777, 200 * DAY, False, "untouched", 200 * DAY, True),
    ("150 ppm slow, 30 days", 30 * DAY - 388, 30 * DAY, False, "untouched stopped", 30 * DAY, True),
    ("local time, UTC+1, slow", 40 * DAY - 35, 40 * DAY + HOUR, False,
     "stamp-shifted clock-shifted", 40 * DAY, False),
    ("local time, UTC-8", 3 * DAY, 3 * DAY - 8 * HOUR, False, "stamp-shifted clock-shifted",
     3 * DAY, False),
    ("summer time", 30 * DAY + HOUR, 30 * DAY, False, "stamp-shifted clock-shifted",
     30 * DAY + HOUR, False),
    ("an hour over 700 days", 700 * DAY, 700 * DAY + HOUR, True,
     "stamp-shifted untouched clock-shifted", 700 * DAY, False),
    ("exactly 3 h lost", 10 * DAY - 3 * HOUR, 10 * DAY, False, "stamp-shifted stopped set",
     9 * DAY + 21 * HOUR, False),
    ("5 days 77 s lost", 5 * DAY - 77, 10 * DAY, False, "stopped set", 10 * DAY, True),
    ("exactly a day lost", 9 * DAY, 10 * DAY, False, "stopped set", 10 * DAY, True),
    ("the registers did not move, 40 days", 0, 40 * DAY, False, "stopped", 40 * DAY, True),
    ("the same, 257 days", 0, 257 * DAY, False, "stopped", 257 * DAY, True),
    ("the same, 511 days", 0, 511 * DAY, False, "stopped", 511 * DAY, True),
    ("the same, 800 days", 0, 800 * DAY, False, "stopped", 800 * DAY, True),
    ("the same, 1,000 days", 0, 1_000 * DAY, False, "stopped", 1_000 * DAY, True),
    ("a new cell 3 days 2 h ago", -97 * DAY + 2 * HOUR, 50 * DAY, False, "restarted", 50 * DAY,
     True),
    ("the days banked", -100 * DAY + 5 * HOUR, 50 * DAY + 5 * HOUR, False, "restarted",
     50 * DAY + 5 * HOUR, True),
    ("set forward two days", 12 * DAY, 10 * DAY, False, "set", 10 * DAY, True),
    ("set back 50 days", -40 * DAY, 10 * DAY, False, "set", 10 * DAY, True),
    ("reversed", -40 * DAY, -40 * DAY, False, "reversed", -40 * DAY, True),
    ("reversed, anything", 77 * DAY, -40 * DAY, True, "reversed", -40 * DAY, True),
    ("local time before the change", 600, 600 - HOUR, False, "stamp-shifted", 600, True),
]  # fmt: skip


@pytest.mark.parametrize(
    ("change_s", "stamps_s", "carry", "listed", "elapsed_s", "agreed"),
    [situation[1:] for situation in SITUATIONS],
    ids=[situation[0] for situation in SITUATIONS],
)
def test_what_happened(
    change_s: int, stamps_s: int, carry: bool, listed: str, elapsed_s: int, agreed: bool
) -> None:
    result = between(change_s, stamps_s, carry=carry)
    assert result.cause == listed.split()[0]
    assert set(listed.split()) <= set(causes(result))
    assert result.elapsed_s == elapsed_s
    assert result.agreed is agreed


def test_a_shift_is_one_of_two_and_the_hull_holds_both() -> None:
    result = between(40 * DAY - 35, 40 * DAY + HOUR)
    assert causes(result)[:2] == ["stamp-shifted", "clock-shifted"]
    stamp, clock = result.explanations[:2]
    assert (stamp.elapsed_s, stamp.low_s, stamp.high_s) == (3_456_000, 3_455_999, 3_456_001)
    assert clock.elapsed_s == 3_459_600
    assert (result.low_s, result.high_s) == (3_455_999, 3_459_601)
    assert stamp.shift_s == 3_600  # the stamps count an hour too much
    assert clock.shift_s == -3_600  # or the clock was set back by one
    assert stamp.rate_ppm == pytest.approx(-35 / 3_456_000 * 1e6)
    assert result.candidates_s == (3_456_000, 3_459_600)


def test_weights_add_up_and_say_their_words() -> None:
    result = between(10 * DAY - 3 * HOUR, 10 * DAY)
    weights = [item.weight for item in result.explanations]
    assert sum(weights) == pytest.approx(1)
    assert weights == sorted(weights, reverse=True)
    assert min(weights) >= 0.01
    for item in result.explanations:
        word = "Almost certainly" if item.weight >= 0.95 else "Possibly"
        word = "Probably" if 0.60 <= item.weight < 0.95 else word
        assert item.text.startswith(f"{word} ")


@pytest.mark.parametrize(
    ("first", "last", "change_s", "cause", "words"),
    [
        ({"halt": True}, {"halt": True}, 0, "halted", "halt is set in both saves"),
        ({"halt": True}, {}, 10 * DAY, "halted", "halt is set in the earlier save"),
        ({}, {"halt": True}, 10 * DAY, "halted", "halted at some time: halt is set in the later"),
        ({}, {"halt": True}, 40 * DAY, "untouched", "Halt is set in the later save, perhaps"),
        ({"halt": True}, {"halt": True}, 40 * DAY, "untouched", "for the dump alone"),
    ],
)
def test_halt(
    first: dict[str, bool], last: dict[str, bool], change_s: int, cause: str, words: str
) -> None:
    result = elapsed(save(R, T, **first), save(R + change_s, T + 40 * DAY, **last), NOW)
    assert result.cause == cause
    assert result.elapsed_s == 3_456_000
    assert words in result.text


def test_without_a_halt_bit_nothing_was_halted() -> None:
    assert "halted" not in causes(between(0, 40 * DAY))


def test_a_rate_has_bounds_that_hold_it() -> None:
    result = between(200 * DAY + 311, 200 * DAY)
    item = result.explanations[0]
    # (311 ± 2 s over 17,280,000 s ± 1): facts, Statistics, the hard bound
    assert item.rate_ppm == pytest.approx(17.9977, abs=1e-4)
    assert item.low_ppm == pytest.approx((17_280_310 / 17_280_001 - 1) * 1e6)
    assert item.high_ppm == pytest.approx((17_280_312 / 17_279_999 - 1) * 1e6)
    assert result.rate_ppm == item.rate_ppm


def test_overflows_come_from_carry_and_from_what_fits() -> None:
    assert between(0, 512 * DAY, carry=True).cause == "untouched"
    assert between(0, 512 * DAY, carry=True).overflows == 1
    still = between(0, 800 * DAY)
    assert still.overflows == 0
    assert (
        "did not move, while the stamps count 800 days. Or it ran for 512 days, with 1 overflow."
        in still.text
    )
    assert "512 days or a multiple of that, with 1 to 3 overflows." in between(0, 1_600 * DAY).text
    assert "carry" not in between(0, 40 * DAY).text.lower()


def test_the_sum_that_is_shown_is_the_readers() -> None:
    # day 100 to day 26 is -74 days; -74 + 2 x 512 = 950
    result = between(-74 * DAY + 7, 1_000 * DAY, carry=True)
    assert (
        "the reading changed by -(73 days 23 h 59 min 53 s), and 2 overflows of 512 days make that "
        "950 days 7 s" in result.text
    )
    assert result.by_registers_s == 438 * DAY + 7


def test_a_reset_need_not_go_back() -> None:
    # day 2 to day 30 with stamps 400 days apart: a new cell, or a game that banks the days
    result = between(28 * DAY, 400 * DAY, start_s=2 * DAY)
    assert result.cause == "restarted"
    assert "a game banked 372 days" in result.explanations[0].text
    assert "30 days before the later save (a new cell)" in result.explanations[0].text


def test_a_drift_beyond_a_crystal_is_never_alone() -> None:
    for span_s, off_s in ((30 * DAY, 200), (200 * DAY, 1_000), (700 * DAY, 3_600), (DAY, 45)):
        for sign in (-1, 1):
            assert len(between(span_s + sign * off_s, span_s).explanations) > 1


def test_reversed_files_across_an_overflow() -> None:
    earlier = save(490 * DAY, T)
    later = save(10 * DAY + 20, T + 32 * DAY, carry=True)
    result = elapsed(later, earlier, NOW)
    assert causes(result) == ["reversed"]
    assert result.elapsed_s == -32 * DAY
    assert result.overflows == 1
    assert result.rate_ppm == elapsed(earlier, later, NOW).rate_ppm
    assert result.text == (
        "Almost certainly the files are the wrong way round: "
        "the later one was written 32 days before the earlier one."
    )


def test_one_unusable_stamp_limits_the_candidates() -> None:
    earlier, later = save(R, T), save(R + 5 * DAY, None)
    result = elapsed(earlier, later, T + 319 * DAY)
    assert (result.cause, result.elapsed_s, result.by_stamps_s) == ("unknown", None, None)
    assert result.candidates_s == (432_000,)  # 5 days; 517 days are more than 319
    assert (result.low_s, result.high_s, result.agreed) == (0, 319 * DAY, False)
    assert result.explanations[0].overflows is None
    assert elapsed(earlier, later, T + 520 * DAY).candidates_s == (432_000, 44_668_800)
    # the later stamp is 2026-03-10: 11,391 days after 1995-01-01, 22 periods and 5 days fit
    assert len(elapsed(save(R, None), save(R + 5 * DAY, T), NOW).candidates_s) == 23
    with_carry = elapsed(earlier, save(R + 5 * DAY, None, carry=True), NOW)
    assert with_carry.candidates_s[0] == 5 * DAY + PERIOD
    assert "Carry is newly set" in with_carry.text
    nothing = elapsed(earlier, save(R + 350 * DAY, None), T + 319 * DAY)
    assert nothing.candidates_s == ()
    assert "No time that the registers count fits" in nothing.text
    assert elapsed(loads(REGISTERS5), loads(REGISTERS5), NOW).cause == "unknown"


def test_a_stamp_in_milliseconds_is_read_as_such_and_said() -> None:
    later = save(R + 5 * DAY, T)
    block = later.clock_block
    raw = codec(block.layout).put_stamp(block.raw, (T + 5 * DAY) * 1_000)
    later = later.with_block(type(block)(layout=block.layout, raw=raw))
    result = elapsed(save(R, T), later, NOW)
    assert (result.cause, result.elapsed_s) == ("untouched", 432_000)
    assert result.text.startswith(
        "The stamp of the later save is read as milliseconds: 2026-03-15 14:15:00 UTC."
    )


def test_the_upper_half_and_the_byte_order_of_a_stamp_too() -> None:
    block = save(R + 5 * DAY, T).clock_block
    for stamp, words in (
        ((T + 5 * DAY) | 0x7700_0001 << 32, "its lower 32 bits alone"),
        (int.from_bytes((T + 5 * DAY).to_bytes(8, "big"), "little", signed=True), "the other byte"),
    ):
        raw = codec(block.layout).put_stamp(block.raw, stamp)
        later = save(R, T).with_block(type(block)(layout=block.layout, raw=raw))
        result = elapsed(save(R, T), later, NOW)
        assert result.elapsed_s == 432_000
        assert words in result.text


def test_a_correction_is_seen() -> None:
    result = elapsed(save(R, T), correct(save(R + DAY, T + DAY), 7_200), NOW)
    assert {"stamp-shifted", "clock-shifted"} <= set(causes(result))
    assert times(result) == {DAY, DAY + 7_200}


def test_a_zone_that_changed_is_named() -> None:
    # London changed at 2024-03-31T01:00Z (IANA tz 2025b): a local stamp gains an hour over that
    before, after = 1_710_000_000, 1_713_000_000
    result = elapsed(save(R, before), save(R + 3_000_000, after + 3_600), NOW)
    assert "Europe/London changed by that much" in result.text


def test_two_saves_that_are_one() -> None:
    result = between(0, 0)
    assert (result.cause, result.elapsed_s, result.low_s, result.high_s) == ("untouched", 0, -1, 1)
    assert result.rate_ppm is None


@pytest.mark.parametrize("kind", ["minutes", "calendar"])
def test_other_clocks(kind: str) -> None:
    chance = random.Random(4)
    clock = a_clock(chance, kind)
    blank = BLANK[kind]
    for run_s, span_s, cause in (
        (5 * DAY, 5 * DAY + 30, "untouched"),
        (0, 90 * DAY, "stopped"),
        (20 * DAY, 90 * DAY, "stopped"),
        (90 * DAY, 90 * DAY + HOUR, "stamp-shifted"),
    ):
        result = elapsed(
            blank.with_clock(clock).with_stamp(T),
            blank.with_clock(clock.advance(run_s)).with_stamp(T + span_s),
            NOW,
        )
        assert result.cause == cause
        assert not {"halted"} & set(causes(result))
        assert "arry" not in result.text


def test_each_entry_speaks_of_its_kinds_of_clock() -> None:
    # day 100 to day 40 at the same time of day, and 2001-06-01 to 2000-01-10, 90 days later
    minutes = BLANK["minutes"], MinuteClock.from_seconds(100 * DAY)
    calendar = (
        BLANK["calendar"],
        CalendarClock(
            year=1, month=6, day=1, weekday=0, hours=0, minutes=0, seconds=0, leap_counter=1
        ),
    )
    for (blank, clock), back_s, restarts in (
        (minutes, 60 * DAY, True),
        (calendar, 508 * DAY, False),
    ):
        later = blank.with_clock(clock.shifted(-back_s)[0]).with_stamp(T + 90 * DAY)
        result = elapsed(blank.with_clock(clock).with_stamp(T), later, NOW)
        assert "halted" not in causes(result)
        assert "banked" not in result.text  # only the day counter's source speaks of it
        assert ("restarted" in causes(result)) is restarts


def test_a_reading_that_went_back_a_little_is_no_late_stamp() -> None:
    assert "untouched" not in causes(between(-5, 20))
    assert between(-5, 20).cause == "set"


def test_what_is_refused() -> None:
    with pytest.raises(BadArgument, match="different kinds"):
        elapsed(loads(HEALTHY48), loads(bytes(6)), NOW)
    with pytest.raises(NoClock):
        elapsed(loads(bytes(8_192)), loads(HEALTHY48), NOW)


def test_a_clock_out_of_range_is_read_as_a_time() -> None:
    odd = loads(patched(HEALTHY48, 8, "1d"))  # 29 h of day 300 is 5 h of day 301
    later = loads(HEALTHY48).with_stamp(STAMP + 60)
    assert elapsed(odd, later, NOW).by_registers_s == PERIOD - 16 * HOUR


def image(seed: int, size: int = 32_768) -> bytes:
    return random.Random(seed).randbytes(size)


def test_memory_is_compared_with_chance() -> None:
    first, second = image(1), image(2)
    mostly_blank = bytes(20_000) + first[20_000:], bytes(20_000) + second[20_000:]
    assert memory_alike(first, first) is True
    assert memory_alike(first, second) is False
    assert memory_alike(*mostly_blank) is True  # more than half is equal
    # nine tenths rewritten: the game is the same
    assert memory_alike(first, second[:29_500] + first[29_500:]) is True
    # all but every eighth byte rewritten: a share of 1/8, where chance gives 1/256
    eighth = bytearray(second)
    eighth[::8] = first[::8]
    assert memory_alike(first, bytes(eighth)) is True
    # two copies that are written in turn
    assert memory_alike(first[:16_384] + second[:16_384], image(3, 16_384) + first[:16_384]) is True
    # text shares letters: chance makes a tenth of it equal
    letters = random.Random(5)
    texts = [bytes(letters.choices(b"etaoinshr ", k=8_192)) for _ in range(2)]
    assert memory_alike(*texts) is False
    assert memory_alike(b"", first) is None
    assert memory_alike(first, first[:8_192]) is True


def test_different_memory_is_said_first() -> None:
    first = SaveFile(memory=image(1), block=save(R, T).block)
    second = SaveFile(memory=image(2), block=save(R + DAY, T + DAY).block)
    result = elapsed(first, second, NOW)
    assert result.memory_alike is False
    assert result.text.startswith("The memory images have nothing in common: ")
    assert elapsed(first, first, NOW).memory_alike is True
    assert between(0, 0).memory_alike is None
    unstamped = second.with_stamp(None)
    assert elapsed(first, unstamped, NOW).text.startswith(
        "The memory images have nothing in common"
    )


@pytest.mark.parametrize("kind", KINDS, ids=[kind.name for kind in KINDS])
def test_histories(kind: Kind) -> None:
    """The simulation that `.ci/proof` runs with more histories: its limits are in `Row.failures`."""
    assert simulate_elapsed.measure(kind, 500, seed=1).failures() == []


def test_weights_mean_what_they_say() -> None:
    rows = simulate_elapsed.calibrate(4_000, seed=2)
    assert sum(count >= 30 for count, _, _ in rows) >= 6  # weights of every size are given
    for count, mean, true in rows:
        assert count < 30 or mean == pytest.approx(true, abs=0.15)


@pytest.mark.parametrize(
    ("change_s", "stamps_s", "start_s", "words"),
    [
        # 100 days and 453 days less the banked 453 leave 100 days; the 15 min are the crystal's
        (900, 453 * DAY, 100 * DAY, "with the 453 days the clock ran 453 days 15 min, 15 min more"),
        # 2 + 400 - 372 = 30
        (28 * DAY, 400 * DAY, 2 * DAY, "with the 372 days the clock ran 400 days, which agrees"),
        # -99 days 23 h less 1 day
        (
            -99 * DAY - 23 * HOUR,
            DAY,
            100 * DAY,
            "back by 100 days 23 h: the reading changed by -(99 days 23 h), the stamps 1 day.",
        ),
    ],
)
def test_numbers_of_a_sentence_add_up(
    change_s: int, stamps_s: int, start_s: int, words: str
) -> None:
    assert words in between(change_s, stamps_s, start_s).text
