"""Hoses go where their machine goes."""

from collections.abc import Sequence

from django.db import IntegrityError, transaction
from django.db.models import F, OuterRef, Subquery

from assemblies.models import Assembly, Stay
from fleet.actions.refusals import Refused


@transaction.atomic
def follow_machines(*, machine_ids: Sequence[int]) -> int:
    """Give the hoses of machines that changed site their machine's site. Atomic, repeatable.

    Returns how many were moved. Refuses: mark_taken, where an owner's mark stands at the new
    site already. The machine's move carries the trail entry.
    """
    sitting = Stay.objects.filter(is_open=True, position__machine__in=machine_ids)
    strayed = sitting.exclude(assembly__site=F("position__machine__site"))
    ids = list(strayed.values_list("assembly_id", flat=True))
    new_site = Stay.objects.filter(assembly=OuterRef("pk"), is_open=True).values(
        "position__machine__site_id"
    )
    try:
        with transaction.atomic():
            return Assembly.objects.filter(pk__in=ids).update(site_id=Subquery(new_site))
    except IntegrityError as error:
        raise Refused(
            "mark_taken",
            "The new site has a hose with the same mark as one on this machine: "
            "give one of them another mark first.",
        ) from error
