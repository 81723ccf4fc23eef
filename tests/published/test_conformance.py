"""Our own chips pass every check that we publish."""

from __future__ import annotations

from functools import partial
from typing import Any

import pytest

from rtcsave import CalendarChip, CounterChip, MinuteChip, conformance

BUSES: dict[str, Any] = {
    "counter": CounterChip,
    "minutes": partial(MinuteChip, busy_polls=3),
    "calendar": CalendarChip,
}
CASES = [(kind, check) for kind in BUSES for check in conformance.checks(kind)]


@pytest.mark.parametrize(("kind", "check"), CASES, ids=[f"{k}-{c}" for k, c in CASES])
def test_our_chips_pass(kind: str, check: conformance.Check) -> None:
    """Pan Docs; hardware measurements, public domain; MSX2 Technical Handbook, ASCII Corp.; the
    operating-system kernel's driver for the RP5C01; Ricoh RP/RF/RS5C62 manual: each check names its own."""
    check.require(BUSES[kind])
