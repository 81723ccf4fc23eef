"""The bounds that the project demands of a rate, by a small seeded simulation.

The full one is `tests/bench/simulate_drift.py`: thousands of trials a cell, and every cell. Here a
share may be low by three standard deviations of so few trials; what must be 100 % must be 100 %.
"""

from __future__ import annotations

import zlib

import pytest
from bench.simulate_drift import SMALL, Cell, cells, line, measure

TRIALS = 120


@pytest.mark.parametrize("cell", [pytest.param(cell, id=cell.name) for cell in cells(SMALL)])
def test_the_interval_holds(cell: Cell) -> None:
    measured = measure(cell.draw, TRIALS, zlib.crc32(cell.name.encode()))
    assert not cell.failures(measured, deviations=3), line(cell, measured)
