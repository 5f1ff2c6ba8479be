"""Life rules as the pages show them."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from django.db.models import Q, QuerySet

from assemblies.queries.side_by_side import FactCell, FactRow, RevisionHead, head_of, row_of
from fleet.models import Person
from scheduling.calc.rule_words import rule_words
from scheduling.models import LifeRule, LifeRuleRevision

_NAMED: Final = ("header", "site", "machine__site", "machine_class")
_LIMIT_WORDS: Final = {
    "made_months": "From hose made",
    "built_months": "From assembly built",
    "fitted_months": "From fitted",
    "storage_months": "In storage",
    "reel_age_months": "Hose made until built",
    "hours_fitting": "Hours on one fitting",
    "hours_total": "Hours in all",
    "inspect_months": "Inspect, months",
    "inspect_hours": "Inspect, hours",
}


@dataclass(frozen=True, slots=True)
class RevisionLine:
    """One revision of a rule in words."""

    revision_id: int
    number: int
    state: str
    scope: str
    limits: tuple[str, ...]
    source: str


@dataclass(frozen=True, slots=True)
class RulePage:
    """A rule with every revision it ever had, the newest first, fact by fact."""

    rule_id: int
    name: str
    preset: str
    withdrawn: str
    heads: tuple[RevisionHead, ...]
    rows: tuple[FactRow, ...]
    draft_id: int | None


@dataclass(frozen=True, slots=True)
class RuleLine:
    """A rule: what counts now, and the draft that waits, where there is one."""

    rule_id: int
    name: str
    approved: RevisionLine | None
    draft: RevisionLine | None


def rules_seen(person: Person) -> tuple[RuleLine, ...]:
    """The rules that hold at the person's sites, those of every site first. Two queries."""
    lines: dict[int, list[LifeRuleRevision]] = {}
    for revision in _seen(person).order_by("header_id", "number"):
        lines.setdefault(revision.header_id, []).append(revision)
    return tuple(_rule(revisions) for revisions in lines.values())


def rule_for(person: Person, rule_id: int) -> LifeRule | None:
    """The rule, where every revision of it holds at sites that the person sees."""
    header = LifeRule.objects.filter(pk=rule_id, withdrawn_at=None).first()
    if header is None or not _seen(person).filter(header=header).exists():
        return None
    return header


def rule_page(person: Person, rule_id: int) -> RulePage | None:
    """A rule with its revisions side by side, old and withdrawn ones too. A few queries."""
    found = _at_sites_of(person, LifeRuleRevision.objects.filter(header=rule_id))
    named = found.select_related(*_NAMED, "made_by", "approved_by", "withdrawn_by")
    revisions = list(named.order_by("-number"))
    if not revisions:
        return None
    header = revisions[0].header
    drafts = [one.pk for one in revisions if one.state == "draft" and header.withdrawn_at is None]
    rows = (
        row_of("Which hoses", tuple(FactCell(one.number, _scope(one)) for one in revisions)),
        *(row_of(words, _limit_cells(revisions, name)) for name, words in _LIMIT_WORDS.items()),
        row_of("Source", tuple(FactCell(one.number, one.source) for one in revisions)),
    )
    return RulePage(
        header.pk,
        header.name,
        header.preset,
        header.withdrawal_reason if header.withdrawn_at else "",
        tuple(head_of(one) for one in revisions),
        tuple(row for row in rows if any(cell.text for cell in row.cells)),
        drafts[0] if drafts else None,
    )


def withdrawn_rules(person: Person) -> tuple[tuple[int, str], ...]:
    """Rules that count no more, by their names: they stay to be seen."""
    gone = LifeRuleRevision.objects.exclude(header__withdrawn_at=None)
    found = _at_sites_of(person, gone).order_by("header__name")
    return tuple(dict.fromkeys(found.values_list("header_id", "header__name")))


def latest_revision(header: LifeRule) -> LifeRuleRevision | None:
    """The newest revision of a rule, draft or not."""
    return header.revisions.order_by("-number").first()


def draft_of(header: LifeRule) -> LifeRuleRevision | None:
    """The draft that waits for approval."""
    return header.revisions.filter(state="draft").first()


def _seen(person: Person) -> "QuerySet[LifeRuleRevision]":
    found = LifeRuleRevision.objects.filter(
        header__withdrawn_at=None, state__in=["approved", "draft"]
    )
    return _at_sites_of(person, found.select_related(*_NAMED))


def _at_sites_of(
    person: Person, found: "QuerySet[LifeRuleRevision]"
) -> "QuerySet[LifeRuleRevision]":
    """Those that hold at the person's sites, or at every site."""
    if person.sees_every_site:
        return found
    ids = person.seen_site_ids
    everywhere = Q(site=None, machine=None)
    return found.filter(everywhere | Q(site__in=ids) | Q(site=None, machine__site__in=ids))


def _limit_cells(revisions: Sequence[LifeRuleRevision], name: str) -> tuple[FactCell, ...]:
    return tuple(
        FactCell(one.number, "; ".join(rule_words({name: getattr(one, name)}))) for one in revisions
    )


def _rule(revisions: list[LifeRuleRevision]) -> RuleLine:
    by_state = {revision.state: _line(revision) for revision in revisions}
    header = revisions[0].header
    return RuleLine(header.pk, header.name, by_state.get("approved"), by_state.get("draft"))


def _line(revision: LifeRuleRevision) -> RevisionLine:
    limits = {name: getattr(revision, name) for name in LifeRuleRevision.LIMITS}
    return RevisionLine(
        revision.pk,
        revision.number,
        revision.state,
        _scope(revision),
        rule_words(limits),
        revision.source,
    )


def _scope(rule: LifeRuleRevision) -> str:
    parts = (
        str(rule.machine or ""),
        str(rule.machine_class or ""),
        rule.circuit and f"{rule.get_circuit_display()} circuits",
        rule.hose_type,
        rule.consequence and f"where a failure {rule.get_consequence_display()}",
        rule.exposure and f"exposed to {rule.get_exposure_display()}",
    )
    what = ", ".join(part for part in parts if part) or "every hose"
    return f"{what} at {rule.site or 'every site'}"
