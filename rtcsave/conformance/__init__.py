"""What is known of the clocks, as checks for any clock: an emulator's, a core's, ours.

>>> from rtcsave import CounterChip, conformance
>>> report = conformance.run("counter", CounterChip)
>>> report.ok, len(report.passed) > 20, report.failures
(True, True, ())
"""

from rtcsave.conformance.checking import (
    Check,
    ConformanceReport,
    Failure,
    Need,
    NotConforming,
)
from rtcsave.conformance.checks import checks, run

__all__ = ["Check", "ConformanceReport", "Failure", "Need", "NotConforming", "checks", "run"]
