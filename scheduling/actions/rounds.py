"""Rounds: a walk round one machine, hose by hose, begun, told, and finished.

What is told carries an id drawn where it was tapped, so that a bad connection neither loses
nor doubles it. A round stays open until it is finished, whoever goes on with it.
"""

import datetime as dt
from collections.abc import Iterable, Sequence
from typing import Any

from django.core.files.uploadedfile import UploadedFile
from django.db import IntegrityError, transaction
from django.db.models import Q

from assemblies.models import Assembly, Stay
from fleet import audit
from fleet.actions.photos import keep_photos
from fleet.actions.refusals import Refused
from fleet.calc.local_days import local_day
from fleet.models import Machine, Person, Usage
from fleet.permissions import require
from scheduling.actions.inspections import Found, Look, record_inspection, told_look
from scheduling.actions.nudges import machines_changed
from scheduling.models import Finding, Inspection, InspectionPhoto, Round
from scheduling.queries.round_places import left_out_of, places_of, round_machines

RIGHT = {Round.Purpose.INSPECT: "inspect", Round.Purpose.REGISTER: "fit_hoses"}
WITH_THE_REST = "ticked with the rest of the round"
MOST_AT_ONCE = 300


@transaction.atomic
def begin_round(
    *,
    machine: Machine,
    purpose: str = Round.Purpose.INSPECT,
    occasion: str = "",
    inspector: str = "",
    person: Person,
    today: dt.date,
    at: dt.datetime,
) -> Round:
    """Begin a round of a machine, or go on with the one that is open. Atomic; of two at once
    both get the same.

    With an occasion (an accident, long idleness) every hose on the machine is to be looked at
    again from today on, until a look has seen it. Refuses: machine_gone, round_open (an occasion
    while another round is open). Needs `inspect` at the site, or `fit_hoses` to register.
    """
    require(person, RIGHT[Round.Purpose(purpose)], machine.site_id)
    if machine.withdrawn_at is not None or machine.status == Machine.Status.SOLD:
        raise Refused("machine_gone", f"{machine} is sold or withdrawn: there is no round of it.")
    begun = Round(
        **{"machine": machine, "site": machine.site, "purpose": purpose},
        **{"occasion": occasion.strip()[:120], "inspector_name": inspector.strip()[:120]},
        **{"begun_at": at, "begun_by": person},
    )
    try:
        with transaction.atomic():
            begun.save(force_insert=True)
    except IntegrityError:
        return _open_one(machine, purpose, begun.occasion)
    if begun.occasion:
        _ask_again(begun, person, today, at)
    after = {"purpose": begun.get_purpose_display(), "occasion": begun.occasion}
    audit.record(audit.Deed("began a round", begun, begun.site, {}, after), actor=person, at=at)
    return begun


@transaction.atomic
def look_in_round(
    *,
    round_: Round,
    assembly: Assembly,
    look: Look,
    found: Sequence[Found] = (),
    photos: Sequence["UploadedFile[Any]"] = (),
    person: Person,
    today: dt.date,
    at: dt.datetime,
) -> Inspection:
    """Record one hose's answer in a round, with photos. Atomic; told twice, recorded once.

    A round that was finished meanwhile still takes what was told in it. Refuses what
    `record_inspection` and `keep_photo` refuse, and not_of_this_round.
    """
    told = told_look(person, look.client_id)
    if told is not None:
        return told
    stay = _stay_in(round_, assembly)
    whole = Look(
        on=look.on,
        not_seen=look.not_seen,
        machine_h=_hours_on(stay, look.on),
        occasion=f"after {round_.occasion}" if round_.occasion else "",
        note=look.note,
        inspector=round_.inspector_name,
        client_id=look.client_id,
        round=round_,
    )
    made = record_inspection(
        assembly=assembly, look=whole, found=found, person=person, today=today, at=at
    )
    add_photos(inspection=made, photos=photos, client_id=look.client_id, person=person, at=at)
    return made


@transaction.atomic
def look_at_the_rest(
    *,
    round_: Round,
    assembly_ids: Iterable[int],
    look: Look,
    person: Person,
    today: dt.date,
    at: dt.datetime,
) -> int:
    """Nothing found on each hose named, all looked at by the person. Atomic, safe to repeat.

    Those that were answered meanwhile are left as they are; returns how many were recorded.
    Refuses: too_many, and what `look_in_round` refuses.
    """
    wanted = sorted(set(assembly_ids))
    if len(wanted) > MOST_AT_ONCE:
        raise Refused("too_many", f"At most {MOST_AT_ONCE} hoses at once.")
    answered = set(
        Inspection.objects.filter(round=round_, taken_back_at=None)
        .exclude(client_id__startswith=f"{look.client_id}:")
        .values_list("assembly_id", flat=True)
    )
    left = [pk for pk in wanted if pk not in answered]
    for hose in Assembly.objects.filter(pk__in=left).order_by("pk"):
        one = Look(look.on, note=WITH_THE_REST, client_id=f"{look.client_id}:{hose.pk}")
        look_in_round(round_=round_, assembly=hose, look=one, person=person, today=today, at=at)
    return len(left)


@transaction.atomic
def finish_round(*, round_: Round, person: Person, at: dt.datetime) -> Round:
    """Finish a round; what was not seen is kept with it in words. Atomic, safe to repeat.

    Hoses that nobody saw stay due. Needs the right that began it.
    """
    require(person, RIGHT[Round.Purpose(round_.purpose)], round_.site_id)
    locked = Round.objects.select_for_update(of=("self",)).select_related("site").get(pk=round_.pk)
    if locked.finished_at is not None:
        return locked
    locked.left_out = list(left_out_of(locked))
    locked.finished_at, locked.finished_by = at, person
    locked.save(update_fields=["left_out", "finished_at", "finished_by"])
    after = {"left_out": locked.left_out}
    deed = audit.Deed("finished a round", locked, locked.site, {}, after)
    audit.record(deed, actor=person, at=at)
    return locked


def add_photos(
    *,
    inspection: Inspection,
    photos: Sequence["UploadedFile[Any]"],
    client_id: str,
    person: Person,
    at: dt.datetime,
) -> None:
    """Keep photos with a look. Call inside the look's transaction."""
    caption = f"{inspection.assembly}, {inspection.inspected_on}"
    kept = keep_photos(
        site=inspection.site,
        sent=photos,
        caption=caption,
        client_id=client_id,
        person=person,
        at=at,
    )
    InspectionPhoto.objects.bulk_create(
        [InspectionPhoto(inspection=inspection, photo=photo) for photo in kept]
    )


def looked_on(round_: Round, told_at: dt.datetime | None, now: dt.datetime) -> dt.date:
    """The day at the site of something told: when it was tapped, as far as that can be believed.

    A clock that runs ahead gives now; one that is behind, the day the round began.
    """
    moment = min(told_at or now, now)
    return local_day(max(moment, round_.begun_at), round_.site.time_zone)


def _open_one(machine: Machine, purpose: str, occasion: str) -> Round:
    held = Round.objects.filter(machine=machine, purpose=purpose, finished_at=None)
    found = held.select_related("site", "machine").get()
    if occasion and occasion != found.occasion:
        raise Refused(
            "round_open",
            f"A round of {machine} is open: finish it, then begin the one after {occasion}.",
            field="occasion",
        )
    return found


def _ask_again(begun: Round, person: Person, today: dt.date, at: dt.datetime) -> None:
    """After an occasion: every hose is to be looked at again, and due until it was."""
    machines = round_machines(begun.machine)
    held = Stay.objects.filter(position__machine__in=machines, is_open=True)
    Finding.objects.bulk_create(
        Finding(
            assembly_id=hose_id,
            site_id=begun.site_id,
            what=f"after {begun.occasion}"[:40],
            verdict=Finding.Verdict.RECHECK,
            found_on=today,
            by_on=today,
            source="extra inspection",
            made_by=person,
        )
        for hose_id in held.order_by("assembly_id").values_list("assembly_id", flat=True)
    )
    machines_changed([machine.pk for machine in machines], at=at)


def _stay_in(round_: Round, assembly: Assembly) -> Stay | None:
    """The hose's stay; a hose that never was on the round's machine is not of this round."""
    stays = Stay.objects.filter(assembly=assembly).select_related("position")
    here = stays.filter(position__in=places_of(round_.machine))
    if not here.exists():
        raise Refused("not_of_this_round", f"{assembly} is not on {round_.machine}.")
    return here.filter(is_open=True).first()


def _hours_on(stay: Stay | None, on: dt.date) -> Any:
    """What the position's counter showed on the day, where it was read on that day."""
    if stay is None or stay.position is None:
        return None
    usage = Usage.objects.filter(machine=stay.position.machine_id, counts=stay.position.counts)
    return usage.filter(Q(as_of_on=on)).values_list("machine_h", flat=True).first()
