"""The trail: who did what, when, from which value to which. Append only."""

from django.conf import settings
from django.db import models

from .seals import Seal
from .sites import Site


class TrailEntry(models.Model):
    """One change to a register, rule, recipe, record or plan. Written with it, never after."""

    at = models.DateTimeField()
    actor = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, related_name="+")
    actor_label = models.CharField(max_length=120)
    site = models.ForeignKey(Site, models.PROTECT, null=True, related_name="+")
    deed = models.CharField(max_length=60)
    subject_type = models.CharField(max_length=60)
    subject_id = models.CharField(max_length=40)
    subject_label = models.CharField(max_length=200)
    before = models.JSONField(default=dict)
    after = models.JSONField(default=dict)
    reason = models.CharField(max_length=500, blank=True)
    request_id = models.CharField(max_length=40, blank=True)

    seal = Seal()

    class Meta:
        ordering = ["id"]
        indexes = [
            models.Index(fields=["subject_type", "subject_id", "id"], name="trail_by_subject"),
        ]

    def __str__(self) -> str:
        return f"{self.actor_label}: {self.deed} {self.subject_label}"


class PaperCounter(models.Model):
    """The last number given to a kind of paper at a site. Gaps are allowed, repeats are not."""

    site = models.ForeignKey(Site, models.PROTECT, related_name="+")
    kind = models.CharField(max_length=20)
    last_number = models.PositiveBigIntegerField(default=0)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["site", "kind"], name="one_counter_a_site_and_kind")
        ]

    def __str__(self) -> str:
        return f"{self.site} {self.kind}: {self.last_number}"
