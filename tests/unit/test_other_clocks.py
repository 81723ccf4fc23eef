"""One shape of value: what works for the day counter works for the other two."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from known import HEALTHY48, STAMP

from rtcsave import (
    BadArgument,
    Bits,
    DoesNotFit,
    Field,
    Layout,
    MinuteClock,
    Observation,
    SaveFile,
    StampForm,
    check,
    compare,
    correct,
    dumps,
    elapsed,
    fit_drift,
    forecast,
    loads,
    plan_repair,
    verify,
)
from rtcsave.layouts.codec import codec

DAY = 86_400
MINUTES6 = bytes.fromhex("0b 04 03 0c 02 01")  # minute 34Bh = 843 = 14:03 of day 12Ch = 300
MINUTES12 = MINUTES6 + bytes.fromhex("01 00 00 02 00 00")
CALENDAR26 = bytes.fromhex(
    "06 04 05 01 04 01 02 00 01 03 00 06 02  00 00 00 00 00 00 00 00 00 00 01 02 00"
)  # 26-03-10 14:15:46, weekday 2, leap counter 2, 24 hours

# A block for the minute clock with a stamp, as somebody might describe it.
STAMPED = Layout(
    name="minutes-stamped",
    size=11,
    clock="minutes",
    fields=(
        Field(
            name="minute", offset=0, size=2, part="running",
            bits=(Bits(field="minute_of_day", width=12),),
        ),
        Field(
            name="days", offset=2, size=2, part="running",
            bits=(Bits(field="day_counter", width=12),),
        ),
        Field(name="stamp", offset=4, size=4, part="stamp"),
    ),
    stamp=StampForm(size=4, signed=False),
)  # fmt: skip


def stamped(minute: int, day: int, unix_s: int) -> SaveFile:
    save = loads(bytes(11), layout=STAMPED)
    return save.with_clock(MinuteClock(minute_of_day=minute, day_counter=day)).with_stamp(unix_s)


@pytest.mark.parametrize(
    ("data", "name", "reading"),
    [
        (MINUTES6, "minutes6", "300d14:03"),
        (MINUTES12, "minutes12", "300d14:03"),
        (CALENDAR26, "calendar26", "26-03-10 14:15:46"),
    ],
)
def test_bare_dumps_are_found_and_round_trip(data: bytes, name: str, reading: str) -> None:
    save = loads(data)
    assert dumps(save) == data
    assert save.clock_block.layout.name == name
    assert save.clock_block.running.reading() == reading
    assert save.clock_block.saved_at is None
    with pytest.raises(Exception, match="no clock block"):
        loads(b"\x10" + data[1:])


def test_they_are_advanced() -> None:
    assert loads(MINUTES6).advance_by(60).clock_block.running.reading() == "300d14:04"
    assert loads(CALENDAR26).advance_by(14).clock_block.running.reading() == "26-03-10 14:16:00"
    with pytest.raises(BadArgument, match="multiple of 60 s"):
        loads(MINUTES6).advance_by(59)


def test_a_clock_that_counts_minutes_moves_the_stamp_by_whole_minutes() -> None:
    save = stamped(843, 300, STAMP)
    after = save.advance_to(STAMP + 119)
    assert after.clock_block.running == MinuteClock(minute_of_day=844, day_counter=300)
    assert after.clock_block.saved_unix_s == STAMP + 60
    assert after.advance_to(STAMP + 120).clock_block.saved_unix_s == STAMP + 120


@given(steps=st.lists(st.integers(0, 5_000), max_size=60))
def test_many_small_steps_lose_no_second(steps: list[int]) -> None:
    save = stamped(843, 300, STAMP)
    now = STAMP
    for step in steps:
        now += step
        save = save.advance_to(now)
    assert save == stamped(843, 300, STAMP).advance_to(now)
    assert 0 <= now - save.clock_block.saved_unix_s < 60  # type: ignore[operator]


def test_elapsed_and_verify_honour_the_resolution() -> None:
    earlier = stamped(843, 300, STAMP)
    # two readings to the minute and two stamps to the second leave a right clock up to 60 s off
    for off, cause in ((60, "untouched"), (180, "set")):
        later = stamped(853, 300, STAMP + 600 - off)
        assert elapsed(earlier, later).cause == cause
        assert verify(earlier, later, within_s=1).ok == (cause == "untouched")


def test_a_rate_honours_the_resolution() -> None:
    estimate = fit_drift([stamped(0, 0, STAMP), stamped(0, 100, STAMP + 100 * DAY)])
    assert estimate.low_ppm == pytest.approx(-8.2176, abs=0.0001)  # 8639940 / 8640011
    assert estimate.high_ppm == pytest.approx(8.2176, abs=0.0001)  # 8640060 / 8639989
    with pytest.raises(BadArgument, match="different periods"):
        fit_drift([stamped(0, 0, STAMP), Observation(instant=STAMP + 5, reading_s=5)])


def test_forecast() -> None:
    clock_forecast = forecast(stamped(1_439, 4_095, STAMP), STAMP)
    assert clock_forecast.overflow_at is not None
    assert clock_forecast.overflow_at.timestamp() == STAMP + 60
    assert (
        forecast(loads(CALENDAR26), STAMP).running_s
        == loads(CALENDAR26).clock_block.running.seconds_to_overflow
    )


def test_correct() -> None:
    assert correct(loads(MINUTES12), -180).clock_block.running.reading() == "300d14:00"
    with pytest.raises(BadArgument):
        correct(loads(MINUTES12), 30)
    assert correct(loads(CALENDAR26), -86_400).clock_block.running.reading() == "26-03-09 14:15:46"


def test_findings_and_their_repair() -> None:
    odd = loads(bytes.fromhex("0c 0d 05 00 00 00"))  # minute 5DCh = 1500
    (finding,) = check(odd)
    assert (finding.code, finding.found, finding.expected) == (
        "register-past-range",
        "1500",
        "0 to 1439",
    )
    assert plan_repair(odd).apply().clock_block.running.reading() == "1d01:00"
    illegal = loads(b"\x0a" + CALENDAR26[1:])
    assert [finding.code for finding in check(illegal)] == ["register-illegal-digit"]
    assert plan_repair(illegal).steps == ()
    for ask in (lambda: forecast(illegal), lambda: elapsed(illegal, illegal)):
        with pytest.raises(DoesNotFit, match="seconds_1 holds an invalid digit"):
            ask()
    repaired = plan_repair(illegal).apply(also=["register-illegal-digit"])
    assert repaired.clock_block.running.reading() == "26-03-10 14:15:50"
    stale = loads(CALENDAR26[:24] + b"\x03\x00")
    assert [finding.code for finding in check(stale)] == ["register-leap-disagrees"]
    assert dumps(plan_repair(stale).apply(also=["register-leap-disagrees"])) == CALENDAR26
    missing_day = loads(CALENDAR26[:7] + b"\x01\x03\x02\x00" + CALENDAR26[11:])  # 31 February
    (finding,) = check(missing_day)
    assert (finding.code, finding.expected) == ("register-past-range", "1 to 28")
    assert plan_repair(missing_day).steps == ()


def test_an_alarm_is_not_judged_and_not_rewritten() -> None:
    # 2:05:06 pm in 12-hour mode, the alarm all zeros; then one of Fh
    plain = bytes.fromhex(
        "06 00 05 00 02 02 03 08 02 02 00 04 02 00 00 00 00 00 00 00 00 00 00 00 00 00"
    )
    assert loads(plain).clock_block.running.reading() == "24-02-28 14:05:06"
    assert check(loads(plain)) == ()
    odd = plain[:15] + b"\x0f" + plain[16:]
    assert check(loads(odd)) == ()
    assert dumps(loads(odd).advance_by(1)) == b"\x07" + odd[1:]
    assert dumps(correct(loads(odd), 60)) == odd[:2] + b"\x06" + odd[3:]


def test_a_leap_day_is_not_broken_by_repairing_the_counter() -> None:
    legal = loads(CALENDAR26[:7] + bytes.fromhex("09 02 02 00 05 02") + CALENDAR26[13:24] + b"\0\0")
    assert legal.clock_block.running.reading() == "25-02-29 14:15:46"
    assert [finding.code for finding in check(legal)] == ["register-leap-disagrees"]
    assert plan_repair(legal).apply(also=["register-leap-disagrees"]) == legal


def test_conversion() -> None:
    assert dumps(loads(MINUTES6).with_layout("minutes12")) == MINUTES6 + bytes(6)
    assert dumps(loads(MINUTES6 + bytes(6)).with_layout("minutes6")) == MINUTES6
    with pytest.raises(DoesNotFit, match="event_minutes 1"):
        loads(MINUTES12).with_layout("minutes6")
    for target in ("registers5", "block48", "calendar26"):
        with pytest.raises(DoesNotFit, match="a minutes clock"):
            loads(MINUTES6).with_layout(target)
    with pytest.raises(DoesNotFit, match="holds a counter clock"):
        loads(HEALTHY48).with_clock(loads(MINUTES6).clock_block.running)


def test_the_padding_of_a_layout_is_kept() -> None:
    raw = bytes(8) + b"\xaa\xbb\xcc"
    save = loads(raw, layout=STAMPED)
    after = save.with_clock(MinuteClock(minute_of_day=1, day_counter=2)).with_stamp(STAMP)
    assert dumps(after)[8:] == b"\xaa\xbb\xcc"
    assert codec(STAMPED).struct_format == "<HHIxxx"


def test_a_clock_without_carry_is_right_across_an_overflow() -> None:
    before, after = (
        stamped(1_439, 4_095, STAMP),
        stamped(4, 0, STAMP + 300),
    )  # 4,095 is its last day
    verification = verify(before, after)
    assert (verification.ok, verification.error_s) == (True, 0)
    assert compare(before, after).ordinary


def test_unused_bytes_that_differ_are_not_ordinary() -> None:
    comparison = compare(
        *(loads(bytes(8) + last, layout=STAMPED) for last in (bytes(3), b"\0\0\1"))
    )
    assert comparison.problems == ("unused bytes of the clock block differ (1)",)
