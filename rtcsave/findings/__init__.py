"""What can be wrong with a save: one entry a kind of finding, gathered by family.

The entries are loaded when one is asked for: a healthy save needs none of them.
"""

from typing import TYPE_CHECKING

from rtcsave.findings.checking import check

if TYPE_CHECKING:
    from rtcsave.findings.entry import SEVERITIES, Finding, FindingKind, Severity, is_safe, rank_of
    from rtcsave.findings.examination import FINDINGS, Examination, examine, recognise
    from rtcsave.findings.scene import Scene
else:
    _MODULES = {
        "entry": ("SEVERITIES", "Finding", "FindingKind", "Severity", "is_safe", "rank_of"),
        "examination": ("FINDINGS", "Examination", "examine", "recognise"),
        "scene": ("Scene",),
    }

    def __getattr__(name: str) -> object:
        """Load a name when it is first used."""
        from importlib import import_module

        for module, names in _MODULES.items():
            if name in names:
                value = getattr(import_module(f"rtcsave.findings.{module}"), name)
                globals()[name] = value
                return value
        raise AttributeError(f"module 'rtcsave.findings' has no attribute {name!r}")


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
