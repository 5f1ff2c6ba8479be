"""Approved life rules and standing exemptions as tables of whole numbers."""

from collections.abc import Iterable
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Any

import numpy as np
from django.db.models import QuerySet

from fleet.models.fields import EPOCH as _EPOCH
from scheduling.calc.calendar import Ints
from scheduling.calc.inputs import NONE, SCOPES, Exemptions, RuleTable, Trigger
from scheduling.models import Exemption, LifeRuleRevision
from scheduling.models.rules import Scope

_TEXT_SCOPES = ("circuit", "hose_type", "consequence", "exposure")
_HOUR_LIMITS = {
    "fitting_tenths": "hours_fitting",
    "total_tenths": "hours_total",
    "inspect_tenths": "inspect_hours",
}


@dataclass(frozen=True)
class Rulebook:
    """All rules and exemptions, and the codes that stand for the texts they name."""

    rules: RuleTable
    exemptions: Exemptions
    codes: dict[str, dict[str, int]] = field(default_factory=dict)

    @property
    def counts_all_hours(self) -> bool:
        """Whether any rule limits hours over all stays."""
        return bool((self.rules.total_tenths != NONE).any())

    def exemptions_for(self, assemblies: Ints, positions: Ints) -> Exemptions:
        """Only those that can matter to these rows: of other hoses and positions there are many."""
        table = self.exemptions
        kept = (table.assembly == NONE) | np.isin(table.assembly, assemblies)
        kept &= (table.position == NONE) | np.isin(table.position, positions)
        return Exemptions(**{name: getattr(table, name)[kept] for name in table.names()})


def rulebook(extra: Iterable[LifeRuleRevision] = ()) -> Rulebook:
    """The approved rules and the exemptions that have not been ended, as of now.

    `extra` are drafts to be tried beside them: each takes the place of its header's approved one.
    """
    drafts = list(extra)
    approved = LifeRuleRevision.objects.filter(state="approved", header__withdrawn_at=None)
    rules = [*approved.exclude(header__in=[d.header_id for d in drafts]), *drafts]
    exemptions = list(_standing())
    codes = {name: _codes([*rules, *exemptions], name) for name in _TEXT_SCOPES}
    return Rulebook(
        _table(RuleTable, [_rule_row(rule, codes) for rule in rules]),
        _table(Exemptions, [_exemption_row(exemption, codes) for exemption in exemptions]),
        codes,
    )


def trigger_bits(names: Iterable[str]) -> int:
    """The triggers an exemption names, as a sum of 2**trigger; 0 for all of them.

    >>> trigger_bits(["made", "built"])
    6
    """
    return sum(1 << Trigger[name.upper()] for name in set(names))


def _standing() -> "QuerySet[Exemption]":
    return Exemption.objects.filter(ended_at=None)


def _codes(scopes: Iterable[Scope], name: str) -> dict[str, int]:
    texts = sorted({getattr(scope, name) for scope in scopes} - {""})
    return {text: code for code, text in enumerate(texts, 1)}


def _scope_row(scope: Scope, codes: dict[str, dict[str, int]]) -> dict[str, int]:
    row: dict[str, int] = {}
    for name in SCOPES:
        if name in codes:
            text = getattr(scope, name)
            row[name] = codes[name][text] if text else NONE
        else:
            row[name] = _or_none(getattr(scope, f"{name}_id"))
    return row


def _rule_row(rule: LifeRuleRevision, codes: dict[str, dict[str, int]]) -> dict[str, int]:
    limits = {n: _or_none(getattr(rule, n)) for n in LifeRuleRevision.LIMITS if "months" in n}
    tenths = {n: _tenths(getattr(rule, column)) for n, column in _HOUR_LIMITS.items()}
    return {"rule": rule.pk, **_scope_row(rule, codes), **limits, **tenths}


def _exemption_row(exemption: Exemption, codes: dict[str, dict[str, int]]) -> dict[str, int]:
    return {
        "assembly": _or_none(exemption.assembly_id),
        "position": _or_none(exemption.position_id),
        **_scope_row(exemption, codes),
        "triggers": trigger_bits(exemption.triggers),
        "until_on": (exemption.until_on - _EPOCH).days,
    }


def _or_none(value: int | None) -> int:
    return NONE if value is None else value


def _tenths(value: Decimal | None) -> int:
    return NONE if value is None else int(value * 10)


def _table(kind: Any, rows: list[dict[str, int]]) -> Any:
    names = kind.names()
    table = [[row[name] for name in names] for row in rows]
    return kind.from_rows(np.array(table, dtype=np.int64))
