"""Tables of the schedule: rules, dues, inspections, recalls, the catch-up plan, failures."""

from .catch_up import CatchUpLine, CatchUpPlan
from .dues import Due, DueTally, StaleMark
from .failures import Failure, FailurePhoto, LifeStudy
from .inspections import Finding, Inspection, InspectionPhoto, Round
from .losses import LossTally
from .recalls import Recall
from .rules import Exemption, LifeRule, LifeRuleRevision

__all__ = [
    "CatchUpLine",
    "CatchUpPlan",
    "Due",
    "DueTally",
    "Exemption",
    "Failure",
    "FailurePhoto",
    "Finding",
    "Inspection",
    "InspectionPhoto",
    "LifeRule",
    "LifeRuleRevision",
    "LifeStudy",
    "LossTally",
    "Recall",
    "Round",
    "StaleMark",
]
