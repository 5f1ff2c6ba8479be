"""What stands on every page about a machine or a hose: alarms, whoever made the page."""

from typing import Any

from django.http import HttpRequest

from fleet.models import Person
from fleet.navigation import about_address, alarms_about
from fleet.permissions import may_anywhere
from fleet.queries.alarm_reach import seen_of
from fleet.views.gate import today_of

SHOWN = 4


def alarms_on(request: HttpRequest | None) -> dict[str, Any]:
    """The alarms of a page, found by its address; nothing for who is not logged in."""
    person = getattr(request, "user", None)
    match = getattr(request, "resolver_match", None)
    if match is None or not isinstance(person, Person):
        return {"first": (), "others": ()}
    found = alarms_about(seen_of(person, about_address(person, match.kwargs)))
    if not found:
        return {"first": (), "others": ()}
    return {
        "first": found[:SHOWN],
        "others": found[SHOWN:],
        "today": today_of(person),
        "may_settle": may_anywhere(person, "inspect"),
    }
