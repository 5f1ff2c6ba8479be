"""API keys, and what was sent with them once."""

from django.conf import settings
from django.db import models
from django.db.models import F, Q

from .fields import DayField
from .seals import Seal
from .sites import Site


class ApiKey(models.Model):
    """A key by which a program acts as its owner, at the owner's sites or one of them.

    Only the SHA-256 of the secret is kept; the key itself is shown once, when it is made.
    """

    prefix = models.CharField(max_length=8, unique=True)
    secret_digest = models.CharField(max_length=64)
    name = models.CharField(max_length=80)
    owner = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="api_keys")
    site = models.ForeignKey(Site, models.PROTECT, null=True, blank=True, related_name="api_keys")
    may_write = models.BooleanField(default=False)
    made_at = models.DateTimeField()
    made_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+"
    )
    expires_at = models.DateTimeField()
    last_used_on = DayField(null=True, blank=True)
    revoked_at = models.DateTimeField(null=True, blank=True)
    revoked_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+"
    )

    seal = Seal(may_change=frozenset({"last_used_on", "revoked_at", "revoked_by_id"}))

    class Meta:
        ordering = ["-id"]
        constraints = [
            models.CheckConstraint(condition=~Q(name=""), name="api_key_has_a_name"),
            models.CheckConstraint(
                condition=Q(expires_at__gt=F("made_at")), name="api_key_expires_after_it_is_made"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.name} ({self.prefix})"


class Sending(models.Model):
    """Something a client sent under an id of its own choice, so that it is done once.

    The first content under an id is done; the same content again is answered alike; another
    content under the same id is refused and kept here for a person to look at.
    """

    person = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    purpose = models.CharField(max_length=40)
    client_id = models.CharField(max_length=80)
    digest = models.CharField(max_length=64)
    content = models.JSONField()
    is_first = models.BooleanField(default=True)
    result_id = models.BigIntegerField(null=True, blank=True)
    sent_at = models.DateTimeField()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["person", "purpose", "client_id"],
                condition=Q(is_first=True),
                name="sending_done_once",
            ),
            models.UniqueConstraint(
                fields=["person", "purpose", "client_id", "digest"],
                name="sending_kept_once",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.purpose} {self.client_id}"
