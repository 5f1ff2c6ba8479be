"""Tables of the schedule: rules, dues, inspections, recalls, the catch-up plan, failures."""

from .catch_up import CatchUpLine, CatchUpPlan
from .dues import Due, StaleMark
from .inspections import Failure, Finding, Inspection, InspectionPhoto, Round
from .recalls import Recall
from .rules import Exemption, LifeRule, LifeRuleRevision

__all__ = [
    "CatchUpLine",
    "CatchUpPlan",
    "Due",
    "Exemption",
    "Failure",
    "Finding",
    "Inspection",
    "InspectionPhoto",
    "LifeRule",
    "LifeRuleRevision",
    "Recall",
    "Round",
    "StaleMark",
]
