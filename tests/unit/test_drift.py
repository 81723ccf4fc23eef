"""Rates: certain bounds, statistical ones, settings of the clock, logs."""

from __future__ import annotations

import math
import random

import pytest
from known import HEALTHY48, STAMP, patched

from rtcsave import BadArgument, Observation, SaveFile, StampUnusable, fit_drift, loads
from rtcsave.drift import assumed_drift, observations_in
from rtcsave.drift.judging import explain, judge_rate

DAY = 86_400


def simulated(
    rng: random.Random, rate_ppm: float, n: int, days: int, jitter_s: float = 0.0
) -> list[Observation]:
    """Observations of a clock of that rate, cut off to whole seconds, stamps blurred if asked."""
    start = STAMP + rng.random()
    origin = rng.random() * 40_000_000
    observations = []
    for _ in range(n):
        t = start + rng.random() * days * DAY
        reading = origin + (t - start) * (1 + rate_ppm * 1e-6)
        stamp = t + (rng.gauss(0, jitter_s) if jitter_s else 0.0)
        observations.append(
            Observation(instant=math.floor(stamp), reading_s=math.floor(reading) % 44_236_800)
        )
    return observations


def seen_every(gap_s: int, readings: list[int], **more: int) -> list[Observation]:
    """Observations at equal gaps, the first at the usual stamp."""
    return [
        Observation(instant=STAMP + at * gap_s, reading_s=reading, **more)
        for at, reading in enumerate(readings)
    ]


def saves(passed_s: int, counted_s: int) -> tuple[SaveFile, SaveFile]:
    """Two saves: so long between their stamps, so long between their readings."""
    a = loads(HEALTHY48)
    clock = a.clock_block.running.advance(counted_s)
    return a, a.advance_to(STAMP + passed_s).with_clock(clock)


@pytest.mark.parametrize("seed", range(200))
def test_truncation_alone_leaves_the_rate_inside_the_bound(seed: int) -> None:
    rng = random.Random(seed)
    rate = rng.uniform(-100, 100)
    seen = simulated(rng, rate, rng.randint(2, 30), rng.choice([3, 90, 700, 1_500]))
    estimate = fit_drift(seen, slack_s=0)
    assert estimate.low_ppm is not None
    assert estimate.high_ppm is not None
    assert estimate.low_ppm < rate < estimate.high_ppm
    assert estimate.rate_ppm == pytest.approx((estimate.low_ppm + estimate.high_ppm) / 2)
    assert estimate.bound_ppm == pytest.approx((estimate.high_ppm - estimate.low_ppm) / 2)
    assert estimate.certain == (not estimate.doubts)
    assert len(estimate.segments) == 1


def test_jitter_leaves_the_rate_inside_the_bound_nineteen_times_in_twenty() -> None:
    rng = random.Random(20_260_310)
    inside = 0
    for _ in range(2_000):
        rate = rng.uniform(-100, 100)
        estimate = fit_drift(simulated(rng, rate, 12, 60, jitter_s=5.0))
        assert estimate.low_ppm is not None
        assert estimate.high_ppm is not None
        assert not estimate.certain
        inside += estimate.low_ppm < rate < estimate.high_ppm
    assert inside >= 1_860, f"{inside} of 2,000"


def test_two_saves_suffice() -> None:
    a, b = saves(100 * DAY, 100 * DAY + 86)
    estimate = fit_drift([b, a])
    # (8640086 +- 1) / (8640000 -+ 11): a stamp less 5 s, give or take 5 s, and its truncation
    assert estimate.certain
    assert estimate.low_ppm == pytest.approx(8.5648, abs=0.0001)
    assert estimate.high_ppm == pytest.approx(11.3426, abs=0.0001)
    assert (estimate.n_samples, estimate.span_s) == (2, 100 * DAY)
    assert estimate.since_unix_s == STAMP - 5
    assert explain(estimate).endswith(
        "(certain, if every instant is the second at which the clock was read, give or take the "
        "slack, and nobody set the clock)"
    )


def test_a_slack_that_is_given_overrides_every_other() -> None:
    a, b = saves(100 * DAY, 100 * DAY + 86)
    estimate = fit_drift([b, a], slack_s=0)
    # (8640086 +- 1) / (8640000 -+ 1): 86 s in 100 days are 9.954 ppm
    assert estimate.rate_ppm == pytest.approx(9.954, abs=0.001)
    assert estimate.bound_ppm == pytest.approx(0.2315, abs=0.0001)
    assert estimate.since_unix_s == STAMP
    wide = [Observation(instant=STAMP + n * DAY, reading_s=n * DAY, slack_s=30) for n in (0, 100)]
    assert fit_drift(wide, slack_s=0).high_ppm == pytest.approx(0.2315, abs=0.0001)
    assert fit_drift(wide).high_ppm == pytest.approx(62 / 8.639939, abs=0.0001)
    for wrong in (-1, 0.5, True):
        for given in (wide, [a, b]):
            with pytest.raises(BadArgument, match=r"slack_s.? must "):
                fit_drift(given, slack_s=wrong)  # type: ignore[arg-type]


def test_a_dump_that_is_stamped_late_is_inside_the_slack() -> None:
    # truth 0: the second of two dumps 30 days apart is stamped 8 s after its clock was read
    estimate = fit_drift(saves(30 * DAY + 8, 30 * DAY))
    assert estimate.certain
    assert estimate.low_ppm == pytest.approx(-7.716, abs=0.001)
    assert estimate.high_ppm == pytest.approx(1.543, abs=0.001)


def test_from_four_observations_on_the_bound_is_the_hull_with_least_squares() -> None:
    # windows of 1 and 3 s: hard (300d - 1) / (300d + 3) to (300d + 1) / (300d - 3), +-0.1543 ppm
    three = fit_drift(seen_every(150 * DAY, [0, 150 * DAY, 300 * DAY]))
    assert three.bound_ppm == pytest.approx(0.1543, abs=0.0001)
    # least squares: t(2) 9.925 times 0.7071 s over 100 d times the root of 5
    four = fit_drift(seen_every(100 * DAY, [0, 100 * DAY, 200 * DAY, 300 * DAY]))
    assert four.bound_ppm == pytest.approx(9.925 * 0.70711 / 19.3196, abs=0.0001)
    assert three.certain
    assert four.certain


def test_saves_and_observations_mix() -> None:
    estimate = fit_drift([loads(HEALTHY48), Observation(instant=STAMP + DAY, reading_s=26_055_608)])
    assert estimate.n_samples == 2


def test_overflows_are_unwrapped() -> None:
    seen = [
        Observation(instant=STAMP + n * 300 * DAY, reading_s=(n * 300 * DAY + n * 400) % 44_236_800)
        for n in range(5)
    ]
    estimate = fit_drift(seen)
    assert estimate.certain
    assert estimate.rate_ppm == pytest.approx(400 / 300 / DAY * 1e6, abs=0.05)
    assert estimate.bound_ppm < 1  # type: ignore[operator]


def test_a_setting_of_the_clock_splits_the_series() -> None:
    readings = [n * DAY + round(n * DAY * 18e-6) for n in range(0, 60, 3)]
    seen = [
        Observation(instant=STAMP + n * DAY, reading_s=reading + (7_200 if n >= 30 else 0))
        for n, reading in zip(range(0, 60, 3), readings, strict=True)
    ]
    estimate = fit_drift(seen)
    assert len(estimate.segments) == 2
    assert [segment.n_samples for segment in estimate.segments] == [10, 10]
    assert not estimate.certain
    assert estimate.doubts == ("the clock was set between two observations",)
    assert estimate.low_ppm < 18 < estimate.high_ppm  # type: ignore[operator]


def test_a_small_setting_is_found_and_leaves_the_rate_inside() -> None:
    # truth 0: +30 s at the middle of 300 days
    seen = seen_every(10 * DAY, [n * 10 * DAY + (30 if n >= 15 else 0) for n in range(30)])
    estimate = fit_drift(seen)
    assert [segment.n_samples for segment in estimate.segments] == [15, 15]
    assert not estimate.certain
    assert -0.5 < estimate.low_ppm < 0 < estimate.high_ppm < 0.5  # type: ignore[operator]


@pytest.mark.parametrize("step_s", [20, -20])
def test_a_piece_has_a_rate_that_a_crystal_can_have(step_s: int) -> None:
    # set within the first hour: no crystal gains or loses 20 s in it
    seen = [
        Observation(instant=STAMP + at, reading_s=50 + at + (step_s if at else 0))
        for at in (0, 3_600, 5 * DAY, 10 * DAY, 15 * DAY, 20 * DAY, 25 * DAY, 30 * DAY)
    ]
    assert [segment.n_samples for segment in fit_drift(seen).segments] == [1, 7]


def test_however_small_the_scatter_many_observations_have_a_least_bound() -> None:
    # 2.5758 times 1.5 times 0.7071 s, over 10 d times the root of 30 (30^2 - 1) / 12
    offsets = [0, 3, *[1, 2] * 13, 3, 0]  # both ends leave a line one second
    seen = seen_every(10 * DAY, [n * 10 * DAY + off for n, off in enumerate(offsets)])
    estimate = fit_drift(seen)
    assert estimate.certain
    assert estimate.bound_ppm == pytest.approx(2.5758 * 1.5 * 0.70711 / 40.9596, abs=0.0001)


def test_the_bounds_of_the_parts_are_intersected() -> None:
    readings = [n * 10 * DAY for n in range(8)] + [n * 10 * DAY + 600 for n in range(8, 30)]
    readings[20:] = [reading - 4_000 for reading in readings[20:]]
    estimate = fit_drift(seen_every(10 * DAY, readings))
    assert [segment.n_samples for segment in estimate.segments] == [8, 12, 10]
    assert estimate.low_ppm == max(segment.low_ppm for segment in estimate.segments)  # type: ignore[type-var]
    assert estimate.high_ppm == min(segment.high_ppm for segment in estimate.segments)  # type: ignore[type-var]
    assert estimate.n_samples == 12
    assert estimate.since_unix_s == STAMP + 80 * DAY


def test_which_side_of_a_small_setting_an_observation_is_on_may_stay_open() -> None:
    # 6 s at day 5: windows of 3 s let the two observations from there on belong to either side
    days = (0, 1, 2, 3, 5, 9, 13, 17, 21)
    estimate = fit_drift(
        [
            Observation(instant=STAMP + n * DAY, reading_s=n * DAY + (6 if n >= 5 else 0))
            for n in days
        ]
    )
    assert [(segment.n_samples, segment.rate_ppm is None) for segment in estimate.segments] == [
        (4, False), (2, True), (3, False),
    ]  # fmt: skip
    assert estimate.low_ppm < 0 < estimate.high_ppm  # type: ignore[operator]


@pytest.mark.parametrize(
    "readings",
    [
        [0, DAY + 60, 2 * DAY + 120, 3 * DAY + 180],  # +694 ppm
        [0, DAY - 30, 2 * DAY - 60, 3 * DAY - 90],  # -347 ppm
    ],
)
def test_a_rate_that_no_crystal_has_is_never_certain(readings: list[int]) -> None:
    estimate = fit_drift(seen_every(DAY, readings), slack_s=0)
    assert not estimate.certain
    assert "no crystal is off by more than 200 ppm" in estimate.doubts


def test_a_rate_that_a_crystal_may_have_is_not_refused_for_it() -> None:
    # -210.6 to -199.1 ppm: a part of the interval is possible
    estimate = fit_drift(
        [
            Observation(instant=STAMP, reading_s=1_000),
            Observation(instant=STAMP + 2 * DAY, reading_s=1_000 + 2 * DAY - 35),
        ]
    )
    assert estimate.low_ppm < -200 < estimate.high_ppm  # type: ignore[operator]
    assert estimate.certain


@pytest.mark.parametrize("days", [(0, 1_901), (0, 1, 2, 1_899, 1_900, 1_901)])
def test_times_of_day_that_were_unwrapped_wrongly_are_not_certain(days: tuple[int, ...]) -> None:
    # truth -267 ppm: in 1,901 days the clock loses 43,853 s, more than half a day
    seen = [
        Observation(
            instant=STAMP + day * DAY,
            reading_s=(50_000 + round(day * DAY * (1 - 267e-6))) % DAY,
            period_s=DAY,
        )
        for day in days
    ]
    assert not fit_drift(seen).certain


@pytest.mark.parametrize(("days", "certain"), [(1_999, True), (2_000, False)])
def test_half_a_period_that_may_be_lost_between_two_observations(days: int, certain: bool) -> None:
    # 250 ppm of 1,999 days are 43,178 s; with both slacks and the reading 43,181; of 2,000 days
    # 43,200 s: half a day
    seen = [Observation(instant=STAMP + n * days * DAY, reading_s=7, period_s=DAY) for n in (0, 1)]
    estimate = fit_drift(seen)
    assert estimate.certain is certain
    assert any("half a period" in doubt for doubt in estimate.doubts) is not certain


def test_a_gap_longer_than_half_the_span_could_hide_a_setting() -> None:
    days = (0, 10, 20, 300, 310, 320)
    seen = [
        Observation(instant=STAMP + n * DAY, reading_s=n * DAY + (30 if n >= 300 else 0))
        for n in days
    ]
    estimate = fit_drift(seen)
    assert not estimate.certain
    assert "a setting inside the longest gap would not be seen" in estimate.doubts
    assert fit_drift(seen[:1] + seen[-1:]).certain  # two observations cannot show a setting


def test_scatter_is_one_segment_and_never_certain() -> None:
    offsets = [0, 20, -20, 15, -15, 25, -25, 0, 10, -10]
    seen = [
        Observation(instant=STAMP + n * DAY, reading_s=1_000 + n * DAY + off)
        for n, off in enumerate(offsets)
    ]
    estimate = fit_drift(seen)
    assert len(estimate.segments) == 1
    assert not estimate.certain
    assert estimate.low_ppm < 0 < estimate.high_ppm  # type: ignore[operator]
    assert "95 %" in explain(estimate)


def test_windows_that_hold_a_wide_scatter_are_not_certain() -> None:
    # all share a line, but they scatter by 1.7 s, and windows of 1 and 3 s explain 0.707 s
    offsets = [0, 3, 0, 3, 0, 3, 0, 3]
    estimate = fit_drift(seen_every(DAY, [1_000 + n * DAY + off for n, off in enumerate(offsets)]))
    assert estimate.doubts == ("the observations scatter more than truncation and slack explain",)
    calmer = [0, 1, 0, 1, 0, 1, 0, 1]
    assert fit_drift(
        seen_every(DAY, [1_000 + n * DAY + off for n, off in enumerate(calmer)])
    ).certain


def test_of_three_observations_none_is_left_out() -> None:
    # it is unknown which of them is wrong, so the interval is wide
    estimate = fit_drift(seen_every(100 * DAY, [0, 100 * DAY, 200 * DAY + 1_800]))
    assert estimate.n_samples == 3
    assert not estimate.certain
    assert estimate.low_ppm < 0 < estimate.high_ppm  # type: ignore[operator]


def test_an_outlier_is_named() -> None:
    offsets = [0, 1, -1, 3, 0, -3, 50, 1, 0, -1, 3, -3]
    seen = [
        Observation(instant=STAMP + n * DAY, reading_s=1_000 + n * DAY + off)
        for n, off in enumerate(offsets)
    ]
    estimate = fit_drift(seen)
    assert [out for segment in estimate.segments for out in segment.outliers] == [STAMP + 6 * DAY]


def test_a_slip_of_the_pen_is_an_outlier_and_no_setting() -> None:
    seen = [
        Observation(instant=STAMP + n * DAY, reading_s=1_000 + n * DAY + (120 if n == 5 else 0))
        for n in range(12)
    ]
    estimate = fit_drift(seen)
    assert len(estimate.segments) == 1
    assert estimate.segments[0].outliers == (STAMP + 5 * DAY,)
    assert estimate.n_samples == 11
    assert not estimate.certain
    assert estimate.rate_ppm == pytest.approx(0, abs=0.1)


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
    estimate = fit_drift(seen)
    assert len(estimate.segments) == 2
    assert estimate.low_ppm < 0 < estimate.high_ppm  # type: ignore[operator]
    assert estimate.bound_ppm < 30  # type: ignore[operator]


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
        for x, y in ((0, 3_000), (1_000, 3_950), (2_000, 4_900))
    ]
    assert fit_drift(seen).bound_ppm > 0  # type: ignore[operator]


def test_readings_to_the_minute_have_wider_windows() -> None:
    seen = [
        Observation(instant=STAMP, reading_s=49_920, resolution_s=60, period_s=DAY),
        Observation(instant=STAMP + 100 * DAY, reading_s=49_980, resolution_s=60, period_s=DAY),
    ]
    estimate = fit_drift(seen, slack_s=0)
    assert estimate.low_ppm == pytest.approx(-0.115741, abs=1e-6)  # 8640000 / 8640001
    assert estimate.high_ppm == pytest.approx(14.004631, abs=1e-6)  # 8640120 / 8639999
    estimate = fit_drift(seen)
    assert estimate.low_ppm == pytest.approx(-0.347222, abs=1e-6)  # 8640000 / 8640003
    assert estimate.high_ppm == pytest.approx(14.236116, abs=1e-6)  # 8640120 / 8639997


def test_an_end_that_nothing_bounds_is_open() -> None:
    estimate = fit_drift(
        [Observation(instant=STAMP, reading_s=5), Observation(instant=STAMP + 1, reading_s=6)]
    )
    assert estimate.high_ppm is None
    assert estimate.rate_ppm is None
    assert estimate.bound_ppm is None
    assert "too close together" in explain(estimate)


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

    def test_saves_without_usable_stamp(self) -> None:
        healthy = loads(HEALTHY48)
        with pytest.raises(StampUnusable):
            fit_drift([healthy, healthy.with_stamp(None)])
        with pytest.raises(BadArgument, match="a halted clock has no rate"):
            fit_drift([healthy, loads(patched(HEALTHY48, 16, "41"))])
        with pytest.raises(BadArgument, match="out of range"):
            fit_drift([healthy, loads(patched(HEALTHY48, 8, "1d"))])

    def test_all_of_one_second(self) -> None:
        seen = [Observation(instant=STAMP, reading_s=reading) for reading in (5, 6, 5)]
        with pytest.raises(BadArgument, match="all observations are of one second") as caught:
            fit_drift(seen)
        assert caught.value.found == "3 observations at 2026-03-10 14:15:00 UTC"
        a = loads(HEALTHY48)
        with pytest.raises(BadArgument, match="all observations are of one second"):
            fit_drift([a, a])

    @pytest.mark.parametrize(
        "wrong",
        [
            {"reading_s": -1},
            {"reading_s": 44_236_800},
            {"reading_s": 0.5},
            {"period_s": 0},
            {"slack_s": -1},
            {"slack_s": 0.5},
        ],
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

    def test_a_column_for_the_slack(self) -> None:
        text = "instant,reading,by,Slack\n@1773152100,13:52:07,Ines,2m\n@1773238500,13:52,Tobias,\n"
        assert [seen.slack_s for seen in observations_in(text)] == [120, 1]
        # without a name it is a free column, as before; a row may be cut short
        assert [seen.slack_s for seen in observations_in("@1,13:52,2m\n")] == [1]
        short = "time;reading;slack\n@1;13:52\n@90;13:53;0s\n"
        assert [seen.slack_s for seen in observations_in(short)] == [1, 0]
        for wrong in ("2", "soon", "-2s"):
            with pytest.raises(BadArgument, match="line 2"):
                observations_in(f"instant,reading,slack\n@1,13:52,{wrong}\n")

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


@pytest.mark.parametrize(
    ("days_a_day", "rate_words"), [(2, "+1,000,000 ppm"), (0, "-1,000,000 ppm")]
)
def test_a_rate_that_no_clock_has_is_refused(days_a_day: int, rate_words: str) -> None:
    daily = [
        Observation(
            instant=1_767_225_600 + day * 86_400, reading_s=864_000 + day * days_a_day * 86_400
        )
        for day in range(4)
    ]
    with pytest.raises(BadArgument, match="no clock runs at this rate") as caught:
        fit_drift(daily)
    assert f"found {rate_words}" in str(caught.value)
