"""What the losses of a site came to in the last quarter, kept for the first page."""

from django.db import models

from fleet.models import Site, SiteScopedQuerySet
from fleet.models.fields import DayField


class LossTally(models.Model):
    """One row a site: sums over 90 days and the 90 days before, made again by a sweep.

    `sums` holds whole numbers: failures, tenths of machine hours, seconds down, minor units of
    money; `worst` the positions that failed most.
    """

    site = models.OneToOneField(Site, models.PROTECT, related_name="+")
    from_on = DayField()
    to_on = DayField()
    sums = models.JSONField(default=dict)
    worst = models.JSONField(default=list)
    made_at = models.DateTimeField()

    objects = models.Manager.from_queryset(SiteScopedQuerySet)()

    def __str__(self) -> str:
        return f"losses of {self.site} to {self.to_on}"
