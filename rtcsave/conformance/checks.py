"""The checks of each kind of clock, and trying all of them on one."""

from __future__ import annotations

from collections.abc import Collection
from typing import Final

from rtcsave.clocks import CalendarClock, CounterClock, MinuteClock
from rtcsave.conformance.calendar_checks import CALENDAR_CHECKS
from rtcsave.conformance.checking import (
    NEEDS,
    Check,
    ConformanceReport,
    MakeBus,
    Need,
)
from rtcsave.conformance.counter_checks import COUNTER_CHECKS
from rtcsave.conformance.minute_checks import MINUTE_CHECKS
from rtcsave.errors import BadArgument, shown

_CHECKS: Final = {
    CounterClock.kind: COUNTER_CHECKS,
    MinuteClock.kind: MINUTE_CHECKS,
    CalendarClock.kind: CALENDAR_CHECKS,
}


def checks(kind: str, *, lacks: Collection[Need] = ()) -> tuple[Check, ...]:
    """The checks of a kind of clock (`counter`, `minutes`, `calendar`), in order of difficulty.

    Those that need something of `lacks` are left out. `BadArgument` for an unknown kind or need.
    """
    if not isinstance(kind, str) or kind not in _CHECKS:
        raise BadArgument("unknown kind of clock", found=shown(kind), expected=", ".join(_CHECKS))
    missing = {lacks} if isinstance(lacks, str) else set(lacks)
    if not missing <= set(NEEDS):
        raise BadArgument("a clock cannot lack that", found=shown(lacks), expected=", ".join(NEEDS))
    return tuple(check for check in _CHECKS[kind] if not missing & set(check.needs))


def run(kind: str, make_bus: MakeBus, *, lacks: Collection[Need] = ()) -> ConformanceReport:
    """Try every check of a kind of clock on a clock of its own; what it does and does not do.

    `make_bus` is called for each check and makes a clock as it is when nothing was ever written to
    it: anything with `read`, `write` and `wait(microseconds)`. `lacks` names what the clock does not
    have (`fraction`, `halt`, `latch`, `open`). `BadArgument` for an unknown kind or need.
    """
    tried = checks(kind, lacks=lacks)
    failures = {check.name: check.failure(make_bus) for check in tried}
    return ConformanceReport(
        kind=kind,
        passed=tuple(name for name, failure in failures.items() if failure is None),
        failures=tuple(failure for failure in failures.values() if failure is not None),
        left_out=tuple(check.name for check in checks(kind) if check.name not in failures),
    )
