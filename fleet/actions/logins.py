"""Counting failed log-ins, so that nobody can try passwords without end."""

import datetime as dt

from django.db.models import Q

from fleet.calc.keys import text_key
from fleet.models import FailedLogin

SPAN = dt.timedelta(minutes=15)
MOST_FOR_A_NAME_HERE = 5  # a person at one machine
MOST_FOR_A_NAME = 20  # the same name from anywhere
MOST_FROM_AN_ADDRESS = 50  # any names: a yard may share one address


def wait_sentence(*, name: str, address: str, at: dt.datetime) -> str:
    """Why this person must wait before another try, or an empty text. Writes nothing."""
    recent = FailedLogin.objects.filter(at__gt=at - SPAN)
    key = _key(name)
    here = recent.filter(name_key=key, address=address).count() >= MOST_FOR_A_NAME_HERE
    anywhere = recent.filter(name_key=key).count() >= MOST_FOR_A_NAME
    stranger = recent.filter(address=address).count() >= MOST_FROM_AN_ADDRESS
    if here or anywhere or stranger:
        return "Too many tries with a wrong password: wait 15 minutes, then try again."
    return ""


def count_failure(*, name: str, address: str, at: dt.datetime) -> None:
    """Keep one failed try, and let go of those whose time is past."""
    FailedLogin.objects.filter(at__lte=at - SPAN).delete()
    FailedLogin.objects.create(name_key=_key(name), address=address[:45], at=at)


def forget_failures(*, name: str, address: str) -> None:
    """The person came in: the tries made from the same place were theirs. Safe to repeat."""
    FailedLogin.objects.filter(Q(name_key=_key(name)) & Q(address=address[:45])).delete()


def _key(name: str) -> str:
    return text_key(name)[:200]
