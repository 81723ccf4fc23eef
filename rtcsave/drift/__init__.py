"""How fast a crystal runs."""

from rtcsave.drift.fitting import DriftEstimate, DriftSegment, assumed_drift, fit_drift
from rtcsave.drift.observations import Observation, observations_in, observe

__all__ = [
    "DriftEstimate",
    "DriftSegment",
    "Observation",
    "assumed_drift",
    "fit_drift",
    "observations_in",
    "observe",
]
