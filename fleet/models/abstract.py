"""What several tables share: withdrawal instead of deletion, and revisions."""

from typing import Any

from django.conf import settings
from django.db import models
from django.db.models import Q

from .seals import Seal


class Withdrawable(models.Model):
    """A row that is never deleted: it is withdrawn, by someone, for a reason."""

    withdrawn_at = models.DateTimeField(null=True, blank=True, editable=False)
    withdrawn_by = models.ForeignKey(
        settings.AUTH_USER_MODEL,
        models.PROTECT,
        null=True,
        blank=True,
        related_name="+",
        editable=False,
    )
    withdrawal_reason = models.CharField(max_length=500, blank=True, editable=False)

    class Meta:
        abstract = True

    @property
    def is_current(self) -> bool:
        return self.withdrawn_at is None


class Revision(Withdrawable):
    """One numbered state of a header. Once it leaves *draft* its content is sealed.

    A concrete revision has a foreign key `header`; use `revision_constraints` in its Meta.
    """

    class State(models.TextChoices):
        DRAFT = "draft", "draft"
        PROVISIONAL = "provisional", "provisional"
        APPROVED = "approved", "approved"
        REPLACED = "replaced", "replaced"
        WITHDRAWN = "withdrawn", "withdrawn"

    number = models.PositiveIntegerField(default=1)
    state = models.CharField(max_length=12, choices=State, default=State.DRAFT)
    made_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, related_name="+"
    )
    made_at = models.DateTimeField()
    approved_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+"
    )
    approved_at = models.DateTimeField(null=True, blank=True)
    change_note = models.CharField(max_length=500, blank=True)

    seal = Seal(
        when="OLD.state <> 'draft'",
        may_change=frozenset(
            {"state", "approved_by_id", "approved_at"}
            | {"withdrawn_at", "withdrawn_by_id", "withdrawal_reason"}
        ),
    )

    class Meta:
        abstract = True


def revision_constraints(name: str, states: list[str]) -> list[Any]:
    """The rules of every revision table: numbers run once, one approved at a time."""
    return [
        models.UniqueConstraint(fields=["header", "number"], name=f"{name}_number_once"),
        models.UniqueConstraint(
            fields=["header"], condition=Q(state="approved"), name=f"{name}_one_approved"
        ),
        models.CheckConstraint(condition=Q(state__in=states), name=f"{name}_state_known"),
        models.CheckConstraint(
            condition=~Q(state="approved")
            | Q(approved_by__isnull=False, approved_at__isnull=False),
            name=f"{name}_approval_signed",
        ),
    ]


REVISION_STATES = ["draft", "approved", "replaced", "withdrawn"]
RECIPE_STATES = ["draft", "provisional", "approved", "replaced", "withdrawn"]
