"""Life rules as the pages show them."""

from dataclasses import dataclass

from django.db.models import Q, QuerySet

from fleet.models import Person
from scheduling.calc.rule_words import rule_words
from scheduling.models import LifeRule, LifeRuleRevision


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


def latest_revision(header: LifeRule) -> LifeRuleRevision | None:
    """The newest revision of a rule, draft or not."""
    return header.revisions.order_by("-number").first()


def draft_of(header: LifeRule) -> LifeRuleRevision | None:
    """The draft that waits for approval."""
    return header.revisions.filter(state="draft").first()


def _seen(person: Person) -> "QuerySet[LifeRuleRevision]":
    found = LifeRuleRevision.objects.filter(
        header__withdrawn_at=None, state__in=["approved", "draft"]
    ).select_related("header", "site", "machine__site", "machine_class")
    if person.sees_every_site:
        return found
    ids = person.seen_site_ids
    everywhere = Q(site=None, machine=None)
    return found.filter(everywhere | Q(site__in=ids) | Q(site=None, machine__site__in=ids))


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
