"""Whole collections of saves: surveyed, planned for, repaired, and taken back."""

from rtcsave.collection.batch import BatchResult, FileOutcome, apply_batch, undo_batch
from rtcsave.collection.plans import BatchPlan, PlannedFile, PlannedStep, plan_batch
from rtcsave.collection.rows import SurveyRow
from rtcsave.collection.surveying import survey

__all__ = [
    "BatchPlan",
    "BatchResult",
    "FileOutcome",
    "PlannedFile",
    "PlannedStep",
    "SurveyRow",
    "apply_batch",
    "plan_batch",
    "survey",
    "undo_batch",
]
