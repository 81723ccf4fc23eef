"""Our own chips pass every check that we publish; the source stands in each check.

Pan Docs; hardware measurements, public domain; MSX2 Technical Handbook; the kernel's driver for the RP5C01;
Ricoh RP/RF/RS5C62 manual, section 2.6.
"""

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
    check.require(BUSES[kind])


def test_every_check_has_a_name_of_its_own_and_a_source() -> None:
    for kind in BUSES:
        names = [check.name for check in conformance.checks(kind)]
        assert len(names) == len(set(names))
        for check in conformance.checks(kind):
            assert (
                "Pan Docs" in check.source
                or "measurements" in check.source
                or ("Handbook" in check.source)
            )
