"""Two saves each of which something happened to in between: what `elapsed` makes of it."""

from __future__ import annotations

import pathlib

import pytest
from known import HEALTHY48, REGISTERS5, STAMP, patched

from rtcsave import BadArgument, CounterClock, SaveFile, correct, elapsed, load, loads, verify

DAY = 86_400
PERIOD = 44_236_800


def save(reading_s: int, unix_s: int | None, **flags: bool) -> SaveFile:
    clock = CounterClock.from_seconds(reading_s % PERIOD, **flags)
    return loads(HEALTHY48).with_clock(clock).with_stamp(unix_s)


T = STAMP  # the earlier stamp; the earlier reading is day 100
R = 100 * DAY

# name, later reading, later stamp, flags of the later, cause, and what else fits
SITUATIONS: list[tuple[str, int, int | None, dict[str, bool], str]] = [
    ("ran an hour", R + 3_600, T + 3_600, {}, "consistent"),
    ("off by what truncation does", R + 3_601, T + 3_600, {}, "consistent"),
    ("ran a year", R + 365 * DAY, T + 365 * DAY, {}, "consistent"),
    ("went over once", R + 500 * DAY, T + 500 * DAY, {"carry": True}, "overflow"),
    ("went over three times", R + 1_600 * DAY, T + 1_600 * DAY, {"carry": True}, "overflow"),
    ("went over, carry cleared by a game", R + 500 * DAY, T + 500 * DAY, {}, "overflow"),
    ("a crystal 18 ppm fast, 200 days", R + 200 * DAY + 311, T + 200 * DAY, {}, "drift"),
    ("a crystal 19 ppm slow, 400 days", R + 400 * DAY - 656, T + 400 * DAY, {}, "drift"),
    ("150 ppm slow in the cold, 30 days", R + 30 * DAY - 388, T + 30 * DAY, {}, "drift"),
    ("the later stamp is local, UTC+1", R + 3 * DAY, T + 3 * DAY + 3_600, {}, "zone-shift"),
    ("the later stamp is local, UTC-8", R + 3 * DAY, T + 3 * DAY - 8 * 3_600, {}, "zone-shift"),
    ("local, half an hour off", R + 3 * DAY, T + 3 * DAY + 1_800, {}, "zone-shift"),
    ("the cell was out two days", R + 8 * DAY, T + 10 * DAY, {}, "stopped"),
    ("it lay unused in an emulator", R, T + 40 * DAY, {}, "stopped"),
    ("a new cell three days ago", 3 * DAY, T + 50 * DAY, {}, "reset"),
    ("software banked the days", 5 * 3_600, T + 20 * DAY, {}, "reset"),
    ("set forward by two days", R + 12 * DAY, T + 10 * DAY, {}, "set-by-hand"),
    ("set back by 50 days", R - 40 * DAY, T + 10 * DAY, {}, "set-by-hand"),
    ("no stamp on the later", R + 5 * DAY, None, {}, "stamp-unusable"),
]


@pytest.mark.parametrize(
    ("name", "reading_s", "unix_s", "flags", "cause"), SITUATIONS, ids=[s[0] for s in SITUATIONS]
)
def test_the_cause(
    name: str, reading_s: int, unix_s: int | None, flags: dict[str, bool], cause: str
) -> None:
    found = elapsed(save(R, T), save(reading_s, unix_s, **flags))
    assert found.cause == cause
    assert found.causes[0] == cause
    assert found.explanation


def test_halted() -> None:
    found = elapsed(save(R, T, halt=True), save(R, T + 40 * DAY, halt=True))
    assert found.cause == "halted"
    assert found.causes == ("halted", "stopped")
    assert found.elapsed_s == 40 * DAY


def test_the_numbers_of_a_plain_case() -> None:
    found = elapsed(save(R, T), save(R + 500 * DAY, T + 500 * DAY, carry=True))
    assert found.by_registers_s == 500 * DAY
    assert found.by_stamps_s == 500 * DAY
    assert found.overflows == 1
    assert (found.low_s, found.elapsed_s, found.high_s) == (
        500 * DAY - 1,
        500 * DAY,
        500 * DAY + 1,
    )
    assert "and carry is set, as it should be" in found.explanation
    cleared = elapsed(save(R, T), save(R + 500 * DAY, T + 500 * DAY))
    assert "but carry is not set" in cleared.explanation


def test_by_registers_is_the_difference_modulo_the_period() -> None:
    found = elapsed(save(R, T), save(R - 40 * DAY, T + 10 * DAY))
    assert found.by_registers_s == PERIOD - 40 * DAY


def test_a_shift_between_zones_is_named_with_its_sign() -> None:
    found = elapsed(save(R, T), save(R + 3 * DAY, T + 3 * DAY + 3_600))
    assert found.shift_s == -3_600  # the registers say an hour less than the stamps
    assert found.elapsed_s == 3 * DAY  # the registers' account
    assert (found.low_s, found.high_s) == (3 * DAY - 1, 3 * DAY + 1)
    assert "no daylight-saving change" in found.explanation


def test_a_daylight_saving_change_is_told() -> None:
    # London changed at 2024-03-31T01:00Z (IANA tz 2025b): a local stamp gains an hour over that
    before, after = 1_710_000_000, 1_713_000_000
    found = elapsed(save(R, before), save(R + 3_000_000, after + 3_600))
    assert found.cause == "zone-shift"
    assert "Europe/London changed" in found.explanation


@pytest.mark.parametrize(
    ("off_s", "cause"),
    [
        (1, "consistent"),
        (2, "set-by-hand"),
        (897, "set-by-hand"),
        (898, "zone-shift"),
        (902, "zone-shift"),
        (903, "set-by-hand"),
        (14 * 3_600, "zone-shift"),
        (14 * 3_600 + 3, "set-by-hand"),
        (14 * 3_600 + 900, "set-by-hand"),
    ],
)
def test_both_sides_of_each_threshold_over_a_short_span(off_s: int, cause: str) -> None:
    # over 1,000 s neither 20 nor 200 ppm of the span come to a second; 2 s + 20 ppm is the slack
    assert elapsed(save(R, T), save(R + 1_000 + off_s, T + 1_000)).cause == cause


@pytest.mark.parametrize(
    ("off_s", "cause"),
    [(200, "drift"), (-200, "drift"), (201, "drift"), (2_000, "drift"), (2_001, "set-by-hand")],
)
def test_both_sides_of_the_rates_over_a_long_span(off_s: int, cause: str) -> None:
    span = 10_000_000  # 20 ppm are 200 s, 200 ppm are 2,000 s
    found = elapsed(save(R, T), save(R + span + off_s, T + span))
    assert found.cause == cause
    if cause == "drift":
        assert found.rate_ppm == pytest.approx(off_s / 10)
        assert found.low_ppm < off_s / 10 < found.high_ppm  # type: ignore[operator]


def test_a_quarter_hour_over_a_long_span_is_a_drift_first() -> None:
    span = 50_000_000  # 20 ppm are 1,000 s: more than a quarter of an hour
    found = elapsed(save(R, T), save(R + span - 900, T + span))
    assert found.cause == "drift"
    assert "zone-shift" in found.causes


def test_without_usable_stamps_there_are_possibilities() -> None:
    found = elapsed(save(R, T), save(R + 5 * DAY, None))
    assert found.elapsed_s is None
    assert found.low_s is None
    assert found.overflows is None
    assert found.candidates_s[:3] == (5 * DAY, 5 * DAY + PERIOD, 5 * DAY + 2 * PERIOD)
    assert "the later save" in found.explanation
    # carry newly set: zero overflows is impossible
    found = elapsed(save(R, None), save(R + 5 * DAY, T, carry=True))
    assert found.candidates_s[0] == 5 * DAY + PERIOD
    assert "carry is newly set" in found.explanation
    assert "the earlier save" in found.explanation
    # carry set before already says nothing
    found = elapsed(save(R, None, carry=True), save(R + 5 * DAY, T, carry=True))
    assert found.candidates_s[0] == 5 * DAY
    # a smaller reading: once at least
    found = elapsed(save(R, None), save(R - DAY, T))
    assert found.candidates_s[0] == PERIOD - DAY


def test_files_the_wrong_way_round() -> None:
    found = elapsed(save(R + 3_600, T + 3_600), save(R, T))
    assert found.elapsed_s == -3_600
    assert found.cause == "consistent"
    drifted = elapsed(save(R + 200 * DAY + 311, T + 200 * DAY), save(R, T))
    assert drifted.cause == "drift"
    # 311 s in 200 days; the rate of a clock does not depend on the order of the files
    assert drifted.rate_ppm == pytest.approx(311 / 17_280_000 * 1e6)
    assert not verify(save(R + 200 * DAY + 311, T + 200 * DAY), save(R, T)).ok


def test_stamps_at_the_end_of_all_dates() -> None:
    last = 253_402_300_799
    assert elapsed(save(R, last - 5 * DAY), save(R + 5 * DAY - 3_600, last)).cause == "zone-shift"


def test_a_layout_without_a_stamp() -> None:
    assert elapsed(loads(REGISTERS5), loads(REGISTERS5)).cause == "stamp-unusable"


def test_a_clock_past_its_range_is_read_as_a_time() -> None:
    odd = loads(patched(HEALTHY48, 8, "1d"))  # 29 h of day 300 is 5 h of day 301
    later = loads(HEALTHY48).with_stamp(STAMP + 60)
    assert elapsed(odd, later).by_registers_s == PERIOD - 16 * 3_600


def test_clocks_of_different_kinds_are_refused() -> None:
    with pytest.raises(BadArgument, match="different kinds"):
        elapsed(loads(HEALTHY48), loads(bytes(6)))


def test_correcting_does_not_hide_itself() -> None:
    found = elapsed(save(R, T), correct(save(R + DAY, T + DAY), 7_200))
    assert found.cause == "zone-shift"
    assert found.shift_s == 7_200


def test_a_drift_has_its_rate_also_the_wrong_way_round() -> None:
    folder = pathlib.Path(__file__).parents[2] / "examples" / "saves"
    healthy, drifted = load(folder / "healthy.sav"), load(folder / "drifted.sav")
    there, back = elapsed(healthy, drifted), elapsed(drifted, healthy)
    assert there.cause == back.cause == "drift"
    assert there.rate_ppm is not None
    assert (there.rate_ppm, there.low_ppm, there.high_ppm) == (
        back.rate_ppm,
        back.low_ppm,
        back.high_ppm,
    )
