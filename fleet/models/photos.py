"""Photos: kept as they were made small, once each, beside what they show."""

from django.conf import settings
from django.db import models
from django.db.models import Q

from .seals import Seal
from .sites import Site, SiteScopedQuerySet


class Photo(models.Model):
    """One photo, drawn anew from what was sent so that nothing hidden in the file is kept.

    `client_id` is drawn where the photo is taken: sent twice, it is still one photo.
    """

    site = models.ForeignKey(Site, models.PROTECT, related_name="+")
    content = models.BinaryField()
    media_type = models.CharField(max_length=20, default="image/jpeg")
    width = models.PositiveIntegerField()
    height = models.PositiveIntegerField()
    digest = models.CharField(max_length=64)
    caption = models.CharField(max_length=200, blank=True)
    client_id = models.CharField(max_length=40, blank=True)
    kept_at = models.DateTimeField()
    kept_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, related_name="+"
    )

    objects = models.Manager.from_queryset(SiteScopedQuerySet)()
    seal = Seal()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["kept_by", "client_id"], condition=~Q(client_id=""), name="photo_sent_once"
            ),
            models.CheckConstraint(condition=Q(width__gt=0, height__gt=0), name="photo_has_a_size"),
        ]

    def __str__(self) -> str:
        return self.caption or f"photo {self.pk}"
