"""Making and changing positions."""

import datetime as dt
from typing import Any

from django.db import IntegrityError, transaction

from assemblies.models import Position
from assemblies.queries.obstacles import asks_too_much
from assemblies.signals import position_changed
from fleet import audit
from fleet.actions.refusals import Refused
from fleet.models import Machine, Person
from fleet.permissions import require

CHANGEABLE = (
    *("place", "place_no", "walk_order", "circuit", "counts", "consequence", "exposure"),
    *("pressure_bar", "surge_bar", "flow_l_per_min", "oil_temperature_c"),
    *("ambient_temperature_c", "fluid", "bend_radius_mm", "port_a", "port_b", "required_spec"),
    *("labour_h", "people", "lifting_needed", "access_group", "note"),
)


@transaction.atomic
def add_position(
    *,
    machine: Machine,
    facts: dict[str, Any],
    person: Person | None,
    at: dt.datetime,
    right: str = "edit_machines",
) -> Position:
    """Make a position on a machine, last in the walk unless said. Atomic.

    Refuses: place_taken, below_duty. Sends `position_changed`. Needs `edit_machines` at the site,
    or the `right` of the work in whose passing it is made.
    """
    if person is not None:
        require(person, right, machine.site_id)
    last = Position.objects.filter(machine=machine).order_by("-walk_order").first()
    order = facts.get("walk_order") or (last.walk_order + 10 if last else 10)
    position = Position(machine=machine, **{**facts, "walk_order": order})
    _refuse_weak_spec(position, facts)
    _save_once(position)
    _tell("added a position", position, {}, facts, person=person, at=at)
    return position


@transaction.atomic
def change_position(
    *, position: Position, facts: dict[str, Any], version: int, person: Person, at: dt.datetime
) -> Position:
    """Change a position's duty or place. Atomic.

    Refuses: changed_meanwhile, place_taken; below_duty where the spec it is to require bears less
    than it asks (a duty that turns out higher than the spec bears is still recorded). Sends
    `position_changed`.
    """
    locked = Position.objects.select_for_update().get(pk=position.pk)
    require(person, "edit_machines", locked.machine.site_id)
    if locked.version != version:
        raise Refused(
            "changed_meanwhile", "Someone else changed this position meanwhile: look again."
        )
    before, after = audit.changes(locked, {k: v for k, v in facts.items() if k in CHANGEABLE})
    for name, value in after.items():
        setattr(locked, name, value)
    _refuse_weak_spec(locked, after)
    locked.version += 1
    _save_once(locked)
    _tell("changed a position", locked, before, after, person=person, at=at)
    return locked


def _refuse_weak_spec(position: Position, facts: dict[str, Any]) -> None:
    spec = facts.get("required_spec")
    weak = asks_too_much(position, spec) if spec is not None else None
    if weak is not None:
        raise Refused(weak.code, weak.sentence, field="required_spec")


def _save_once(position: Position) -> None:
    try:
        with transaction.atomic():
            position.save()
    except IntegrityError as error:
        raise Refused(
            "place_taken",
            f"{position.machine} has a place “{position}” already: give it another number.",
            field="place",
        ) from error


def _tell(
    deed: str,
    position: Position,
    before: dict[str, Any],
    after: dict[str, Any],
    *,
    person: Person | None,
    at: dt.datetime,
) -> None:
    entry = audit.Deed(deed, position, position.machine.site, before, after)
    audit.record(entry, actor=person, at=at)
    position_changed.send(sender=Position, machine_ids=[position.machine_id], at=at)
