"""What can be wrong with a save: one entry a kind of finding, gathered by family."""

from rtcsave.findings.entry import SEVERITIES, Finding, FindingKind, Severity, is_safe, rank_of
from rtcsave.findings.examination import FINDINGS, Examination, check, examine, recognise
from rtcsave.findings.scene import Scene

__all__ = [
    "FINDINGS",
    "SEVERITIES",
    "Examination",
    "Finding",
    "FindingKind",
    "Scene",
    "Severity",
    "check",
    "examine",
    "is_safe",
    "rank_of",
    "recognise",
]
