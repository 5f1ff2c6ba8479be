"""Crimp trials: each press with the pin's answer, the proof test, the recipe it led to."""

from uuid import uuid4

from django.conf import settings
from django.db import models
from django.db.models import Q

from fleet.models import Site, SiteScopedQuerySet
from fleet.models.fields import ScaledField
from fleet.models.seals import Seal

from .recipes import CrimpRecipe, RecipeRevision
from .workshop import Crimper, Instrument


def own_id() -> str:
    """An id for what is told without one."""
    return str(uuid4())


class CrimpTrial(models.Model):
    """One trial: stepping a crimp down, press by press, the pin tried after each.

    What was proposed at its beginning stays with it, so that its outcome never shifts later.
    """

    recipe = models.ForeignKey(CrimpRecipe, models.PROTECT, related_name="trials")
    site = models.ForeignKey(Site, models.PROTECT, related_name="+")
    crimper = models.ForeignKey(Crimper, models.PROTECT, related_name="trials")
    die_set = models.CharField(max_length=40, blank=True)
    pin_mm = ScaledField(places=2, high=500)
    pin_from = models.CharField(max_length=80)
    tail_bore_mm = ScaledField(places=2, null=True, blank=True, high=500)
    insertion_depth_mm = ScaledField(places=2, null=True, blank=True, high=500)
    external_skive = models.CharField(
        max_length=8, choices=RecipeRevision.Skive, default=RecipeRevision.Skive.UNKNOWN
    )
    external_skive_mm = ScaledField(places=2, null=True, blank=True, high=500)
    internal_skive = models.CharField(
        max_length=8, choices=RecipeRevision.Skive, default=RecipeRevision.Skive.NONE
    )
    internal_skive_mm = ScaledField(places=2, null=True, blank=True, high=500)
    coarse_step_mm = ScaledField(places=2, default="0.50", high=1)
    first_setting_mm = ScaledField(places=2, null=True, blank=True, high=500)
    estimate_setting_mm = ScaledField(places=2, null=True, blank=True, high=500)
    begun_at = models.DateTimeField()
    begun_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    client_id = models.CharField(max_length=40, default=own_id)
    closed_at = models.DateTimeField(null=True, blank=True)
    closed_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+"
    )
    closing_client_id = models.CharField(max_length=40, blank=True)
    closing_readings = models.JSONField(default=list, blank=True)
    outcome = models.CharField(max_length=30, blank=True)
    outcome_detail = models.JSONField(default=dict, blank=True)
    note = models.CharField(max_length=500, blank=True)
    overruled_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+"
    )
    overruled_reason = models.CharField(max_length=500, blank=True)

    objects = models.Manager.from_queryset(SiteScopedQuerySet)()
    seal = Seal(when="OLD.closed_at IS NOT NULL")

    class Meta:
        constraints = [
            models.CheckConstraint(condition=Q(pin_mm__gt=0), name="trial_has_a_pin"),
            models.UniqueConstraint(
                fields=["begun_by", "client_id"],
                condition=~Q(client_id=""),
                name="trial_begun_once",
            ),
            models.CheckConstraint(
                condition=Q(overruled_by__isnull=True) | ~Q(overruled_reason=""),
                name="overruled_trial_has_a_reason",
            ),
        ]

    def __str__(self) -> str:
        return f"trial of {self.recipe}"


class TrialPress(models.Model):
    """One press of a trial. An undone press stays, marked; its number is not used again.

    `client_id` is drawn where the press is told: told twice, it is still one press.
    """

    class Pin(models.TextChoices):
        ENTERS = "enters", "pin enters"
        TIGHT = "tight", "pin tight"
        REFUSES = "refuses", "pin refuses"

    trial = models.ForeignKey(CrimpTrial, models.PROTECT, related_name="presses")
    number = models.PositiveSmallIntegerField()
    client_id = models.CharField(max_length=40, default=own_id)
    setting_mm = ScaledField(places=2, high=500)
    pin = models.CharField(max_length=8, choices=Pin)
    od_readings = models.JSONField(default=list, blank=True)
    pressed_at = models.DateTimeField()
    pressed_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+"
    )
    undone_at = models.DateTimeField(null=True, blank=True)
    undone_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+"
    )

    seal = Seal(
        may_change=frozenset({"undone_at", "undone_by_id"}),
        insert_when="(SELECT closed_at FROM assemblies_crimptrial WHERE id = NEW.trial_id)"
        " IS NOT NULL",
    )

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["trial", "number"], name="press_number_once"),
            models.UniqueConstraint(
                fields=["trial", "client_id"],
                condition=~Q(client_id=""),
                name="press_told_once",
            ),
            models.CheckConstraint(
                condition=Q(pin__in=["enters", "tight", "refuses"]), name="press_pin_known"
            ),
        ]

    def __str__(self) -> str:
        return f"press {self.number} at {self.setting_mm}"


class TrialProof(models.Model):
    """A proof test of a trial's piece. Never changed; the last one counts."""

    trial = models.ForeignKey(CrimpTrial, models.PROTECT, related_name="proofs")
    pressure_bar = ScaledField(places=2, high=10_000)
    hold_s = models.PositiveSmallIntegerField()
    passed = models.BooleanField()
    gauge = models.ForeignKey(Instrument, models.PROTECT, null=True, blank=True, related_name="+")
    tested_at = models.DateTimeField()
    tested_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")

    seal = Seal()

    class Meta:
        constraints = [
            models.CheckConstraint(condition=Q(pressure_bar__gt=0), name="proof_has_a_pressure"),
        ]

    def __str__(self) -> str:
        return f"proof test of {self.trial}"


class RecipeTrial(models.Model):
    """A trial that stands behind a recipe revision."""

    revision = models.ForeignKey(RecipeRevision, models.PROTECT, related_name="trial_links")
    trial = models.ForeignKey(CrimpTrial, models.PROTECT, related_name="recipe_links")

    seal = Seal()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["revision", "trial"], name="trial_backs_recipe_once"),
        ]

    def __str__(self) -> str:
        return f"{self.trial} behind {self.revision}"
