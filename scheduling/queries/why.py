"""Why a hose has its date: every trigger's sum from the inputs as they stand, the rules named."""

import datetime as dt
from collections.abc import Collection
from dataclasses import dataclass

from django.db.models import QuerySet

from assemblies.models import Assembly
from fleet.models import Person
from fleet.models.compiled import compiled
from scheduling.calc.due import due_table
from scheduling.calc.due_words import flag_sentences
from scheduling.calc.explain import TriggerExplained, explain
from scheduling.calc.life_picture import LifeLimit
from scheduling.calc.standing import Dates, Standing, standing, what_is_due
from scheduling.models import LifeRuleRevision
from scheduling.queries.due_columns import Some, due_inputs
from scheduling.queries.due_facts import HOSE_SHOWN, dates_of, due_of, hose_label, hose_words
from scheduling.queries.exemptions import ExemptionLine, exemptions_of
from scheduling.queries.rule_tables import Rulebook, rulebook


@dataclass(frozen=True, slots=True)
class RuleNamed:
    """The rule behind a trigger."""

    name: str
    number: int
    source: str


@dataclass(frozen=True, slots=True)
class Reason:
    """One trigger in words, and the rule it comes from where it comes from one."""

    told: TriggerExplained
    rule: RuleNamed | None

    @property
    def counts(self) -> bool:
        """Whether it gives a date, or could if more were known."""
        return self.told.likely_on is not None or bool(self.told.notes) or self.rule is not None


@dataclass(frozen=True, slots=True)
class Why:
    """One hose's dates and all that they follow from."""

    hose: Assembly
    label: str
    words: str
    standing: Standing
    dates: Dates | None
    due_what: str
    said: tuple[str, ...]
    reasons: tuple[Reason, ...]
    behind: bool
    exemptions: tuple[ExemptionLine, ...]

    @property
    def said_beside(self) -> tuple[str, ...]:
        """What the dates come with, less what a trigger below says already."""
        told = {note for reason in self.reasons for note in reason.told.notes}
        return tuple(sentence for sentence in self.said if sentence not in told)

    @property
    def binding(self) -> tuple[Reason, ...]:
        return tuple(reason for reason in self.reasons if reason.told.binds)

    @property
    def others(self) -> tuple[Reason, ...]:
        return tuple(r for r in self.reasons if r.counts and not r.told.binds)

    @property
    def silent(self) -> tuple[Reason, ...]:
        return tuple(r for r in self.reasons if not r.counts and not r.told.binds)


def why(person: Person, hose_id: int, *, today: dt.date) -> Why | None:
    """Every trigger of a hose that the person may see, the binding ones first.

    Worked out anew from the inputs; `behind` says that the stored row is not there yet.
    """
    hose = _hose.first(person, hose_id)
    if hose is None:
        return None
    due = due_of(hose_id)
    dates = dates_of(due)
    book = rulebook()
    told, fingerprint = _told(hose_id, book)
    return Why(
        hose=hose,
        label=hose_label(hose),
        words=hose_words(hose),
        standing=standing(dates, today),
        dates=dates,
        due_what=what_is_due(dates) if dates else "",
        said=flag_sentences(due.flags) if due else (),
        reasons=_reasons(told),
        behind=fingerprint != (due.fingerprint if due else None),
        exemptions=exemptions_of(hose, today=today) if book.exemptions.size else (),
    )


def life_limits(hose_id: int) -> tuple[LifeLimit, ...]:
    """The dates that triggers give a hose, as limits of its life, soonest first."""
    told, _ = _told(hose_id, rulebook())
    limits = [
        LifeLimit(
            f"{one.title}, {one.limit}" if one.limit else one.title,
            one.likely_on,
            one.early_on,
            one.late_on,
            one.binds,
        )
        for one in told
        if one.likely_on is not None
    ]
    return tuple(sorted(limits, key=lambda limit: limit.on))


@compiled
def _hose(person: Person, hose_id: int) -> "QuerySet[Assembly]":
    seen = Assembly.objects.visible_to(person).filter(pk=hose_id)
    return seen.select_related("site", "hose").only(*HOSE_SHOWN, "site__time_zone")


@compiled
def _rules(ids: Collection[int]) -> "QuerySet[LifeRuleRevision, tuple[int, str, int, str]]":
    found = LifeRuleRevision.objects.filter(pk__in=ids)
    return found.values_list("pk", "header__name", "number", "source")


def _told(hose_id: int, book: Rulebook) -> tuple[tuple[TriggerExplained, ...], int | None]:
    """Every trigger in words, and the fingerprint of what they follow from."""
    inputs = due_inputs(Some(ids=(hose_id,)), book)
    if not inputs.size:
        return (), None
    exemptions = book.exemptions_for(inputs.assembly, inputs.position)
    table = due_table(inputs, book.rules, exemptions)
    return explain(inputs, table), int(table.result.fingerprint[0])


def _reasons(told: tuple[TriggerExplained, ...]) -> tuple[Reason, ...]:
    ids = {one.rule for one in told if one.rule is not None}
    found = _rules(ids) if ids else []
    rules = {pk: RuleNamed(name, number, source) for pk, name, number, source in found}
    return tuple(Reason(one, rules.get(one.rule) if one.rule is not None else None) for one in told)
