"""The catch-up plan of a fleet that was never registered: which hose to change in which week."""

from django.conf import settings
from django.db import models
from django.db.models import Q

from assemblies.models import Assembly
from fleet.models import Site, SiteScopedQuerySet
from fleet.models.fields import DayField
from fleet.models.seals import Seal


class CatchUpPlan(models.Model):
    """One levelled plan of a site. The true due dates stay as they are beside it."""

    site = models.ForeignKey(Site, models.PROTECT, related_name="catch_up_plans")
    from_on = DayField()
    weeks = models.PositiveSmallIntegerField()
    a_week = models.PositiveSmallIntegerField()
    made_at = models.DateTimeField()
    made_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    ended_at = models.DateTimeField(null=True, blank=True)
    ended_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+"
    )

    objects = models.Manager.from_queryset(SiteScopedQuerySet)()
    seal = Seal(may_change=frozenset({"ended_at", "ended_by_id"}))

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["site"], condition=Q(ended_at__isnull=True), name="one_catch_up_a_site"
            ),
            models.CheckConstraint(
                condition=Q(weeks__gt=0, a_week__gt=0), name="catch_up_has_weeks"
            ),
        ]

    def __str__(self) -> str:
        return f"catch-up of {self.site} over {self.weeks} weeks"


class CatchUpLine(models.Model):
    """One hose of a plan, the week it is put in, and why that early."""

    plan = models.ForeignKey(CatchUpPlan, models.PROTECT, related_name="lines")
    assembly = models.ForeignKey(Assembly, models.PROTECT, related_name="catch_up_lines")
    week_on = DayField()
    rank = models.PositiveIntegerField()
    why = models.CharField(max_length=200)

    seal = Seal()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["plan", "assembly"], name="hose_once_in_a_catch_up"),
        ]
        indexes = [models.Index(fields=["plan", "week_on", "rank"], name="catch_up_by_week")]

    def __str__(self) -> str:
        return f"{self.assembly} in the week of {self.week_on}"
