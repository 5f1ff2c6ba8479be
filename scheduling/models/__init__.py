"""Tables of the schedule: rules, dues, inspections, failures."""

from .dues import Due, StaleMark
from .inspections import Failure, Finding, Inspection
from .rules import Exemption, LifeRule, LifeRuleRevision

__all__ = [
    "Due",
    "Exemption",
    "Failure",
    "Finding",
    "Inspection",
    "LifeRule",
    "LifeRuleRevision",
    "StaleMark",
]
