"""Shifts, recounts, and what a shift should be."""

from __future__ import annotations

import random

import pytest
from hypothesis import given
from hypothesis import strategies as st
from known import HEALTHY48, REGISTERS5, STAMP, memory, patched

from rtcsave import (
    BadArgument,
    CounterClock,
    Refused,
    StampUnusable,
    WouldOverflow,
    correct,
    dumps,
    elapsed,
    loads,
    rate_shift,
    recount,
    shift_between,
    zone_shift,
)

DAY = 86_400
PERIOD = 44_236_800


def test_a_shift_moves_the_running_registers_and_nothing_else() -> None:
    save = loads(memory() + HEALTHY48)
    # 13:40:07 and 13 minutes is 13:53:07; back 90 s it is 13:38:37
    assert dumps(correct(save, 780)) == memory() + patched(HEALTHY48, 4, "35")
    assert dumps(correct(save, -90)) == memory() + patched(HEALTHY48, 0, "25000000 26")
    halted = loads(patched(HEALTHY48, 16, "41"))
    assert dumps(correct(halted, 780)) == patched(patched(HEALTHY48, 16, "41"), 4, "35")


def test_a_shift_past_either_end_is_refused_unless_allowed() -> None:
    save = loads(HEALTHY48)
    to_the_end = PERIOD - 25_969_207
    assert correct(save, to_the_end - 1).clock_block.running.reading() == "511d23:59:59"
    with pytest.raises(WouldOverflow, match="past the end"):
        correct(save, to_the_end)
    over = correct(save, to_the_end, allow_overflow=True).clock_block.running
    assert over == CounterClock(seconds=0, minutes=0, hours=0, day_counter=0, carry=True)
    assert correct(save, -25_969_207).clock_block.running.reading() == "0d00:00:00"
    with pytest.raises(WouldOverflow, match="past day 0"):
        correct(save, -25_969_208)
    under = correct(save, -25_969_208, allow_overflow=True).clock_block.running
    assert under == CounterClock(seconds=59, minutes=59, hours=23, day_counter=511)


def test_what_is_no_shift_is_refused() -> None:
    with pytest.raises(BadArgument, match="repair it first"):
        correct(loads(patched(HEALTHY48, 8, "1d")), 60)
    for wrong in (1.5, True, "60"):
        with pytest.raises(BadArgument):
            correct(loads(HEALTHY48), wrong)  # type: ignore[arg-type]


@given(by_s=st.integers(-25_969_207, PERIOD - 25_969_208))
def test_there_and_back_is_nothing(by_s: int) -> None:
    save = loads(HEALTHY48)
    assert correct(correct(save, by_s), -by_s) == save


def test_a_recount_takes_the_earlier_clock_on_by_true_time() -> None:
    earlier = loads(memory() + HEALTHY48)
    stopped = loads(memory(512) + patched(HEALTHY48, 0, "00" * 20)).with_stamp(STAMP + 10 * DAY)
    after = recount(stopped, since=earlier)
    assert after.memory == memory(512)
    assert after.clock_block.running.reading() == "310d13:40:07"
    assert after.clock_block.saved_unix_s == STAMP + 10 * DAY
    assert after.clock_block.latched == stopped.clock_block.latched
    later = recount(stopped, since=earlier, to=STAMP + 11 * DAY)
    assert later.clock_block.running.reading() == "311d13:40:07"
    assert later.clock_block.saved_unix_s == STAMP + 11 * DAY


def test_a_recount_from_another_cartridge_is_refused() -> None:
    chance = random.Random(1)
    save, other = (loads(chance.randbytes(2_048) + HEALTHY48) for _ in range(2))
    with pytest.raises(Refused, match="nothing in common") as caught:
        recount(save, since=other)
    assert "`different_memory`" in caught.value.remedy
    assert recount(save, since=other, different_memory=True) == save
    assert recount(save, since=save) == save


def test_a_recount_does_not_start_from_a_halted_clock() -> None:
    with pytest.raises(BadArgument, match="was halted"):
        recount(loads(HEALTHY48), since=loads(patched(HEALTHY48, 16, "41")))


def test_a_recount_needs_stamps() -> None:
    healthy = loads(HEALTHY48)
    with pytest.raises(StampUnusable, match="say it"):
        recount(healthy.with_stamp(None), since=healthy)
    with pytest.raises(StampUnusable):
        recount(healthy, since=healthy.with_stamp(None))
    with pytest.raises(StampUnusable, match="later than the instant"):
        recount(healthy, since=healthy, to=STAMP - 1)
    bare = recount(loads(REGISTERS5), since=healthy, to=STAMP + 60)
    assert dumps(bare) == bytes.fromhex("07 29 0d 2c 01")


@pytest.mark.parametrize(
    ("shown", "true", "shift_s"),
    [
        ("13:52", "14:05", 780),
        ("14:05", "13:52", -780),
        ("23:50", "0:10", 1_200),
        ("00:10", "23:50", -1_200),
        ("13:52:07", "13:52:00", -7),
        ("1:52 pm", "14:05", 780),
        ("12:05 am", "00:00", -300),
        ("Tue 23:50", "Wed 00:10", 1_200),
        ("Sun 23:50", "Mon 00:10", 1_200),
        ("Monday 08:00", "Sat 08:00", -2 * DAY),
        ("Mon 08:00", "Mon 08:00", 0),
    ],
)
def test_the_shortest_shift_from_a_shown_to_a_true_time(
    shown: str, true: str, shift_s: int
) -> None:
    assert shift_between(shown, true) == shift_s


@pytest.mark.parametrize(
    ("shown", "true", "hint"),
    [
        ("06:00", "18:00", "equally far"),
        ("Tue 23:50", "00:10", "both or neither"),
        ("25:00", "00:10", "no such time"),
        ("13:60", "00:10", "no such time"),
        ("13 pm", "00:10", "not a time of day"),
        ("13:00 pm", "00:10", "no such hour"),
        ("noon", "00:10", "not a time of day"),
    ],
)
def test_what_gives_no_shift(shown: str, true: str, hint: str) -> None:
    with pytest.raises(BadArgument, match=hint):
        shift_between(shown, true)


def test_the_advice_for_equally_far_times_is_none_that_was_followed() -> None:
    with pytest.raises(BadArgument) as caught:
        shift_between("06:00", "18:00")
    assert caught.value.remedy == (
        "add weekdays, or say the shift itself (`by_s`): 12 h forward or back"
    )
    with pytest.raises(BadArgument) as caught:
        shift_between("Mon 06:00", "Thu 18:00")
    assert caught.value.remedy == "say the shift itself (`by_s`): 3 days 12 h forward or back"


def test_a_known_rate_since_an_instant() -> None:
    save = loads(HEALTHY48)
    # 18.2 ppm over 100 days is 157.248 s: fast, so back
    assert rate_shift(save, 18.2, STAMP - 100 * DAY) == -157
    assert rate_shift(save, -18.2, STAMP - 100 * DAY) == 157
    assert rate_shift(save, 18.2, STAMP) == 0
    with pytest.raises(BadArgument, match="begins after"):
        rate_shift(save, 18.2, STAMP + 1)
    for wrong in (float("nan"), float("inf"), 1e300, "5"):
        with pytest.raises(BadArgument, match="no rate of a clock"):
            rate_shift(save, wrong, STAMP)  # type: ignore[arg-type]
    with pytest.raises(StampUnusable):
        rate_shift(save.with_stamp(None), 18.2, STAMP)


def test_an_unknown_zone() -> None:
    with pytest.raises(BadArgument, match="not in the IANA database"):
        zone_shift("Europe/London", "Mars/Olympus")


@given(seconds=st.integers(0, 40 * 366 * DAY))
def test_elapsed_recovers_what_a_clock_was_advanced_by(seconds: int) -> None:
    save = loads(HEALTHY48)
    elapsed_time = elapsed(save, save.advance_to(STAMP + seconds))
    assert elapsed_time.elapsed_s == seconds
    assert elapsed_time.cause == "untouched"
    assert elapsed_time.by_registers_s == seconds % PERIOD
