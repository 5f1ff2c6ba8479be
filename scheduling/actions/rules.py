"""Life rules: proposed, revised, approved, withdrawn; and the presets they may start from."""

import datetime as dt
from collections.abc import Mapping
from typing import Any, Final

from django.db import IntegrityError, transaction

from assemblies.actions.revisions import (
    Kind,
    approve_draft,
    locked_draft,
    new_draft,
    set_content,
)
from fleet import audit
from fleet.actions.refusals import Refused
from fleet.models import Person, Site
from fleet.permissions import require
from scheduling.actions.nudges import scope_changed
from scheduling.calc.presets import Preset
from scheduling.calc.presets import preset as preset_named
from scheduling.models import LifeRule, LifeRuleRevision

MOST_MONTHS: Final = 1200


def _check(rule: LifeRuleRevision) -> None:
    """A rule names its source and limits something."""
    if not rule.source.strip():
        raise Refused("source_missing", "Say where the limits come from.", field="source")
    if not any(getattr(rule, name) for name in LifeRuleRevision.LIMITS):
        raise Refused("limit_missing", "A rule needs at least one limit.")
    for name in (name for name in LifeRuleRevision.LIMITS if name.endswith("months")):
        if (getattr(rule, name) or 0) > MOST_MONTHS:
            raise Refused("limit_too_long", f"At most {MOST_MONTHS} months.", field=name)


RULE = Kind(
    headers=LifeRule,
    revisions=LifeRuleRevision,
    noun="life rule",
    edit="edit_rules",
    approve="approve_rules",
    prepare=_check,
)


@transaction.atomic
def propose_rule(
    *, name: str, facts: Mapping[str, Any], person: Person, at: dt.datetime, preset: str = ""
) -> LifeRuleRevision:
    """Make a rule and its first draft. Nothing is due by it until it is approved. Atomic.

    `facts` are scope, limits and source. Refuses: name_taken, name_missing, source_missing,
    limit_missing, field_wrong. Needs `edit_rules` at the rule's site, or at every site.
    """
    require(person, RULE.edit, _site_of(facts))
    if not name.strip():
        raise Refused("name_missing", "A rule needs a name.", field="name")
    try:
        with transaction.atomic():
            header = LifeRule.objects.create(name=name.strip()[:120], preset=preset)
    except IntegrityError as error:
        raise Refused("name_taken", f"There is a rule “{name}” already.", field="name") from error
    return _drafted(header, facts, person, at)


@transaction.atomic
def revise_rule(
    *, header: LifeRule, facts: Mapping[str, Any], person: Person, at: dt.datetime
) -> LifeRuleRevision:
    """Draft the next revision; the approved one stands until this one is approved. Atomic.

    Refuses: draft_exists, withdrawn, and what `propose_rule` refuses.
    """
    _require_for_all(header, person, RULE.edit)
    require(person, RULE.edit, _site_of(facts))
    return _drafted(header, facts, person, at)


@transaction.atomic
def change_rule_draft(
    *,
    revision: LifeRuleRevision,
    facts: Mapping[str, Any],
    seen: str,
    person: Person,
    at: dt.datetime,
) -> LifeRuleRevision:
    """Change a draft; `seen` is the fingerprint of what the person saw. Atomic.

    Refuses: not_a_draft, changed_meanwhile, withdrawn, and what `propose_rule` refuses.
    """
    _require_for_all(revision.header, person, RULE.edit)
    draft: LifeRuleRevision = locked_draft(RULE, revision, seen)
    before, after = set_content(RULE, draft, facts)
    require(person, RULE.edit, _site_of_rule(draft))
    deed = audit.Deed("changed a life rule's draft", draft, draft.site, before, after)
    audit.record(deed, actor=person, at=at)
    return draft


@transaction.atomic
def approve_rule(
    *, revision: LifeRuleRevision, seen: str, person: Person, at: dt.datetime
) -> LifeRuleRevision:
    """Let a draft count. The revision approved before is replaced. Atomic; of two at once one wins.

    What either speaks of is marked stale. Refuses: not_a_draft, changed_meanwhile, withdrawn,
    approved_meanwhile. Needs `approve_rules` at the rule's site, or at every site.
    """
    _require_for_all(revision.header, person, RULE.approve)
    draft: LifeRuleRevision = locked_draft(RULE, revision, seen)
    former = LifeRuleRevision.objects.filter(header=draft.header_id, state="approved").first()
    approve_draft(RULE, draft, person, at)
    for changed in filter(None, (former, draft)):
        scope_changed(changed, at=at)
    return draft


@transaction.atomic
def withdraw_rule(*, header: LifeRule, reason: str, person: Person, at: dt.datetime) -> LifeRule:
    """Let a rule count no more; its revisions stay to be seen. Atomic.

    Refuses: reason_missing, withdrawn_already. Needs `approve_rules` where the rule holds.
    """
    if not reason.strip():
        raise Refused("reason_missing", "Say why the rule is withdrawn.", field="reason")
    _require_for_all(header, person, RULE.approve)
    locked = LifeRule.objects.select_for_update().get(pk=header.pk)
    if locked.withdrawn_at is not None:
        raise Refused("withdrawn_already", f"The rule “{locked}” is withdrawn already.")
    locked.withdrawn_at, locked.withdrawn_by = at, person
    locked.withdrawal_reason = reason.strip()[:500]
    locked.save(update_fields=["withdrawn_at", "withdrawn_by", "withdrawal_reason"])
    deed = audit.Deed("withdrew a life rule", locked, None, {}, {}, reason)
    audit.record(deed, actor=person, at=at)
    for revision in LifeRuleRevision.objects.filter(header=locked, state="approved"):
        scope_changed(revision, at=at)
    return locked


@transaction.atomic
def apply_preset(
    *,
    preset: str,
    site: Site,
    person: Person,
    at: dt.datetime,
    scope: Mapping[str, Any] | None = None,
) -> LifeRuleRevision:
    """Take over a published set of limits for a site, approved at once. Atomic.

    The rule is the site's own copy: it may be revised. Refuses: preset_unknown, name_taken.
    Needs `edit_rules` and `approve_rules` at the site.
    """
    chosen = _preset(preset)
    require(person, RULE.approve, site)
    facts = {**(scope or {}), **chosen.limits, "site": site, "source": chosen.source}
    draft = propose_rule(
        name=f"{chosen.title}: {site}", facts=facts, person=person, at=at, preset=chosen.code
    )
    return approve_rule(revision=draft, seen=RULE.fingerprint(draft), person=person, at=at)


def _preset(code: str) -> Preset:
    try:
        return preset_named(code)
    except KeyError as unknown:
        raise Refused("preset_unknown", unknown.args[0], field="preset") from unknown


def _drafted(
    header: LifeRule, facts: Mapping[str, Any], person: Person, at: dt.datetime
) -> LifeRuleRevision:
    draft = new_draft(RULE, header, facts, person, at)
    assert isinstance(draft, LifeRuleRevision)
    deed = audit.Deed("proposed a life rule", draft, draft.site, {}, dict(facts))
    audit.record(deed, actor=person, at=at)
    return draft


def _require_for_all(header: LifeRule, person: Person, capability: str) -> None:
    """The right where every revision of the rule holds, lest one site loosen another's."""
    for revision in header.revisions.select_related("machine"):
        require(person, capability, _site_of_rule(revision))


def _site_of_rule(rule: LifeRuleRevision) -> int | None:
    if rule.machine is not None:
        return int(rule.machine.site_id)
    return rule.site_id


def _site_of(facts: Mapping[str, Any]) -> int | None:
    machine, site = facts.get("machine"), facts.get("site")
    if machine is not None:
        return int(machine.site_id)
    return None if site is None else int(site.pk)
