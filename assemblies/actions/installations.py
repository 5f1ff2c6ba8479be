"""Fitting, removing and moving assemblies. One open stay each: the database holds that."""

import datetime as dt
from dataclasses import dataclass
from decimal import Decimal

from django.db import IntegrityError, transaction

from assemblies.models import Assembly, BuildRecord, Position, Stay
from assemblies.queries.fitting_obstacles import fitting_obstacles
from assemblies.signals import installation_changed
from fleet import audit
from fleet.actions.refusals import Refused
from fleet.models import Person, Site
from fleet.permissions import require


@dataclass(frozen=True)
class Moment:
    """When something was done: the day at the site, the moment if known, the machine hours."""

    on: dt.date
    at: dt.datetime
    machine_h: Decimal | None = None


@transaction.atomic
def fit_assembly(
    *, assembly: Assembly, position: Position, when: Moment, person: Person | None, now: dt.datetime
) -> Stay:
    """Fit an assembly on a position. Atomic; of two at once one is refused.

    Refuses: position_taken, already_fitted, day_before_last_move, in_the_future, and what
    `fitting_obstacles` finds: not_usable, build_unsigned, unmatched_where_it_hurts,
    above_release, take_out_now. Sends `installation_changed`. Needs `fit_hoses` at the position's
    site and the assembly's.
    """
    site = position.machine.site
    locked = _locked(assembly, when, now)
    _require_both(person, locked.site_id, site)
    stay = _open_stay(locked)
    if stay is not None and stay.place == Stay.Place.POSITION:
        raise Refused("already_fitted", f"{locked} is on {_where(stay)}: take it off there first.")
    for obstacle in fitting_obstacles(locked, position, on=when.on):
        raise Refused(obstacle.code, obstacle.sentence)
    before = _where(stay) if stay else ""
    _close(stay, when, Stay.Removal.MOVED)
    new = _open(locked, site, Stay.Place.POSITION, when, person=person, now=now, position=position)
    after = {"place": _where(new), "on": when.on, "machine_h": when.machine_h}
    deed = audit.Deed("fitted", locked, site, {"place": before}, after)
    audit.record(deed, actor=person, at=now)
    _tell([locked.pk], [position.machine_id], now)
    return new


@transaction.atomic
def remove_assembly(
    *,
    assembly: Assembly,
    removal: str,
    to: str,
    when: Moment,
    person: Person | None,
    now: dt.datetime,
    note: str = "",
    store_place: str = "",
) -> Stay:
    """Take an assembly off its position, to the bench, the store or scrap. Atomic.

    Refuses: not_fitted, day_before_last_move, hours_before_fitting, in_the_future,
    place_unknown. Sends `installation_changed`.
    """
    if to not in (Stay.Place.BENCH, Stay.Place.STORE, Stay.Place.SCRAPPED):
        raise Refused("place_unknown", "Say where it goes: bench, store or scrap.", field="to")
    locked = _locked(assembly, when, now)
    _require_both(person, locked.site_id, locked.site)
    stay = _open_stay(locked)
    if stay is None or stay.position is None:
        raise Refused("not_fitted", f"{locked} is not on a machine.")
    machine_id, before = stay.position.machine_id, _where(stay)
    _count_hours(locked, stay, when)
    _close(stay, when, removal, note)
    new = _open(locked, locked.site, to, when, person=person, now=now, store_place=store_place)
    if to == Stay.Place.SCRAPPED:
        _scrap(locked, person, now, note or Stay.Removal(removal).label)
    after = {"place": _where(new), "removal": removal, "machine_h": when.machine_h}
    deed = audit.Deed("removed", locked, locked.site, {"place": before}, after, note)
    audit.record(deed, actor=person, at=now)
    _tell([locked.pk], [machine_id], now)
    return new


@transaction.atomic
def swap_assembly(
    *,
    position: Position,
    new: Assembly,
    removal: str,
    old_to: str,
    when: Moment,
    person: Person | None,
    now: dt.datetime,
    note: str = "",
) -> Stay:
    """Take off what a position holds and fit another, in one. Atomic, all or nothing.

    Refuses what `remove_assembly` and `fit_assembly` refuse, and nothing_there.
    """
    held = Stay.objects.filter(position=position, is_open=True).select_related("assembly").first()
    if held is None:
        raise Refused("nothing_there", f"{position} holds no hose: fit one instead.")
    remove_assembly(
        assembly=held.assembly,
        removal=removal,
        to=old_to,
        when=when,
        person=person,
        now=now,
        note=note,
    )
    return fit_assembly(assembly=new, position=position, when=when, person=person, now=now)


@transaction.atomic
def scrap_assembly(
    *, assembly: Assembly, when: Moment, person: Person, now: dt.datetime, reason: str
) -> Stay:
    """Scrap an assembly that is in store or on the bench. Atomic.

    Refuses: already_fitted, already_scrapped, being_built, reason_missing, day_before_last_move,
    in_the_future.
    """
    if not reason.strip():
        raise Refused("reason_missing", "Say why it is scrapped.", field="reason")
    locked = _locked(assembly, when, now)
    _require_both(person, locked.site_id, locked.site)
    stay = _open_stay(locked)
    if stay is not None and stay.place == Stay.Place.POSITION:
        raise Refused("already_fitted", f"{locked} is on {_where(stay)}: take it off there.")
    if BuildRecord.objects.filter(assembly=locked, signed_at=None).exists():
        raise Refused("being_built", f"{locked} is still being built: scrap the piece there.")
    _close(stay, when, Stay.Removal.FOUND_BAD, reason)
    new = _open(locked, locked.site, Stay.Place.SCRAPPED, when, person=person, now=now)
    _scrap(locked, person, now, reason)
    deed = audit.Deed("scrapped", locked, locked.site, {}, {"place": "scrapped"}, reason)
    audit.record(deed, actor=person, at=now)
    _tell([locked.pk], [], now)
    return new


def _locked(assembly: Assembly, when: Moment, now: dt.datetime) -> Assembly:
    if when.at > now + dt.timedelta(hours=24):
        raise Refused("in_the_future", f"{when.on} is still to come.", field="on")
    found = Assembly.objects.select_for_update().get(pk=assembly.pk)
    if found.withdrawn_at is not None:
        raise Refused(
            "already_scrapped", f"{found} is scrapped: a scrapped hose is never used again."
        )
    return found


def _require_both(person: Person | None, assembly_site_id: int, site: Site) -> None:
    if person is not None:
        require(person, "fit_hoses", site)
        require(person, "fit_hoses", assembly_site_id)


def _open_stay(assembly: Assembly) -> Stay | None:
    found: Stay | None = (
        Stay.objects.filter(assembly=assembly, is_open=True)
        .select_related("position__machine")
        .first()
    )
    return found


def _close(stay: Stay | None, when: Moment, removal: str, note: str = "") -> None:
    if stay is None:
        return
    if stay.from_earliest_on is not None and when.on < stay.from_earliest_on:
        raise Refused(
            "day_before_last_move",
            f"It came to {_where(stay)} on {stay.from_earliest_on}: {when.on} is before that.",
            field="on",
        )
    stay.is_open, stay.to_on, stay.to_at = False, when.on, when.at
    stay.removal, stay.note = removal, note or stay.note
    stay.to_machine_h = when.machine_h if stay.place == Stay.Place.POSITION else None
    stay.save()


def _count_hours(assembly: Assembly, stay: Stay, when: Moment) -> None:
    """Add the hours of the stay that ends to the assembly's earlier hours."""
    if when.machine_h is None or stay.from_machine_h is None:
        return
    run = when.machine_h - stay.from_machine_h
    if run < 0:
        raise Refused(
            "hours_before_fitting",
            f"It was fitted at {stay.from_machine_h} h: {when.machine_h} h is before that.",
            field="machine_h",
        )
    assembly.earlier_h += run
    assembly.save(update_fields=["earlier_h"])


def _open(
    assembly: Assembly,
    site: Site,
    place: str,
    when: Moment,
    *,
    person: Person | None,
    now: dt.datetime,
    position: Position | None = None,
    store_place: str = "",
) -> Stay:
    stay = Stay(
        assembly=assembly,
        site=site,
        place=place,
        position=position,
        store_place=store_place,
        from_at=when.at,
        from_earliest_on=when.on,
        from_latest_on=when.on,
        from_precision="day",
        from_machine_h=when.machine_h if position else None,
        recorded_by=person,
        recorded_at=now,
    )
    try:
        with transaction.atomic():
            stay.save(force_insert=True)
    except IntegrityError as error:
        raise Refused(
            "position_taken",
            f"{position} holds a hose already: swap it, or take that one off first.",
            field="position",
        ) from error
    if assembly.site_id != site.pk:
        assembly.site = site
        assembly.save(update_fields=["site"])
    return stay


def _scrap(assembly: Assembly, person: Person | None, now: dt.datetime, reason: str) -> None:
    assembly.condition = Assembly.Condition.SCRAP
    assembly.withdrawn_at, assembly.withdrawn_by = now, person
    assembly.withdrawal_reason = reason[:500]
    assembly.save()


def _where(stay: Stay) -> str:
    if stay.position is not None:
        return f"{stay.position.machine}, {stay.position}"
    return stay.get_place_display()


def _tell(assembly_ids: list[int], machine_ids: list[int], now: dt.datetime) -> None:
    installation_changed.send(
        sender=Stay, assembly_ids=assembly_ids, machine_ids=machine_ids, at=now
    )
