"""Withdrawing a recipe's revision, a reel or a lot, and marking the hoses that came of it."""

import datetime as dt
from collections.abc import Callable, Mapping
from typing import Any, Final

from django.db import transaction

from assemblies.actions.recipes import withdraw_recipe_revision
from assemblies.actions.reels import withdraw_reel
from assemblies.actions.stores import withdraw_lot
from assemblies.models import RecipeRevision, Reel, StockItem
from assemblies.queries.trace_links import hoses_from
from assemblies.queries.trace_subjects import Subject
from fleet.actions.refusals import Refused
from fleet.models import Person
from fleet.permissions import NotAllowed, may, may_anywhere
from scheduling.actions.recalls import Terms, Told, put_recall
from scheduling.models import Recall


@transaction.atomic
def withdraw_source(
    *,
    subject: Subject,
    reason: str,
    verdict: str,
    by_on: dt.date | None,
    person: Person,
    today: dt.date,
    at: dt.datetime,
) -> Recall | None:
    """Withdraw a source for good and, where a verdict is given, mark every hose that came of it.

    Atomic, all or nothing. An empty verdict leaves the hoses as they are; a verdict with no hose
    to mark gives None. Refuses: not_to_withdraw, and what withdrawing it and `recall` refuse.
    Needs the right to withdraw it; to mark hoses `withdraw` or `recall` there, or for a recipe
    `approve_recipes`.
    """
    if subject.kind not in _WITHDRAWN_BY or subject.own_id is None:
        raise Refused("not_to_withdraw", f"{subject.noun} {subject.label} can't be withdrawn here.")
    _WITHDRAWN_BY[subject.kind](subject.own_id, reason, person, at)
    if not verdict or not hoses_from(subject.kind, subject.key).filter(withdrawn_at=None).exists():
        return None
    if not may_mark(person, subject):
        raise NotAllowed("Marking hoses needs the right “withdraw” or “recall”.")
    return put_recall(subject, Terms(verdict, by_on, reason), Told(person, today, at))


def may_withdraw(person: Person, subject: Subject) -> bool:
    """Whether the person may withdraw a source."""
    rights = _RIGHTS.get(subject.kind, ())
    return any(_may(person, right, subject) for right in rights)


def may_mark(person: Person, subject: Subject) -> bool:
    """Whether the person may mark the hoses that come of a source, as it is withdrawn."""
    rights = ["withdraw", "recall", *_ALSO_MARK.get(subject.kind, ())]
    return any(_may(person, right, subject) for right in rights)


def _may(person: Person, right: str, subject: Subject) -> bool:
    if subject.site_id is None:
        return may_anywhere(person, right)
    return may(person, right, subject.site_id)


def _recipe(own_id: int, reason: str, person: Person, at: dt.datetime) -> None:
    revision = RecipeRevision.objects.select_related("header").get(pk=own_id)
    withdraw_recipe_revision(revision=revision, reason=reason, person=person, at=at)


def _reel(own_id: int, reason: str, person: Person, at: dt.datetime) -> None:
    withdraw_reel(reel=Reel.objects.get(pk=own_id), reason=reason, person=person, at=at)


def _lot(own_id: int, reason: str, person: Person, at: dt.datetime) -> None:
    withdraw_lot(item=StockItem.objects.get(pk=own_id), reason=reason, person=person, at=at)


_WITHDRAWN_BY: Final[Mapping[str, Callable[..., Any]]] = {
    "recipe_revision": _recipe,
    "reel": _reel,
    "fitting_lot": _lot,
    "shell_lot": _lot,
}
_RIGHTS: Final[Mapping[str, tuple[str, ...]]] = {
    "recipe_revision": ("approve_recipes", "withdraw"),
    "reel": ("keep_stock", "withdraw"),
    "fitting_lot": ("keep_stock", "withdraw"),
    "shell_lot": ("keep_stock", "withdraw"),
}
_ALSO_MARK: Final[Mapping[str, tuple[str, ...]]] = {"recipe_revision": ("approve_recipes",)}
