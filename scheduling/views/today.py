"""The first page of the day."""

from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from fleet.permissions import may_anywhere
from fleet.views.gate import person_of, politely, today_of
from scheduling.queries.today import today_facts

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
    shown = {"facts": facts, "today": day, "here_for": here_for, "may_import": may_import}
    shown["stale_days"] = settings.HOURS_STALE_AFTER_DAYS
    return render(request, "scheduling/today.html", shown)
