"""Asking what a draft of a rule would change: at once for few hoses, else as an errand."""

import datetime as dt
from typing import Any, Final

from fleet.actions.errands import ErrandRun, ask_errand
from fleet.actions.refusals import Refused
from fleet.models import Errand, Person
from scheduling.actions.rules import RULE
from scheduling.models import LifeRuleRevision
from scheduling.queries.tryouts import (
    Tryout,
    as_plain,
    from_plain,
    is_small,
    sites_touched,
    try_draft,
)

TRY: Final = "try a rule"


def tryout_of(*, draft: LifeRuleRevision, person: Person, today: dt.date) -> Tryout | Errand | None:
    """The try-out of a draft: worked out now where it is short, else as far as an errand has it.

    None where it is long and nobody has asked yet. Writes nothing. Nothing is seen of sites that
    the person doesn't see.
    """
    sites = sites_touched(person, draft)
    if is_small(sites):
        return try_draft(draft, sites, today=today)
    asked = Errand.objects.filter(kind=TRY, key=key_of(draft, person, today), person=person)
    last = asked.order_by("-id").first()
    if last is not None and last.state == Errand.State.DONE:
        return from_plain(last.result)
    return last


def ask_tryout(
    *, draft: LifeRuleRevision, person: Person, today: dt.date, at: dt.datetime
) -> Errand:
    """Ask for a long try-out as an errand. Safe to repeat while it waits to begin."""
    payload = {"draft_id": draft.pk, "today": today.isoformat()}
    key = key_of(draft, person, today)
    return ask_errand(kind=TRY, at=at, payload=payload, person=person, key=key)


def work_out(run: ErrandRun) -> dict[str, Any]:
    """Work out a try-out as an errand. Safe to repeat. Refuses: draft_gone."""
    draft = LifeRuleRevision.objects.filter(pk=run.payload["draft_id"], state="draft").first()
    if draft is None or run.person is None:
        raise Refused("draft_gone", "This draft is no draft any more: there is nothing to try.")
    today = dt.date.fromisoformat(run.payload["today"])
    sites = sites_touched(run.person, draft)
    return as_plain(try_draft(draft, sites, today=today, progress=run.progress))


def key_of(draft: LifeRuleRevision, person: Person, today: dt.date) -> str:
    """What makes two try-outs the same: the draft as it stands, the day, and who looks."""
    return f"{draft.pk} {RULE.fingerprint(draft)[:40]} {today} {person.pk}"
