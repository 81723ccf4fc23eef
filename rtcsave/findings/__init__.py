"""What can be wrong with a save: one entry a fault, gathered by family."""

from rtcsave.findings.entry import SEVERITIES, Fault, Finding, Scene
from rtcsave.findings.examination import FAULTS, Examination, check, examine, recognise

__all__ = [
    "FAULTS",
    "SEVERITIES",
    "Examination",
    "Fault",
    "Finding",
    "Scene",
    "check",
    "examine",
    "recognise",
]
