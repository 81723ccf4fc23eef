"""`CounterClock`: construction, refusals, conversions."""

from __future__ import annotations

import dataclasses
import pickle
from typing import Any

import pytest

from rtcsave import BadArgument, CounterClock

ZERO = CounterClock(seconds=0, minutes=0, hours=0, day_counter=0)


@pytest.mark.parametrize(
    ("field", "largest"), [("seconds", 63), ("minutes", 63), ("hours", 31), ("day_counter", 511)]
)
def test_a_field_holds_its_width_and_no_more(field: str, largest: int) -> None:
    fields: dict[str, Any] = {"seconds": 0, "minutes": 0, "hours": 0, "day_counter": 0}
    assert getattr(CounterClock(**{**fields, field: largest}), field) == largest
    for wrong in (largest + 1, -1):
        with pytest.raises(BadArgument, match=f"{field} does not fit its") as caught:
            CounterClock(**{**fields, field: wrong})
        assert str(wrong) in str(caught.value)
    for wrong_type in (True, 1.0, "1", None):
        with pytest.raises(BadArgument, match=f"{field} must be a whole number"):
            CounterClock(**{**fields, field: wrong_type})


@pytest.mark.parametrize("flag", ["halt", "carry"])
def test_a_flag_is_a_bool(flag: str) -> None:
    wrong: Any = {flag: 1}
    with pytest.raises(BadArgument, match=f"{flag} is a flag"):
        CounterClock(seconds=0, minutes=0, hours=0, day_counter=0, **wrong)


def test_it_is_a_frozen_slotted_keyword_only_value() -> None:
    with pytest.raises(dataclasses.FrozenInstanceError):
        ZERO.seconds = 1  # type: ignore[misc]
    assert not hasattr(ZERO, "__dict__")
    with pytest.raises(TypeError):
        CounterClock(0, 0, 0, 0)  # type: ignore[misc]
    assert pickle.loads(pickle.dumps(ZERO)) == ZERO
    assert len({ZERO, dataclasses.replace(ZERO)}) == 1


@pytest.mark.parametrize("wrong", [-1, 1.0, True, "1", None])
def test_advance_refuses_what_is_not_whole_seconds(wrong: Any) -> None:
    with pytest.raises(BadArgument, match="seconds must"):
        ZERO.advance(wrong)


def test_seconds_and_back() -> None:
    clock = CounterClock(seconds=7, minutes=40, hours=13, day_counter=300)
    # 300 x 86,400 + 13 x 3,600 + 40 x 60 + 7
    assert clock.to_seconds() == 25_969_207
    assert CounterClock.from_seconds(25_969_207) == clock
    assert CounterClock.from_seconds(44_236_799, halt=True, carry=True) == CounterClock(
        seconds=59, minutes=59, hours=23, day_counter=511, halt=True, carry=True
    )
    for wrong in (44_236_800, -1, True, 1.5):
        with pytest.raises(BadArgument):
            CounterClock.from_seconds(wrong)  # type: ignore[arg-type]


def test_a_clock_out_of_range_says_no_time_but_reads_as_one() -> None:
    clock = CounterClock(seconds=61, minutes=4, hours=29, day_counter=12, halt=True)
    assert not clock.in_range
    with pytest.raises(BadArgument, match="seconds is out of range"):
        clock.to_seconds()
    # 61 s is 1 min 1 s, 29 h is 1 day 5 h
    read = CounterClock(seconds=1, minutes=5, hours=5, day_counter=13, halt=True)
    assert clock.as_time() == (read, 0)
    assert clock.zeroed() == CounterClock(seconds=0, minutes=4, hours=0, day_counter=12, halt=True)
    assert clock.out_of_range() == (("seconds", 61, 0, 59), ("hours", 29, 0, 23))


def test_a_time_past_day_511_overflows() -> None:
    clock = CounterClock(seconds=0, minutes=0, hours=24, day_counter=511)
    assert clock.as_time() == (
        CounterClock(seconds=0, minutes=0, hours=0, day_counter=0, carry=True),
        1,
    )


@pytest.mark.parametrize(
    ("clock", "seconds"),
    [
        (CounterClock(seconds=59, minutes=59, hours=23, day_counter=511), 1),
        (ZERO, 44_236_800),
        # 2 s until seconds return to 0 without carrying, then a whole minute to the end
        (CounterClock(seconds=62, minutes=59, hours=23, day_counter=511), 62),
        # hours 24 run to 31 and back to 0 first: 8 hours, then a day
        (CounterClock(seconds=0, minutes=0, hours=24, day_counter=511), 8 * 3_600 + 86_400),
    ],
)
def test_seconds_to_overflow(clock: CounterClock, seconds: int) -> None:
    assert clock.seconds_to_overflow == seconds
    assert not clock.advance(seconds - 1).carry
    assert clock.advance(seconds) == CounterClock(
        seconds=0, minutes=0, hours=0, day_counter=0, carry=True
    )
    assert clock.overflows_within(seconds - 1) == 0
    assert clock.overflows_within(seconds) == 1
    assert clock.overflows_within(seconds + 44_236_800) == 2


def test_a_halted_clock_never_overflows() -> None:
    halted = dataclasses.replace(ZERO, halt=True)
    assert halted.seconds_to_overflow is None
    assert halted.overflows_within(10**12) == 0


def test_registers_of_the_wrong_number_or_kind_are_refused() -> None:
    with pytest.raises(BadArgument, match="has 5 registers"):
        CounterClock.from_registers(bytes(4))
    with pytest.raises(BadArgument, match="registers must be bytes"):
        CounterClock.from_registers([0, 0, 0, 0, 0])  # type: ignore[arg-type]
    with pytest.raises(BadArgument, match="stray is unknown"):
        CounterClock.from_registers(bytes(5), stray="keep")
