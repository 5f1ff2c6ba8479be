"""What every page does first: who asks, what day it is there, and a polite refusal."""

import datetime as dt
from collections.abc import Callable
from functools import wraps
from typing import Any, TypeVar, cast

from django.contrib.auth.middleware import get_user
from django.http import HttpRequest
from django.http.response import HttpResponseBase
from django.shortcuts import render
from django.utils import timezone
from django.utils.functional import SimpleLazyObject

from fleet.calc.local_days import local_day
from fleet.models import Person, Site
from fleet.permissions import NotAllowed

View = TypeVar("View", bound=Callable[..., HttpResponseBase])


def person_of(request: HttpRequest) -> Person:
    """The person who asks; pages without one are never reached (default deny)."""
    asking: object = request.user
    if type(asking) is SimpleLazyObject:
        request.user = get_user(request)  # as it is: a veil costs at each look
    if not isinstance(request.user, Person):
        raise NotAllowed("Log in first.")
    return request.user


def politely(view: View) -> View:
    """Answer a missing right with a page that says so, and nothing done."""

    @wraps(view)
    def answered(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponseBase:
        try:
            return view(request, *args, **kwargs)
        except NotAllowed as refusal:
            return render(request, "403.html", {"sentence": str(refusal)}, status=403)

    return cast("View", answered)


def day_at(site: Site, at: dt.datetime | None = None) -> dt.date:
    """The calendar day at a site."""
    return local_day(at or timezone.now(), site.time_zone)


def today_of(person: Person) -> dt.date:
    """The calendar day at the first of a person's sites; at UTC where they are of none."""
    site = person.first_site
    return day_at(site) if site else timezone.now().date()
