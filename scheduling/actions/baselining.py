"""First registration: what is found on a machine that no register knew, place by place."""

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from django.core.files.uploadedfile import UploadedFile
from django.db import transaction

from assemblies.actions.found_hoses import FoundHose, keep_found
from assemblies.actions.positions import add_position
from assemblies.models import Position, Stay
from fleet import audit
from fleet.actions.refusals import Refused
from fleet.models import Person
from fleet.permissions import require
from scheduling.actions.inspections import Found, Look, told_look
from scheduling.actions.rounds import look_in_round
from scheduling.models import Inspection, Round
from scheduling.queries.round_places import places_of


@dataclass(frozen=True)
class Place:
    """A position of the round's machine; or the facts of one that is met in passing."""

    position: Position | None = None
    facts: Mapping[str, Any] = field(default_factory=dict)


@dataclass(frozen=True)
class HoseTold:
    """What was told of the hose at a place: what it says, how it looked, what was found."""

    hose: FoundHose
    look: Look
    found: Sequence[Found] = ()
    photos: Sequence["UploadedFile[Any]"] = ()


@transaction.atomic
def register_here(
    *,
    round_: Round,
    place: Place,
    told: HoseTold,
    person: Person,
    today: dt.date,
    at: dt.datetime,
) -> Inspection:
    """Keep the hose found at a place, with its first look. Atomic; told twice, kept once.

    The hose is known from today with an unknown age, save what can be read off it. Refuses:
    not_of_this_round, place_missing, and what `add_position`, `keep_found` and `look_in_round`
    refuse. Needs `fit_hoses` and `inspect` at the site.
    """
    require(person, "fit_hoses", round_.site_id)
    before = told_look(person, told.look.client_id)
    if before is not None:
        return before
    position = _place(round_, place, person, at)
    hose = keep_found(position=position, hose=told.hose, person=person, today=today, at=at)
    return look_in_round(
        round_=round_,
        assembly=hose,
        look=told.look,
        found=told.found,
        photos=told.photos,
        person=person,
        today=today,
        at=at,
    )


@transaction.atomic
def tell_empty(*, round_: Round, position: Position, person: Person, at: dt.datetime) -> Round:
    """Note that a position holds no hose. Atomic, safe to repeat.

    Refuses: not_of_this_round, holds_a_hose, round_finished. Needs `fit_hoses` at the site.
    """
    require(person, "fit_hoses", round_.site_id)
    locked = Round.objects.select_for_update(of=("self",)).select_related("machine", "site")
    held = locked.get(pk=round_.pk)
    _refuse_elsewhere(held, position)
    stay = Stay.objects.filter(position=position, is_open=True).select_related("assembly").first()
    if stay is not None:
        raise Refused(
            "holds_a_hose",
            f"The register has {stay.assembly} on {position}: take it off on the position’s page.",
        )
    if position.pk in held.told_empty:
        return held
    if held.finished_at is not None:
        raise Refused("round_finished", "The round is finished: begin another to tell this.")
    held.told_empty = [*held.told_empty, position.pk]
    held.save(update_fields=["told_empty"])
    deed = audit.Deed("found no hose", held, held.site, {}, {"position": str(position)})
    audit.record(deed, actor=person, at=at)
    return held


def _place(round_: Round, place: Place, person: Person, at: dt.datetime) -> Position:
    if place.position is not None:
        _refuse_elsewhere(round_, place.position)
        return place.position
    if not str(place.facts.get("place", "")).strip():
        raise Refused("place_missing", "Say where on the machine it sits.", field="place")
    machine, facts = round_.machine, dict(place.facts)
    return add_position(machine=machine, facts=facts, person=person, at=at, right="fit_hoses")


def _refuse_elsewhere(round_: Round, position: Position) -> None:
    if not places_of(round_.machine).filter(pk=position.pk).exists():
        raise Refused("not_of_this_round", f"{position} is not on {round_.machine}.")
