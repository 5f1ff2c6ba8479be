"""Leave to pass a limit until a day: granted with a reason, ended when no longer needed."""

import datetime as dt
from collections.abc import Mapping, Sequence
from typing import Any

from django.db import transaction

from assemblies.models import Stay
from fleet import audit
from fleet.actions.refusals import Refused
from fleet.models import Person
from fleet.permissions import require
from scheduling.actions.nudges import hoses_changed, scope_changed
from scheduling.calc.exemptions import NEVER_PUT_OFF
from scheduling.calc.inputs import Trigger
from scheduling.models import Exemption
from scheduling.models.rules import Scope

NAMES = tuple(trigger.name.lower() for trigger in Trigger if trigger not in NEVER_PUT_OFF)


@transaction.atomic
def grant_exemption(
    *,
    covers: Mapping[str, Any],
    triggers: Sequence[str],
    reason: str,
    until_on: dt.date,
    today: dt.date,
    person: Person,
    at: dt.datetime,
) -> Exemption:
    """Put triggers off until a day, for an assembly, a position or a stated scope. Atomic.

    `covers` names an assembly, a position or scope columns; no trigger named means all of them. A
    finding that says take out now is never put off. Refuses: reason_missing, until_past,
    covers_nothing, trigger_unknown. Needs `approve_rules` at the site, or at every site.
    """
    granted = Exemption(
        **covers,
        triggers=sorted(set(triggers)),
        reason=reason.strip()[:500],
        granted_by=person,
        granted_on=today,
        until_on=until_on,
    )
    require(person, "approve_rules", site_of(granted))
    _check(granted)
    granted.save(force_insert=True)
    after = {"covers": {k: str(v) for k, v in covers.items()}, "until": until_on}
    deed = audit.Deed("granted an exemption", granted, granted.site, {}, after, granted.reason)
    audit.record(deed, actor=person, at=at)
    _tell(granted, at)
    return granted


@transaction.atomic
def end_exemption(*, exemption: Exemption, person: Person, at: dt.datetime) -> Exemption:
    """End an exemption before its day. Atomic. Refuses: ended_already."""
    locked = Exemption.objects.select_for_update().get(pk=exemption.pk)
    require(person, "approve_rules", site_of(locked))
    if locked.ended_at is not None:
        raise Refused("ended_already", "This exemption was ended before.")
    locked.ended_at, locked.ended_by = at, person
    locked.save(update_fields=["ended_at", "ended_by"])
    audit.record(audit.Deed("ended an exemption", locked, locked.site), actor=person, at=at)
    _tell(locked, at)
    return locked


def _check(granted: Exemption) -> None:
    if not granted.reason:
        raise Refused("reason_missing", "Say why the limit may be passed.", field="reason")
    if granted.until_on < granted.granted_on:
        raise Refused("until_past", f"{granted.until_on} is past already.", field="until_on")
    unknown = set(granted.triggers) - set(NAMES)
    if unknown:
        named = ", ".join(sorted(unknown))
        raise Refused("trigger_unknown", f"Not a trigger that can be put off: {named}.")
    if not _covers_something(granted):
        raise Refused("covers_nothing", "Say which hose, position or scope it is for.")


def _covers_something(granted: Exemption) -> bool:
    columns = [field.attname for field in Scope._meta.get_fields()]  # type: ignore[union-attr]  # all are columns
    return any(getattr(granted, name) for name in ("assembly_id", "position_id", *columns))


def site_of(granted: Exemption) -> int | None:
    """The site at which an exemption holds; None for every site."""
    if granted.assembly is not None:
        return int(granted.assembly.site_id)
    if granted.position is not None:
        return int(granted.position.machine.site_id)
    if granted.machine is not None:
        return int(granted.machine.site_id)
    return granted.site_id


def _tell(granted: Exemption, at: dt.datetime) -> None:
    if granted.assembly_id is not None:
        hoses_changed([granted.assembly_id], at=at)
    elif granted.position_id is not None:
        held = Stay.objects.filter(position=granted.position_id, is_open=True)
        hoses_changed(held.values_list("assembly_id", flat=True), at=at)
    else:
        scope_changed(granted, at=at)
