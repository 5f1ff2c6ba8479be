"""Where a spec was copied from: what was measured on the machine, as it was written down."""

from django.conf import settings
from django.db import models

from fleet.models import Site, SiteScopedQuerySet
from fleet.models.seals import Seal

from .assemblies import Assembly
from .specs import Position, SpecRevision


class SpecCopy(models.Model):
    """The old hose behind a spec: which one, what was measured, by whom."""

    spec = models.OneToOneField(SpecRevision, models.PROTECT, related_name="copied_from")
    site = models.ForeignKey(Site, models.PROTECT, related_name="+")
    assembly = models.ForeignKey(
        Assembly, models.PROTECT, null=True, blank=True, related_name="copies"
    )
    position = models.ForeignKey(
        Position, models.PROTECT, null=True, blank=True, related_name="copies"
    )
    measured = models.JSONField(default=dict)
    measured_at = models.DateTimeField()
    measured_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, related_name="+"
    )

    objects = models.Manager.from_queryset(SiteScopedQuerySet)()
    seal = Seal()

    def __str__(self) -> str:
        return f"{self.spec} copied from {self.assembly or self.position or 'an old hose'}"
