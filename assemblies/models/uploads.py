"""Registers that someone sent in, and what each of their rows would do."""

from django.conf import settings
from django.db import models
from django.db.models import Q

from fleet.models import Site, SiteScopedQuerySet


class RegisterFile(models.Model):
    """One uploaded register, from upload to confirmed. The bytes stay with it."""

    class State(models.TextChoices):
        READ = "read", "columns to be matched"
        LOOKING = "looking", "being looked through"
        LOOKED = "looked", "ready to confirm"
        WRITING = "writing", "being written"
        WRITTEN = "written", "written"
        REFUSED = "refused", "refused"
        DROPPED = "dropped", "put aside"

    site = models.ForeignKey(Site, models.PROTECT, related_name="register_files")
    name = models.CharField(max_length=200)
    content = models.BinaryField()
    digest = models.CharField(max_length=64)
    sheet = models.CharField(max_length=100, blank=True)
    header_row = models.PositiveIntegerField(null=True, blank=True)
    columns = models.JSONField(default=dict, blank=True)
    answers = models.JSONField(default=dict, blank=True)
    state = models.CharField(max_length=8, choices=State, default=State.READ)
    counts = models.JSONField(default=dict, blank=True)
    outcome_digest = models.CharField(max_length=64, blank=True)
    message = models.CharField(max_length=500, blank=True)
    sent_at = models.DateTimeField()
    sent_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, related_name="+"
    )
    written_at = models.DateTimeField(null=True, blank=True)

    objects = models.Manager.from_queryset(SiteScopedQuerySet)()

    class Meta:
        ordering = ["-id"]

    def __str__(self) -> str:
        return self.name


class RegisterRow(models.Model):
    """What one row of a register would do, shown before anything is written."""

    class Outcome(models.TextChoices):
        NEW = "new", "new"
        CHANGED = "changed", "changed"
        SAME = "same", "same"
        REFUSED = "refused", "refused"
        LEFT_OUT = "left_out", "left out"

    file = models.ForeignKey(RegisterFile, models.CASCADE, related_name="rows")
    row_number = models.PositiveIntegerField()
    outcome = models.CharField(max_length=8, choices=Outcome)
    label = models.CharField(max_length=200, blank=True)
    detail = models.JSONField(default=dict, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["file", "row_number"], name="register_row_once"),
            models.CheckConstraint(
                condition=Q(outcome__in=["new", "changed", "same", "refused", "left_out"]),
                name="register_row_outcome_known",
            ),
        ]
        indexes = [
            models.Index(fields=["file", "outcome", "row_number"], name="register_by_outcome")
        ]

    def __str__(self) -> str:
        return f"row {self.row_number}: {self.outcome}"


class ColumnMemory(models.Model):
    """How a site's columns were matched last time, and the answers given."""

    site = models.OneToOneField(Site, models.PROTECT, related_name="column_memory")
    columns = models.JSONField(default=dict, blank=True)
    answers = models.JSONField(default=dict, blank=True)

    def __str__(self) -> str:
        return f"columns of {self.site}"
