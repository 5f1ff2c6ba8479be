"""Crimp recipes: how one hose, one fitting and one shell are joined."""

from django.conf import settings
from django.db import models
from django.db.models import Q

from fleet.models.abstract import RECIPE_STATES, Revision, revision_constraints
from fleet.models.fields import ScaledField

from .catalogue import FittingItem, HoseItem, ShellItem


class CrimpRecipe(models.Model):
    """The header: which three parts are joined. One recipe for each three."""

    hose = models.ForeignKey(HoseItem, models.PROTECT, related_name="recipes")
    fitting = models.ForeignKey(FittingItem, models.PROTECT, related_name="recipes")
    shell = models.ForeignKey(
        ShellItem, models.PROTECT, null=True, blank=True, related_name="recipes"
    )

    class Meta:
        constraints = [
            # Two rules, because SQLite holds two missing shells for different ones.
            models.UniqueConstraint(
                fields=["hose", "fitting", "shell"],
                condition=Q(shell__isnull=False),
                name="one_recipe_a_joint",
            ),
            models.UniqueConstraint(
                fields=["hose", "fitting"],
                condition=Q(shell__isnull=True),
                name="one_recipe_a_joint_without_shell",
            ),
        ]

    def __str__(self) -> str:
        shell = f" in {self.shell}" if self.shell else ""
        return f"{self.hose} on {self.fitting}{shell}"


class RecipeRevision(Revision):
    """How the joint is crimped. The crimp OD is what counts; a dial setting is only a note."""

    class Basis(models.TextChoices):
        PUBLISHED = "published", "published (the maker's chart names both)"
        TRIAL = "trial", "trial (crimped down to tail collapse)"

    class Skive(models.TextChoices):
        LENGTH = "length", "skive to a length"
        NONE = "none", "no skive"
        UNKNOWN = "unknown", "skive unknown"

    header = models.ForeignKey(CrimpRecipe, models.PROTECT, related_name="revisions")
    basis = models.CharField(max_length=10, choices=Basis)
    chart_source = models.CharField(max_length=300, blank=True)
    insertion_depth_mm = ScaledField(places=2, null=True, blank=True, high=500)
    external_skive = models.CharField(max_length=8, choices=Skive, default=Skive.UNKNOWN)
    external_skive_mm = ScaledField(places=2, null=True, blank=True, high=500)
    internal_skive = models.CharField(max_length=8, choices=Skive, default=Skive.NONE)
    internal_skive_mm = ScaledField(places=2, null=True, blank=True, high=500)
    die_set = models.CharField(max_length=40, blank=True)
    crimp_od_mm = ScaledField(places=2, null=True, blank=True, high=500)
    tolerance_plus_mm = ScaledField(places=2, default="0.10", high=5)
    tolerance_minus_mm = ScaledField(places=2, default="0.10", high=5)
    ovality_max_mm = ScaledField(places=2, default="0.20", high=5)
    pin_mm = ScaledField(places=2, null=True, blank=True, high=500)
    pin_from = models.CharField(max_length=80, blank=True)
    must_pass_pin_mm = ScaledField(places=2, null=True, blank=True, high=500)
    closing_allowed = models.BooleanField(default=True)
    working_pressure_bar = ScaledField(places=2, null=True, blank=True, high=5000)
    temperature_high_c = models.SmallIntegerField(null=True, blank=True)
    rated_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+"
    )
    note = models.CharField(max_length=500, blank=True)

    class Meta:
        constraints = [
            *revision_constraints("recipe_revision", RECIPE_STATES),
            models.CheckConstraint(
                condition=~Q(basis="published") | ~Q(chart_source=""),
                name="published_names_its_chart",
            ),
            models.CheckConstraint(
                condition=~Q(state="approved") | Q(crimp_od_mm__gt=0),
                name="approved_recipe_has_an_od",
            ),
            models.CheckConstraint(
                condition=~Q(state="approved")
                | ~Q(basis="trial")
                | Q(working_pressure_bar__gt=0, rated_by__isnull=False),
                name="approved_trial_recipe_is_rated",
            ),
            models.CheckConstraint(
                condition=~Q(external_skive="length") | Q(external_skive_mm__gt=0),
                name="external_skive_has_its_length",
            ),
            models.CheckConstraint(
                condition=~Q(internal_skive="length") | Q(internal_skive_mm__gt=0),
                name="internal_skive_has_its_length",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.header} rev {self.number}"
