"""Keeping the inspections that an imported register tells of."""

import datetime as dt
from collections.abc import Sequence

from django.db.models import Max

from assemblies.actions.register.inspection_book import Looked, keep_inspections_in
from fleet.models import Person, Site, TrailEntry
from fleet.models.batches import insert_rows, moment_value, reserve_ids
from fleet.models.fields import EPOCH
from scheduling.models import Inspection

OCCASION = "from a register"
_INSPECTION = (
    *("id", "assembly_id", "position_id", "site_id", "inspected_on", "occasion"),
    *("inspected_by_id", "recorded_at"),
)
_TRAIL = (
    *("at", "actor_id", "actor_label", "site_id", "deed", "subject_type", "subject_id"),
    *("subject_label", "before", "after"),
)


class RegisterInspections:
    """The book that an import asks and writes to. A register names no inspector."""

    def last_days(self, assembly_ids: Sequence[int]) -> dict[int, dt.date]:
        """The last day each hose was looked at."""
        seen = Inspection.objects.filter(
            assembly__in=assembly_ids, not_seen=False, taken_back_at=None
        )
        last = seen.order_by().values("assembly_id").annotate(last=Max("inspected_on"))
        return {row["assembly_id"]: row["last"] for row in last}

    def record(
        self, looked: Sequence[Looked], *, site: Site, person: Person | None, at: dt.datetime
    ) -> None:
        """Record the looks in bulk, with the trail. Call inside the transaction of the import."""
        ids = reserve_ids(Inspection, len(looked))
        moment = moment_value(Inspection, at)
        who = (person.pk, str(person)) if person else (None, "Layline itself")
        insert_rows(
            Inspection,
            _INSPECTION,
            (
                (
                    *(pk, look.assembly_id, look.position_id, site.pk, _day(look.on)),
                    *(OCCASION, None, moment),
                )
                for pk, look in zip(ids, looked, strict=True)
            ),
        )
        deed = ("recorded an inspection", Inspection._meta.label_lower)
        insert_rows(
            TrailEntry,
            _TRAIL,
            (
                (
                    *(moment, *who, site.pk, *deed, str(pk), f"hose no. {look.assembly_id}", "{}"),
                    f'{{"inspected_on": "{look.on}", "occasion": "{OCCASION}"}}',
                )
                for pk, look in zip(ids, looked, strict=True)
            ),
        )


def _day(on: dt.date) -> int:
    return (on - EPOCH).days


def keep_them() -> None:
    """Make this the keeper of inspections; called once when the app starts."""
    keep_inspections_in(RegisterInspections())
