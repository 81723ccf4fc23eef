"""Whole collections of saves: surveyed, planned for, repaired, and taken back."""

from rtcsave.collection.batch import BatchResult, FileOutcome, apply_batch, undo_batch
from rtcsave.collection.plans import BatchPlan, PlannedFile, PlannedStep, plan_batch
from rtcsave.collection.rows import SurveyRow
from rtcsave.collection.series import History, HistoryStep, history
from rtcsave.collection.surveying import survey

__all__ = [
    "BatchPlan",
    "BatchResult",
    "FileOutcome",
    "History",
    "HistoryStep",
    "PlannedFile",
    "PlannedStep",
    "SurveyRow",
    "apply_batch",
    "history",
    "plan_batch",
    "survey",
    "undo_batch",
]
