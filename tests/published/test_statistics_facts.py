"""Regression, crystals and cells against certified and published values."""

from __future__ import annotations

import random
from fractions import Fraction
from itertools import accumulate, permutations

import pytest

from rtcsave.cells import RATED, Cell, life_years
from rtcsave.drift.judging import minutes_a_year, seconds_a_day, temperature_shift_ppm
from rtcsave.regress import Window, least_squares, median_slope, slope_bounds, student_t

NORRIS_X = [
    0.2, 337.4, 118.2, 884.6, 10.1, 226.5, 666.3, 996.3, 448.6, 777.0, 558.2, 0.4, 0.6, 775.5,
    666.9, 338.0, 447.5, 11.6, 556.0, 228.1, 995.8, 887.6, 120.2, 0.3, 0.3, 556.8, 339.1, 887.2,
    999.0, 779.0, 11.1, 118.3, 229.2, 669.1, 448.9, 0.5,
]  # fmt: skip
NORRIS_Y = [
    0.1, 338.8, 118.1, 888.0, 9.2, 228.1, 668.5, 998.5, 449.1, 778.9, 559.2, 0.3, 0.1, 778.1,
    668.8, 339.3, 448.9, 10.8, 557.7, 228.3, 998.0, 888.8, 119.6, 0.3, 0.6, 557.6, 339.3, 888.0,
    998.5, 778.9, 10.2, 117.6, 228.9, 668.4, 449.2, 0.2,
]  # fmt: skip


def test_norris() -> None:
    """NIST StRD, Norris (36 points): certified values, to 1e-9 relative."""
    line = least_squares(NORRIS_X, NORRIS_Y)
    assert line.n == 36
    assert line.intercept == pytest.approx(-0.262323073774029, rel=1e-9)
    assert line.intercept_sd == pytest.approx(0.232818234301152, rel=1e-9)
    assert line.slope == pytest.approx(1.00211681802045, rel=1e-9)
    assert line.slope_sd == pytest.approx(0.000429796848199937, rel=1e-9)
    assert line.residual_sd == pytest.approx(0.884796396144373, rel=1e-9)


@pytest.mark.parametrize(
    ("degrees", "value"),
    [
        (1, 12.706), (2, 4.303), (3, 3.182), (4, 2.776), (5, 2.571),
        (10, 2.228), (30, 2.042), (100, 1.984), (10**9, 1.960),
    ],
)  # fmt: skip
def test_student_t(degrees: int, value: float) -> None:
    """NIST/SEMATECH e-Handbook, section 1.3.6.7.2, column 0.975."""
    assert round(student_t(degrees, 0.95), 3) == value


@pytest.mark.parametrize(
    ("degrees", "value"),
    [
        (1, 63.657), (2, 9.925), (3, 5.841), (4, 4.604), (5, 4.032),
        (10, 3.169), (30, 2.750), (100, 2.626), (10**9, 2.576),
    ],
)  # fmt: skip
def test_student_t_of_99_percent(degrees: int, value: float) -> None:
    """NIST/SEMATECH e-Handbook, section 1.3.6.7.2, column 0.995 (from memory)."""
    assert round(student_t(degrees, 0.99), 3) == value


def test_median_of_slopes() -> None:
    """statisticshowto.com, after Wilcox: ten slopes with the median 756.5; here as the steps of a staircase,
    one apart, shuffled."""
    steps = [561, -340, 1327, 130, 952, 496, 1184, 713, 851, 800]
    heights = [0, *accumulate(steps)]
    assert median_slope(range(11), heights) == 756.5


def bounds_of(*windows: tuple[int, int, int, int]) -> tuple[float, float | None]:
    found = slope_bounds([Window(*window) for window in windows])
    assert found is not None
    return float(found.low), None if found.high is None else float(found.high)


def test_the_hard_bound_of_a_pair() -> None:
    """S. B. Moon, P. Skelly, D. Towsley, "Estimation and Removal of Clock Skew from Network Delay
    Measurements", INFOCOM 1999: the idea; the numbers here are arithmetic."""
    # both cut off to whole seconds: (dR - 1)/(dS + 1) < b < (dR + 1)/(dS - 1)
    assert bounds_of((0, 0, 1, 1), (100, 103, 1, 1)) == (102 / 101, 104 / 99)
    # a reading shown to r seconds: (dR - r_i)/(dS + 1) < b < (dR + r_j)/(dS - 1)
    assert bounds_of((0, 0, 1, 60), (1_000, 1_020, 1, 60)) == (960 / 1_001, 1_080 / 999)
    # a pair with dS <= 1 gives no upper end
    assert bounds_of((0, 0, 1, 1), (1, 1, 1, 1)) == (0, None)
    # windows of different widths: x in [0, 11) and [95, 106), y in [0, 60) and [103, 104)
    assert bounds_of((0, 0, 11, 60), (95, 103, 11, 1)) == (43 / 106, 104 / 84)


def test_the_hard_bound_is_that_of_all_pairs() -> None:
    """S. B. Moon, P. Skelly, D. Towsley, "Estimation and Removal of Clock Skew from Network Delay
    Measurements", INFOCOM 1999: the idea; here against every pair in turn."""
    chance = random.Random(7)
    empty = 0
    for _ in range(500):
        widths = [(chance.choice((1, 3, 11)), chance.choice((1, 60))) for _ in range(8)]
        windows = [
            Window(x := chance.randrange(400), round(x * 1.1) + chance.randint(-7, 7), *width)
            for width in widths
        ]
        low, high = Fraction(0), Fraction(10**9)
        for a, b in permutations(windows, 2):
            run = b.x + b.x_width - a.x
            if run > 0:
                low = max(low, Fraction(b.y - a.y - a.y_width, run))
            elif run < 0:
                high = min(high, Fraction(a.y + a.y_width - b.y, -run))
            elif b.y >= a.y + a.y_width:
                high = low
        found = slope_bounds(windows)
        empty += found is None
        expected = None if low >= high else (low, None if high == 10**9 else high)
        assert found == expected
    assert 50 < empty < 450


def test_crystals() -> None:
    """CTS TF20 series, document 008-0353-0 rev. C: -0.030 ppm/°C² about 25 ± 5 °C; Maxim MAX6902 data
    sheet, p. 14: -0.04 ppm/°C² about 20 °C."""
    # TF20: at 45 °C -0.030 x 20^2 = -12.0 ppm
    assert temperature_shift_ppm(45)[0] == pytest.approx(-12.0)
    # MAX6902: 45 ppm at 45 °C with the 20 ppm of tolerance, so -25 ppm of temperature, and that is
    # the far end of our range
    assert temperature_shift_ppm(45)[1] == pytest.approx(-25.0)
    typical, most, least = temperature_shift_ppm(25)
    assert (typical, least) == (0, 0)
    assert most == pytest.approx(-1.0)


def test_rates_in_words() -> None:
    """Epson RX8010SJ application manual, ETM37E-06, section 10.1; Maxim AN632; Maxim MAX6902 data sheet,
    p. 14."""
    # RX8010SJ: 11.574 ppm = 1 s a day
    assert seconds_a_day(11.574) == pytest.approx(1.0, abs=1e-4)
    # AN632: 20 ppm is "more than +-1.7" s a day; 10.512 min in 365 days
    assert seconds_a_day(20) == pytest.approx(1.728)
    assert minutes_a_year(20) == pytest.approx(10.512)
    # MAX6902: 45 ppm = 120.528 s in 31 days
    assert 31 * seconds_a_day(-45) == pytest.approx(-120.528)


def test_cells() -> None:
    """ST application note on serial real-time clocks: life = capacity over current; Energizer Lithium
    Coin Handbook, form 12006-A, p. 2: ratings; 1 % a year: Panasonic and Renata, quoted second hand."""
    # 48 mAh at 0.5 uA is 10.96 years, 230 mAh at 2.25 uA 102,222 h or 11.7 years
    assert life_years(48, 0.5) == pytest.approx(10.96, abs=0.005)
    assert life_years(230, 2.25) * 8_760 == pytest.approx(102_222, abs=1)
    assert life_years(230, 2.25) == pytest.approx(11.7, abs=0.05)
    assert (RATED["CR1025"].mah, RATED["CR1216"].mah) == (30, 34)
    assert not RATED["CR1025"].from_memory
    assert not RATED["CR1216"].from_memory
    # about 1 % of 230 mAh a year is what 0.26 uA more would take
    assert life_years(230, 2.25, 0.01) == pytest.approx(230 / (19.71 + 2.3), rel=1e-4)
    assert Cell(capacity_mah=48, current_ua=0.5, self_discharge_per_year=0).life_years() == (
        pytest.approx((10.96, 10.96), abs=0.005)
    )
