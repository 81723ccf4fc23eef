"""Whole collections of saves: surveyed, and what is made of that."""

from rtcsave.collection.rows import SurveyRow
from rtcsave.collection.surveying import survey

__all__ = ["SurveyRow", "survey"]
