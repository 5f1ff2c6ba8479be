"""Taking back a look that was told wrongly: it stays to be seen, and counts for nothing."""

import datetime as dt

from django.db import transaction

from fleet import audit
from fleet.actions.refusals import Refused
from fleet.models import Person
from fleet.permissions import require
from scheduling.actions.nudges import hoses_changed
from scheduling.models import Finding, Inspection

TOLD_WRONGLY = "told wrongly"


@transaction.atomic
def take_back_look(*, inspection: Inspection, person: Person, at: dt.datetime) -> Inspection:
    """Let a look count no more. Atomic; taken back twice is once.

    What it found goes with it; what asked for a look and was settled by it asks again. Refuses:
    round_finished (a later look is the correction then), not_yours. Needs `inspect` at its site.
    """
    locked = (
        Inspection.objects.select_for_update(of=("self",))
        .select_related("site", "assembly", "round")
        .get(pk=inspection.pk)
    )
    require(person, "inspect", locked.site_id)
    if locked.taken_back_at is not None:
        return locked
    _refuse(locked, person)
    locked.taken_back_at, locked.taken_back_by = at, person
    locked.save(update_fields=["taken_back_at", "taken_back_by"])
    _drop_findings(locked, person, at)
    _ask_again(locked)
    deed = audit.Deed("took back a look", locked, locked.site, {"on": locked.inspected_on}, {})
    audit.record(deed, actor=person, at=at)
    hoses_changed([locked.assembly_id], at=at)
    return locked


def _refuse(look: Inspection, person: Person) -> None:
    if look.inspected_by_id != person.pk:
        raise Refused("not_yours", f"{look.inspected_by} told this: look again instead.")
    if look.round is None or look.round.finished_at is not None:
        raise Refused(
            "round_finished", "The round is finished: what is wrong is put right by a later look."
        )


def _drop_findings(look: Inspection, person: Person, at: dt.datetime) -> None:
    found = Finding.objects.filter(inspection=look, dealt_with_at=None)
    found.update(dealt_with_at=at, dealt_with_by=person, dealt_with_how=TOLD_WRONGLY)


def _ask_again(look: Inspection) -> None:
    """Rechecks that this look settled, in the very moment it was recorded, are open again."""
    settled = Finding.objects.filter(
        assembly=look.assembly_id,
        verdict=Finding.Verdict.RECHECK,
        dealt_with_at=look.recorded_at,
        dealt_with_how__startswith="looked at again on",
    )
    settled.update(dealt_with_at=None, dealt_with_by=None, dealt_with_how="")
