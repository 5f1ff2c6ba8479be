"""One rule with all its versions, and what a draft of it would change."""

from typing import Any

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone

from fleet.models import Errand, Person
from fleet.permissions import NotAllowed, may_anywhere
from fleet.queries.errands import errand_progress
from fleet.views.gate import person_of, politely, today_of
from scheduling.actions.tryouts import ask_tryout, tryout_of
from scheduling.queries.rules import draft_of, rule_for, rule_page
from scheduling.queries.tryouts import Tryout, tryout_page


@politely
def rule(request: HttpRequest, rule_id: int) -> HttpResponse:
    """Every version of a rule side by side: who made and approved each, and when."""
    person = person_of(request)
    page = rule_page(person, rule_id)
    if page is None:
        raise Http404
    context = {
        "page": page,
        "may_edit": may_anywhere(person, "edit_rules"),
        "may_approve": may_anywhere(person, "approve_rules"),
    }
    return render(request, "scheduling/rules/rule.html", context)


@politely
def rule_try(request: HttpRequest, rule_id: int) -> HttpResponse:
    """What the draft would change, before anyone approves it."""
    person, now = person_of(request), timezone.now()
    held = rule_for(person, rule_id)
    draft = draft_of(held) if held else None
    if held is None or draft is None:
        raise Http404
    if not (may_anywhere(person, "edit_rules") or may_anywhere(person, "approve_rules")):
        raise NotAllowed("Trying a rule goes with drafting or approving them.")
    today = today_of(person)
    if request.method == "POST":
        ask_tryout(draft=draft, person=person, today=today, at=now)
        return redirect("scheduling:rule_try", held.pk)
    found = tryout_of(draft=draft, person=person, today=today)
    context = {"rule": held, "draft": draft, **_shown(found, person)}
    return render(request, "scheduling/rules/try.html", context)


def _shown(found: Tryout | Errand | None, person: Person) -> dict[str, Any]:
    """A try-out as far as it is, and what the person may see and do of it."""
    may = {
        "may_approve": may_anywhere(person, "approve_rules"),
        "may_see_costs": may_anywhere(person, "read_costs"),
    }
    if isinstance(found, Errand):
        progress = errand_progress(errand_id=found.pk, person=person, at=timezone.now())
        return {**may, "progress": progress}
    return {**may, "found": tryout_page(person, found) if found else None}
