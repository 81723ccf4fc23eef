"""How fast a crystal runs."""

from rtcsave.drift.estimate import DriftEstimate, DriftSegment, assumed_drift
from rtcsave.drift.fitting import fit_drift
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
