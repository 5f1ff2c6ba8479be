"""Old hoses copied: what was measured, as it was written down, and the spec that came of it."""

from django.conf import settings
from django.db import models
from django.db.models import Q

from fleet.models import Photo, Site, SiteScopedQuerySet
from fleet.models.abstract import Withdrawable
from fleet.models.seals import Seal

from .assemblies import Assembly
from .specs import Position, SpecRevision


class SpecCopy(Withdrawable):
    """An old hose as it was measured, by whom; `spec` is empty until items were chosen for it.

    `measured` is never changed: what was typed, word for word, beside what it was read as.
    """

    spec = models.OneToOneField(
        SpecRevision, models.PROTECT, null=True, blank=True, related_name="copied_from"
    )
    site = models.ForeignKey(Site, models.PROTECT, related_name="+")
    assembly = models.ForeignKey(
        Assembly, models.PROTECT, null=True, blank=True, related_name="copies"
    )
    position = models.ForeignKey(
        Position, models.PROTECT, null=True, blank=True, related_name="copies"
    )
    title = models.CharField(max_length=160)
    measured = models.JSONField(default=dict)
    measured_at = models.DateTimeField()
    measured_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    client_id = models.CharField(max_length=40, blank=True)

    objects = models.Manager.from_queryset(SiteScopedQuerySet)()
    seal = Seal(
        may_change=frozenset({"spec_id", "withdrawn_at", "withdrawn_by_id", "withdrawal_reason"})
    )

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["measured_by", "client_id"],
                condition=~Q(client_id=""),
                name="old_hose_measured_once",
            ),
            models.CheckConstraint(
                condition=Q(spec__isnull=True) | Q(withdrawn_at__isnull=True),
                name="copy_is_made_or_set_aside",
            ),
        ]
        indexes = [
            models.Index(
                fields=["site", "id"],
                condition=Q(spec__isnull=True, withdrawn_at__isnull=True),
                name="copy_waiting",
            )
        ]

    def __str__(self) -> str:
        return self.title


class CopyPhoto(models.Model):
    """A photo of an old hose that was measured."""

    copy = models.ForeignKey(SpecCopy, models.PROTECT, related_name="photos")
    photo = models.ForeignKey(Photo, models.PROTECT, related_name="+")

    seal = Seal()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["copy", "photo"], name="copy_photo_once"),
        ]

    def __str__(self) -> str:
        return f"{self.photo} of {self.copy}"
