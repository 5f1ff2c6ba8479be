"""The first page of the day."""

from typing import Any

from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from fleet.models import Person
from fleet.permissions import may_anywhere
from fleet.views.gate import person_of, politely, today_of
from scheduling.queries.home_losses import home_losses
from scheduling.queries.today import today_facts
from scheduling.reports.home import home_figures, home_warning
from scheduling.views.reports import report_lists

# The first of these that a person may do names what they are here for.
_HERE_FOR = (
    ("edit_machines", "planner"),
    ("build", "fitter"),
    ("keep_stock", "storeman"),
    ("read_costs", "manager"),
)


@politely
def today(request: HttpRequest) -> HttpResponse:
    """What needs a hand today, the lines in the order of who looks."""
    person = person_of(request)
    day = today_of(person)
    facts = today_facts(person, today=day)
    here_for = next((word for right, word in _HERE_FOR if may_anywhere(person, right)), "reader")
    may_import = may_anywhere(person, "import_register")
    shown: dict[str, Any] = {
        "facts": facts,
        "today": day,
        "here_for": here_for,
        "may_import": may_import,
    }
    shown |= {"stale_days": settings.HOURS_STALE_AFTER_DAYS, "currency": settings.CURRENCY}
    if may_anywhere(person, "read_costs"):
        shown |= losses_shown(person)
    return render(request, "scheduling/today.html", shown)


def losses_shown(person: Person) -> dict[str, Any]:
    """What failures cost lately, first of all for whoever manages."""
    found = home_losses(person)
    if found is None:
        return {"losses_to_come": True}
    asked = f"?from_on={found.from_on}&to_on={found.to_on}"
    figures = home_figures(found, lists=report_lists(asked))
    warning = home_warning(found)
    return {"losses": found, "loss_figures": figures, "loss_warning": warning, "asked": asked}
