"""Why a hose has its date: every trigger's sum from the inputs as they stand, the rules named."""

import datetime as dt
from dataclasses import dataclass

from assemblies.models import Assembly
from fleet.models import Person
from scheduling.calc.due import due_table
from scheduling.calc.due_words import flag_sentences
from scheduling.calc.explain import TriggerExplained, explain
from scheduling.calc.life_picture import LifeLimit
from scheduling.calc.standing import Dates, Standing, standing, what_is_due
from scheduling.models import Due, LifeRuleRevision
from scheduling.queries.due_columns import Some, due_inputs
from scheduling.queries.due_facts import dates_of, hose_label, hose_words
from scheduling.queries.exemptions import ExemptionLine, exemptions_of
from scheduling.queries.rule_tables import rulebook


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
    found = Assembly.objects.visible_to(person).filter(pk=hose_id)
    hose = found.select_related("site", "hose").first()
    if hose is None:
        return None
    due = Due.objects.filter(assembly=hose).first()
    dates = dates_of(due)
    reasons, fingerprint = _reasons(hose_id)
    return Why(
        hose=hose,
        label=hose_label(hose),
        words=hose_words(hose),
        standing=standing(dates, today),
        dates=dates,
        due_what=what_is_due(dates) if dates else "",
        said=flag_sentences(due.flags) if due else (),
        reasons=reasons,
        behind=fingerprint != (due.fingerprint if due else None),
        exemptions=exemptions_of(hose, today=today),
    )


def life_limits(hose_id: int) -> tuple[LifeLimit, ...]:
    """The dates that triggers give a hose, as limits of its life, soonest first."""
    reasons, _ = _reasons(hose_id)
    dated = [r.told for r in reasons if r.told.likely_on is not None]
    limits = [
        LifeLimit(
            f"{told.title}, {told.limit}" if told.limit else told.title,
            told.likely_on,
            told.early_on,
            told.late_on,
            told.binds,
        )
        for told in dated
        if told.likely_on is not None
    ]
    return tuple(sorted(limits, key=lambda limit: limit.on))


def _reasons(hose_id: int) -> tuple[tuple[Reason, ...], int | None]:
    book = rulebook()
    inputs = due_inputs(Some(ids=(hose_id,)), book)
    if not inputs.size:
        return (), None
    exemptions = book.exemptions_for(inputs.assembly, inputs.position)
    table = due_table(inputs, book.rules, exemptions)
    told = explain(inputs, table)
    rules = _rules(told)
    named = tuple(Reason(t, rules.get(t.rule) if t.rule is not None else None) for t in told)
    return named, int(table.result.fingerprint[0])


def _rules(told: tuple[TriggerExplained, ...]) -> dict[int, RuleNamed]:
    ids = {t.rule for t in told if t.rule is not None}
    found = LifeRuleRevision.objects.filter(pk__in=ids).select_related("header")
    return {rule.pk: RuleNamed(rule.header.name, rule.number, rule.source) for rule in found}
