"""The workshop's own tools: crimpers and measuring instruments."""

from django.db import models
from django.db.models import F, Q

from fleet.models import Site, SiteScopedQuerySet
from fleet.models.abstract import Withdrawable
from fleet.models.fields import DayField, TextKeyField


class Tool(Withdrawable):
    """What crimpers and instruments share: a site, a code, a calibration."""

    site = models.ForeignKey(Site, models.PROTECT, related_name="%(class)ss")
    code = models.CharField(max_length=40)
    code_key = TextKeyField(source="code")
    description = models.CharField(max_length=120, blank=True)
    calibrated_on = DayField(null=True, blank=True)
    calibration_due_on = DayField(null=True, blank=True)

    objects = models.Manager.from_queryset(SiteScopedQuerySet)()

    class Meta:
        abstract = True
        ordering = ["code_key"]
        constraints = [
            models.UniqueConstraint(fields=["site", "code_key"], name="%(class)s_code_once"),
            models.CheckConstraint(
                condition=Q(calibrated_on__isnull=True)
                | Q(calibration_due_on__isnull=True)
                | Q(calibration_due_on__gt=F("calibrated_on")),
                name="%(class)s_calibration_in_order",
            ),
        ]

    def __str__(self) -> str:
        return self.code


class Crimper(Tool):
    """A crimping machine. Its dial's difference is learnt from its own presses."""


class Instrument(Tool):
    """A gauge, micrometer, caliper or pin set."""
