"""Repair: what was found, gathered into a plan of small steps."""

from rtcsave.repair.plan import Need, RepairPlan, Step, plan_repair

__all__ = ["Need", "RepairPlan", "Step", "plan_repair"]
