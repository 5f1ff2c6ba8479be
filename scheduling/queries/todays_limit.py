"""At what age the approved rules have the hoses of a scope changed today: the strictest limit."""

from dataclasses import dataclass
from decimal import Decimal
from typing import Final

from django.db.models import Q

from scheduling.calc.life.installations import Clock
from scheduling.calc.rule_words import rule_words
from scheduling.models import LifeRuleRevision
from scheduling.queries.lifetimes import LifeScope

DAYS_A_MONTH: Final = Decimal("30.4375")
_LIMITS: Final = {
    Clock.HOURS: ("hours_fitting", "hours_total"),
    Clock.DAYS: ("fitted_months", "built_months", "made_months"),
}
_TEXTS: Final = ("circuit", "hose_type", "consequence", "exposure")


@dataclass(frozen=True, slots=True)
class TodaysLimit:
    """An age in hours or days, and in words which rule sets it and by what source."""

    age: Decimal
    words: str


def todays_limit(scope: LifeScope, clock: Clock) -> TodaysLimit | None:
    """The strictest limit of all approved rules that hold for every hose of a scope; None where
    none limits them on that clock. A rule for a part of the scope is not one for all of it.

    Limits that count from the build or the making of the hose stand for the same age after
    fitting at most: a hose that lay in store is changed earlier. One read.
    """
    approved = LifeRuleRevision.objects.filter(state="approved", header__withdrawn_at=None)
    found = [
        (_age(getattr(rule, name), clock), rule_words({name: getattr(rule, name)})[0], rule)
        for rule in approved.filter(_holds_for(scope)).select_related("header")
        for name in _LIMITS[clock]
        if getattr(rule, name)
    ]
    if not found:
        return None
    age, words, rule = min(found, key=lambda one: (one[0], one[2].pk))
    return TodaysLimit(age, f"{words}, by the rule “{rule.header}” ({rule.source})")


def _age(limit: Decimal | int, clock: Clock) -> Decimal:
    return Decimal(limit) if clock is Clock.HOURS else (limit * DAYS_A_MONTH).quantize(Decimal(1))


def _holds_for(scope: LifeScope) -> Q:
    asked = Q()
    for name in ("site_id", "machine_class_id", "machine_id"):
        asked &= Q(**{name: None}) | Q(**{name: getattr(scope, name)})
    for name in _TEXTS:
        asked &= Q(**{name: ""}) | Q(**{name: getattr(scope, name)})
    return asked
