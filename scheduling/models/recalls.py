"""Recalls: what is suspect, and the finding it puts on every hose that came of it."""

from django.conf import settings
from django.db import models
from django.db.models import Q

from fleet.models import Site
from fleet.models.fields import DayField
from fleet.models.seals import Seal


class Recall(models.Model):
    """One recall. What was traced is kept in words and ids, for the thing itself may be renamed.

    `site` is the source's own, empty where all sites share it. `places` says how many hoses each
    site had on the day; `ended_at` closes it.
    """

    subject = models.CharField(max_length=16)
    subject_id = models.CharField(max_length=120)
    subject_label = models.CharField(max_length=200)
    site = models.ForeignKey(Site, models.PROTECT, null=True, blank=True, related_name="+")
    reason = models.CharField(max_length=500)
    verdict = models.CharField(max_length=8)
    by_on = DayField(null=True, blank=True)
    places = models.JSONField(default=dict)
    made_at = models.DateTimeField()
    made_on = DayField()
    made_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    ended_at = models.DateTimeField(null=True, blank=True)
    ended_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+"
    )

    seal = Seal(may_change=frozenset({"ended_at", "ended_by_id"}))

    class Meta:
        constraints = [
            models.CheckConstraint(condition=~Q(reason=""), name="recall_has_a_reason"),
            models.CheckConstraint(
                condition=Q(verdict__in=["recheck", "replace", "out_now"]),
                name="recall_verdict_known",
            ),
            models.CheckConstraint(
                condition=Q(verdict="out_now") | Q(by_on__isnull=False), name="recall_has_its_day"
            ),
            models.UniqueConstraint(
                fields=["subject", "subject_id"],
                condition=Q(ended_at__isnull=True),
                name="one_open_recall_a_subject",
            ),
        ]

    def __str__(self) -> str:
        return f"recall of {self.subject_label}"
