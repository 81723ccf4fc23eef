"""Rates: certain bounds, statistical ones, settings of the clock, logs."""

from __future__ import annotations

import math
import random

import pytest
from known import HEALTHY48, STAMP, patched

from rtcsave import BadArgument, Observation, StampUnusable, fit_drift, loads
from rtcsave.drift import assumed_drift, observations_in
from rtcsave.drift.judging import explain, judge_rate

DAY = 86_400


def simulated(
    rng: random.Random, rate_ppm: float, n: int, days: int, jitter_s: float = 0.0
) -> list[Observation]:
    """Observations of a clock of that rate, cut off to whole seconds, stamps blurred if asked."""
    start = STAMP + rng.random()
    origin = rng.random() * 40_000_000
    found = []
    for _ in range(n):
        t = start + rng.random() * days * DAY
        reading = origin + (t - start) * (1 + rate_ppm * 1e-6)
        stamp = t + (rng.gauss(0, jitter_s) if jitter_s else 0.0)
        found.append(
            Observation(instant=math.floor(stamp), reading_s=math.floor(reading) % 44_236_800)
        )
    return found


@pytest.mark.parametrize("seed", range(200))
def test_truncation_alone_leaves_the_rate_inside_the_certain_bound(seed: int) -> None:
    rng = random.Random(seed)
    rate = rng.uniform(-100, 100)
    found = fit_drift(simulated(rng, rate, rng.randint(2, 30), rng.choice([3, 90, 700, 1_500])))
    assert found.certain
    assert found.low_ppm is not None
    assert found.high_ppm is not None
    assert found.low_ppm < rate < found.high_ppm
    assert found.rate_ppm == pytest.approx((found.low_ppm + found.high_ppm) / 2)
    assert found.bound_ppm == pytest.approx((found.high_ppm - found.low_ppm) / 2)


def test_jitter_leaves_the_rate_inside_the_bound_nineteen_times_in_twenty() -> None:
    rng = random.Random(20_260_310)
    inside = statistical = 0
    while statistical < 2_000:
        rate = rng.uniform(-100, 100)
        found = fit_drift(simulated(rng, rate, 12, 60, jitter_s=5.0))
        assert found.low_ppm is not None
        assert found.high_ppm is not None
        if not found.certain:
            statistical += 1
            inside += found.low_ppm < rate < found.high_ppm
    assert inside >= 1_860, f"{inside} of 2,000"


def test_two_saves_suffice() -> None:
    a = loads(HEALTHY48)
    b = a.advance_to(STAMP + 100 * DAY).with_clock(a.clock_block.running.advance(100 * DAY + 86))
    found = fit_drift([b, a])
    # (8640086 +- 1) / (8640000 -+ 1): 86 s in 100 days are 9.954 ppm
    assert found.certain
    assert found.rate_ppm == pytest.approx(9.954, abs=0.001)
    assert found.bound_ppm == pytest.approx(0.2315, abs=0.0001)
    assert (found.n_samples, found.span_s) == (2, 100 * DAY)
    assert "certain" in explain(found)


def test_saves_and_observations_mix() -> None:
    found = fit_drift([loads(HEALTHY48), Observation(instant=STAMP + DAY, reading_s=26_055_608)])
    assert found.n_samples == 2


def test_overflows_are_unwrapped() -> None:
    seen = [
        Observation(instant=STAMP + n * 300 * DAY, reading_s=(n * 300 * DAY + n * 400) % 44_236_800)
        for n in range(5)
    ]
    found = fit_drift(seen)
    assert found.certain
    assert found.rate_ppm == pytest.approx(400 / 300 / DAY * 1e6, abs=0.05)


def test_a_setting_of_the_clock_splits_the_series() -> None:
    readings = [n * DAY + round(n * DAY * 18e-6) for n in range(0, 60, 3)]
    seen = [
        Observation(instant=STAMP + n * DAY, reading_s=reading + (7_200 if n >= 30 else 0))
        for n, reading in zip(range(0, 60, 3), readings, strict=True)
    ]
    found = fit_drift(seen)
    assert len(found.segments) == 2
    assert [one.n_samples for one in found.segments] == [10, 10]
    assert found.certain
    assert found.low_ppm < 18 < found.high_ppm  # type: ignore[operator]


def test_scatter_is_one_segment_and_never_certain() -> None:
    offsets = [0, 20, -20, 15, -15, 25, -25, 0, 10, -10]
    seen = [
        Observation(instant=STAMP + n * DAY, reading_s=1_000 + n * DAY + off)
        for n, off in enumerate(offsets)
    ]
    found = fit_drift(seen)
    assert len(found.segments) == 1
    assert not found.certain
    assert found.low_ppm < 0 < found.high_ppm  # type: ignore[operator]
    assert "95 %" in explain(found)


def test_an_outlier_is_named() -> None:
    offsets = [0, 1, -1, 3, 0, -3, 50, 1, 0, -1, 3, -3]
    seen = [
        Observation(instant=STAMP + n * DAY, reading_s=1_000 + n * DAY + off)
        for n, off in enumerate(offsets)
    ]
    found = fit_drift(seen)
    assert [out for one in found.segments for out in one.outliers] == [STAMP + 6 * DAY]


def test_a_slip_of_the_pen_is_an_outlier_and_no_setting() -> None:
    seen = [
        Observation(instant=STAMP + n * DAY, reading_s=1_000 + n * DAY + (120 if n == 5 else 0))
        for n in range(12)
    ]
    found = fit_drift(seen)
    assert len(found.segments) == 1
    assert found.segments[0].outliers == (STAMP + 5 * DAY,)
    assert found.n_samples == 11
    assert not found.certain
    assert found.rate_ppm == pytest.approx(0, abs=0.01)


def test_two_readings_a_visit_and_a_setting_between() -> None:
    seen = [
        Observation(
            instant=STAMP + week * 7 * DAY + gap,
            reading_s=(30_000 + week * 7 * DAY + gap + (7_200 if week >= 10 else 0))
            // 60
            * 60
            % DAY,
            resolution_s=60,
            period_s=DAY,
        )
        for week in range(20)
        for gap in (0, 20)
    ]
    found = fit_drift(seen)
    assert len(found.segments) == 2
    assert found.low_ppm < 0 < found.high_ppm  # type: ignore[operator]
    assert found.bound_ppm < 30  # type: ignore[operator]


def test_settings_whose_rates_disagree_leave_nothing_certain() -> None:
    # true rate 0, stamps that jitter by 25 s: by chance two parts hold a line each
    seen = [
        Observation(instant=STAMP + at, reading_s=reading)
        for at, reading in (
            (-27, 10_000), (1_296_008, 1_306_000), (2_591_950, 2_602_000), (3_887_990, 3_898_000),
            (5_184_031, 5_194_000), (6_479_997, 6_490_000),
        )
    ]  # fmt: skip
    assert not fit_drift(seen).certain


def test_observations_in_one_second_may_come_in_any_order() -> None:
    a = Observation(instant=STAMP, reading_s=86_399, period_s=DAY)
    b = Observation(instant=STAMP, reading_s=0, period_s=DAY)
    c = Observation(instant=STAMP + 100 * DAY, reading_s=86_399, period_s=DAY)
    assert fit_drift([a, b, c]) == fit_drift([b, a, c]) == fit_drift([c, b, a])
    assert fit_drift([a, b, c]).certain


def test_a_clock_that_went_back_has_no_rate() -> None:
    with pytest.raises(BadArgument, match="or went back"):
        fit_drift(
            [
                Observation(instant=STAMP, reading_s=100 * DAY),
                Observation(instant=STAMP + 10 * DAY, reading_s=5 * DAY),
            ]
        )


def test_the_floor_of_truncation_is_never_undercut() -> None:
    seen = [
        Observation(instant=STAMP + x, reading_s=y)
        for x, y in ((0, 3_000), (1_000, 1_900), (2_000, 800))
    ]
    assert fit_drift(seen).bound_ppm > 0  # type: ignore[operator]


def test_readings_to_the_minute_have_wider_windows() -> None:
    seen = [
        Observation(instant=STAMP, reading_s=49_920, resolution_s=60, period_s=DAY),
        Observation(instant=STAMP + 100 * DAY, reading_s=49_980, resolution_s=60, period_s=DAY),
    ]
    found = fit_drift(seen)
    assert found.low_ppm == pytest.approx((8_640_000 / 8_640_001 - 1) * 1e6, abs=1e-6)
    assert found.high_ppm == pytest.approx((8_640_120 / 8_639_999 - 1) * 1e6, abs=1e-6)


def test_an_end_that_nothing_bounds_is_open() -> None:
    found = fit_drift(
        [Observation(instant=STAMP, reading_s=5), Observation(instant=STAMP + 1, reading_s=6)]
    )
    assert found.high_ppm is None
    assert found.rate_ppm is None
    assert found.bound_ppm is None
    assert "too close together" in explain(found)


class TestRefusals:
    def test_too_few(self) -> None:
        for few in ([], [Observation(instant=STAMP, reading_s=0)]):
            with pytest.raises(BadArgument, match="a rate needs two observations"):
                fit_drift(few)

    def test_different_periods(self) -> None:
        with pytest.raises(BadArgument, match="different periods"):
            fit_drift(
                [
                    Observation(instant=STAMP, reading_s=0),
                    Observation(instant=STAMP + 1, reading_s=0, period_s=DAY),
                ]
            )

    def test_saves_that_say_nothing(self) -> None:
        healthy = loads(HEALTHY48)
        with pytest.raises(StampUnusable):
            fit_drift([healthy, healthy.with_stamp(None)])
        with pytest.raises(BadArgument, match="a halted clock has no rate"):
            fit_drift([healthy, loads(patched(HEALTHY48, 16, "41"))])
        with pytest.raises(BadArgument, match="out of range"):
            fit_drift([healthy, loads(patched(HEALTHY48, 8, "1d"))])

    def test_every_observation_a_setting(self) -> None:
        seen = [
            Observation(instant=STAMP + n * DAY, reading_s=(n * n * 40_000) % 44_000_000)
            for n in range(3)
        ]
        with pytest.raises(BadArgument, match="between settings"):
            fit_drift([seen[0], seen[0]])

    @pytest.mark.parametrize(
        "wrong", [{"reading_s": -1}, {"reading_s": 44_236_800}, {"reading_s": 0.5}, {"period_s": 0}]
    )
    def test_observations(self, wrong: dict[str, int]) -> None:
        with pytest.raises(BadArgument):
            Observation(**{"instant": STAMP, "reading_s": 0, **wrong})


class TestLog:
    def test_all_its_forms(self) -> None:
        text = (
            "instant, reading\n# kept by the library\n\n"
            "2026-03-10T14:15:00Z, 300d13:40:07, first\n@1773238500, 301d13:40:08\n"
        )
        assert observations_in(text) == (
            Observation(instant=STAMP, reading_s=25_969_207),
            Observation(instant=STAMP + DAY, reading_s=26_055_608),
        )
        assert observations_in("2026-03-10T14:15:00Z,13:52") == (
            Observation(instant=STAMP, reading_s=49_920, resolution_s=60, period_s=DAY),
        )
        assert observations_in("2026-03-10T14:15:00Z,13:52:07") == (
            Observation(instant=STAMP, reading_s=49_927, period_s=DAY),
        )

    @pytest.mark.parametrize("line", ["yesterday, 13:52", "@1, 25:00", "@1", "@1, Tue 13:52"])
    def test_a_line_that_cannot_be_read_is_named(self, line: str) -> None:
        with pytest.raises(BadArgument, match="line 2"):
            observations_in(f"@1773152100, 13:52\n{line}\n")


def test_rates_are_judged() -> None:
    assert "inside the ±20 ppm" in judge_rate(-20)
    assert "outside the ±20 ppm" in judge_rate(20.1)
    assert "not a crystal's" in judge_rate(-200.1)


def test_an_assumed_rate() -> None:
    assert assumed_drift(18, 0.5).low_ppm == 17.5
    with pytest.raises(BadArgument):
        assumed_drift(float("nan"))
