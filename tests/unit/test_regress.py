"""Straight lines where nothing published can be held against them."""

from __future__ import annotations

import pytest

from rtcsave.regress import Window, slope_bounds, student_t


@pytest.mark.parametrize("inside", [0.95, 0.99])
def test_student_t_has_no_step_where_its_formula_changes(inside: float) -> None:
    assert 0 < student_t(200, inside) - student_t(201, inside) < 2e-4


def test_no_line_passes() -> None:
    assert slope_bounds([Window(0, 0, 1, 1), Window(9, 9, 1, 1), Window(20, 9, 1, 1)]) is None
    assert slope_bounds([Window(0, 5, 1, 1), Window(9, 0, 1, 1)]) is None  # it would have to fall
    assert slope_bounds([Window(0, 1, 1, 1), Window(1, 0, 1, 1)]) is None  # straight up at x = 1
    assert slope_bounds([Window(0, 0, 1, 1), Window(1, 0, 1, 1)]) is not None
