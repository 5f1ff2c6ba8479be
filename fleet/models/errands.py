"""Errands: long work done outside the request. This table is the queue; a broker only nudges."""

from django.conf import settings
from django.db import models
from django.db.models import F, Q


class Errand(models.Model):
    """One piece of long work: who asked, how far it is, how it ended. Written by actions only.

    It is *waiting* until it is done or given up; while a worker has it, the lease is in the future.
    """

    class State(models.TextChoices):
        WAITING = "waiting", "waiting"
        DONE = "done", "done"
        FAILED = "failed", "failed"

    kind = models.CharField(max_length=40)
    # Of errands with one key only one waits to begin; one that has begun doesn't count, because
    # what was asked since then may not be in it.
    key = models.CharField(max_length=120, blank=True)
    # A run of the calendar ("2026-11-25"): never made twice, whoever sweeps.
    period = models.CharField(max_length=40, blank=True)
    payload = models.JSONField(default=dict)
    person = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, related_name="errands"
    )
    state = models.CharField(max_length=8, choices=State, default=State.WAITING)
    attempts = models.PositiveSmallIntegerField(default=0)
    most_attempts = models.PositiveSmallIntegerField(default=3)
    asked_at = models.DateTimeField()
    not_before_at = models.DateTimeField()
    began_at = models.DateTimeField(null=True)
    ended_at = models.DateTimeField(null=True)
    lease_until_at = models.DateTimeField(null=True)
    lease_token = models.CharField(max_length=32, blank=True)
    progress_done = models.PositiveIntegerField(default=0)
    progress_total = models.PositiveIntegerField(default=0)
    result = models.JSONField(default=dict)
    error = models.TextField(blank=True)

    class Meta:
        indexes = [
            models.Index(
                fields=["not_before_at", "id"],
                condition=Q(state="waiting"),
                name="errands_waiting",
            ),
            models.Index(fields=["person", "-id"], name="errands_of_a_person"),
        ]
        constraints = [
            models.UniqueConstraint(
                fields=["kind", "key"],
                condition=Q(state="waiting", began_at__isnull=True) & ~Q(key=""),
                name="errand_asked_once",
            ),
            models.UniqueConstraint(
                fields=["kind", "period"], condition=~Q(period=""), name="errand_once_a_period"
            ),
            models.CheckConstraint(
                condition=Q(state="waiting", ended_at__isnull=True)
                | Q(state__in=["done", "failed"], ended_at__isnull=False),
                name="errand_ends_when_it_is_over",
            ),
            models.CheckConstraint(
                condition=Q(attempts__lte=F("most_attempts")), name="errand_attempts_bounded"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.kind} {self.pk}"


class SweepRun(models.Model):
    """When each sweep last ran, and who runs it now. One row a sweep."""

    name = models.CharField(max_length=60, unique=True)
    lease_until_at = models.DateTimeField(null=True)
    lease_token = models.CharField(max_length=32, blank=True)
    last_ended_at = models.DateTimeField(null=True)
    last_error = models.TextField(blank=True)

    def __str__(self) -> str:
        return self.name
