"""What the pages of shared things do alike: who may read and who may press what, and the deed."""

from collections.abc import Callable
from dataclasses import dataclass

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect

from assemblies.actions.revisions import Kind
from fleet.actions.refusals import Refused
from fleet.models import Person
from fleet.permissions import READ, NotAllowed, may, may_anywhere
from fleet.views.gate import person_of


@dataclass(frozen=True, slots=True)
class MayDo:
    """What a person may do with a kind of shared thing."""

    edit: bool
    approve: bool
    withdraw: bool


def reader_of(request: HttpRequest) -> Person:
    """The person who asks: the catalogue is read by whoever has a role at some site."""
    person = person_of(request)
    if not may_anywhere(person, READ):
        raise NotAllowed("You have no role at any site yet: ask an administrator for one.")
    return person


def may_do(person: Person, kind: Kind) -> MayDo:
    """What the person may do; each action asks again."""
    approve = may_anywhere(person, kind.approve)
    return MayDo(
        edit=may_anywhere(person, kind.edit),
        approve=approve,
        withdraw=approve or may_anywhere(person, "withdraw"),
    )


def rights_at(person: Person, site_id: int) -> dict[str, bool]:
    """What the person may do with the stock of a site, as its pages ask; each action asks again."""
    keeps = may(person, "keep_stock", site_id)
    return {
        "keeps": keeps,
        "may_move": keeps or may(person, "build", site_id),
        "may_withdraw": keeps or may(person, "withdraw", site_id),
    }


def editor_of(request: HttpRequest, kind: Kind) -> Person:
    """The person who asks, where they may edit this kind of thing."""
    person = person_of(request)
    if not may_anywhere(person, kind.edit):
        raise NotAllowed(f"This needs the right “{kind.edit.replace('_', ' ')}”.")
    return person


def do_and_return(
    request: HttpRequest, deed: Callable[[], object], *, done: str, back: str
) -> HttpResponse:
    """Do it, say that it is done or why not, and go back to the page."""
    try:
        deed()
    except Refused as refusal:
        messages.error(request, refusal.sentence)
    else:
        messages.success(request, done)
    return redirect(back)
