"""What stands on every page about a machine or a hose: alarms, whoever made the page."""

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass
from itertools import groupby
from typing import Any

from django.http import HttpRequest

from fleet.models import Person
from fleet.navigation import Alarm, about_address, alarms_about
from fleet.permissions import may_anywhere
from fleet.queries.alarm_reach import seen_of
from fleet.views.gate import today_of

SHOWN = 2  # of each kind; the others are folded away below them


@dataclass(frozen=True, slots=True)
class Group:
    """The alarms of one kind: the first few, and the others."""

    kind: str
    title: str
    count: int
    grave: bool
    first: tuple[Alarm, ...]
    others: tuple[Alarm, ...]


def alarms_on(request: HttpRequest | None) -> dict[str, Any]:
    """The alarms of a page, found by its address; nothing for who is not logged in."""
    person = getattr(request, "user", None)
    match = getattr(request, "resolver_match", None)
    if match is None or not isinstance(person, Person):
        return {"groups": ()}
    about = seen_of(person, about_address(person, match.kwargs))
    found = alarms_about(about)
    if not found:
        return {"groups": ()}
    today = today_of(person)
    return {
        "groups": _groups(found, about.hoses, today),
        "own": about.hoses,
        "today": today,
        "may_settle": may_anywhere(person, "inspect"),
    }


def _groups(found: Iterable[Alarm], own: frozenset[int], today: dt.date) -> list[Group]:
    """By kind, the gravest first; within a kind those of the page's own hoses first."""
    kinds = [(kind, list(alarms)) for kind, alarms in groupby(found, key=lambda one: one.kind)]
    return [_group(kind, alarms, own, today) for kind, alarms in kinds]


def _group(kind: str, alarms: list[Alarm], own: frozenset[int], today: dt.date) -> Group:
    rows = tuple(sorted(alarms, key=lambda one: one.hose_id not in own))
    past = any(one.by_on is not None and one.by_on < today for one in rows)
    return Group(kind, rows[0].title, len(rows), kind == "out" or past, rows[:SHOWN], rows[SHOWN:])
