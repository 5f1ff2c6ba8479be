"""The catalogue: hose, fitting and shell items. Shared by all sites, revised, never edited."""

from django.db import models
from django.db.models import Q

from fleet.models.abstract import REVISION_STATES, Revision, Withdrawable, revision_constraints
from fleet.models.fields import ScaledField, TextKeyField


class Item(Withdrawable):
    """What every item's header has: the workshop's code."""

    code = models.CharField(max_length=40)
    code_key = TextKeyField(source="code", unique=True)

    class Meta:
        abstract = True
        ordering = ["code_key"]

    def __str__(self) -> str:
        return self.code


class HoseItem(Item):
    """Bulk hose of one maker and product."""


class HoseRevision(Revision):
    """What the maker says of the hose. Ratings in bar and psi stand as printed."""

    class Reinforcement(models.TextChoices):
        WIRE_BRAID = "wire_braid", "wire braid"
        WIRE_SPIRAL = "wire_spiral", "wire spiral"
        TEXTILE_BRAID = "textile_braid", "textile braid"
        HELIX_SUCTION = "helix_suction", "suction helix"
        OTHER = "other", "other"

    header = models.ForeignKey(HoseItem, models.PROTECT, related_name="revisions")
    maker = models.CharField(max_length=80)
    product = models.CharField(max_length=80)
    standard_type = models.CharField(max_length=20, blank=True)
    rating_source = models.CharField(max_length=300)
    size_dn = models.PositiveSmallIntegerField()
    working_pressure_bar = ScaledField(places=2, high=5000)
    printed_pressure = models.CharField(max_length=60, blank=True)
    temperature_low_c = models.SmallIntegerField(null=True, blank=True)
    temperature_high_c = models.SmallIntegerField(null=True, blank=True)
    bend_radius_mm = ScaledField(places=1, null=True, blank=True, high=10000)
    tube_material = models.CharField(max_length=80, blank=True)
    fluids = models.CharField(max_length=200, blank=True)
    reinforcement = models.CharField(
        max_length=16, choices=Reinforcement, default=Reinforcement.WIRE_BRAID
    )
    layers = models.PositiveSmallIntegerField(default=1)
    bore_mm = ScaledField(places=2, null=True, blank=True, high=500)
    outside_diameter_mm = ScaledField(places=2, null=True, blank=True, high=500)
    reinforcement_diameter_mm = ScaledField(places=2, null=True, blank=True, high=500)
    wall_mm = ScaledField(places=2, null=True, blank=True, high=100)
    note = models.CharField(max_length=500, blank=True)

    class Meta:
        constraints = [
            *revision_constraints("hose_revision", REVISION_STATES),
            models.CheckConstraint(
                condition=Q(working_pressure_bar__gt=0), name="hose_pressure_above_zero"
            ),
            models.CheckConstraint(condition=Q(layers__gte=1), name="hose_has_a_layer"),
        ]

    def __str__(self) -> str:
        return f"{self.header} rev {self.number}"


class FittingItem(Item):
    """A hose end: an insert, or a one-piece fitting."""


class FittingRevision(Revision):
    """What the maker says of the fitting: connection, form, tail, allowance, rating."""

    class Form(models.TextChoices):
        STRAIGHT = "straight", "straight"
        ELBOW_45 = "elbow_45", "45° elbow"
        ELBOW_90 = "elbow_90", "90° elbow"
        BANJO = "banjo", "banjo"
        BLOCK = "block", "block"

    class Turns(models.TextChoices):
        FIXED = "fixed", "does not turn"
        SWIVEL_NUT = "swivel_nut", "swivel nut (turns about the port)"
        LIVE_SWIVEL = "live_swivel", "live swivel (turns about the hose)"
        CAPTIVE_FLANGE = "captive_flange", "captive flange"
        SPLIT_FLANGE = "split_flange", "split flange halves"

    header = models.ForeignKey(FittingItem, models.PROTECT, related_name="revisions")
    maker = models.CharField(max_length=80)
    product = models.CharField(max_length=80)
    one_piece = models.BooleanField(default=False)
    connection = models.CharField(max_length=80)
    connection_standard = models.CharField(max_length=60, blank=True)
    connection_size = models.CharField(max_length=40)
    form = models.CharField(max_length=12, choices=Form, default=Form.STRAIGHT)
    turns = models.CharField(max_length=16, choices=Turns, default=Turns.SWIVEL_NUT)
    tail_dn = models.PositiveSmallIntegerField()
    tail_od_mm = ScaledField(places=2, null=True, blank=True, high=500)
    tail_bore_mm = ScaledField(places=2, null=True, blank=True, high=500)
    nose_bore_mm = ScaledField(places=2, null=True, blank=True, high=500)
    allowance_mm = ScaledField(places=1, null=True, blank=True, high=1000)
    allowance_counts_from = models.CharField(max_length=80, blank=True)
    drop_mm = ScaledField(places=1, null=True, blank=True, high=1000)
    working_pressure_bar = ScaledField(places=2, null=True, blank=True, high=5000)
    printed_pressure = models.CharField(max_length=60, blank=True)
    rating_source = models.CharField(max_length=300, blank=True)
    torque_nm = ScaledField(places=1, null=True, blank=True, high=10000)
    torque_source = models.CharField(max_length=200, blank=True)
    small_parts = models.CharField(max_length=300, blank=True)
    note = models.CharField(max_length=500, blank=True)

    class Meta:
        constraints = [
            *revision_constraints("fitting_revision", REVISION_STATES),
            models.CheckConstraint(
                condition=Q(working_pressure_bar__isnull=True) | Q(working_pressure_bar__gt=0),
                name="fitting_pressure_above_zero",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.header} rev {self.number}"


class ShellItem(Item):
    """A loose ferrule, or the shell of a one-piece fitting."""


class ShellRevision(Revision):
    """What the maker says of the shell, before crimping."""

    header = models.ForeignKey(ShellItem, models.PROTECT, related_name="revisions")
    maker = models.CharField(max_length=80)
    product = models.CharField(max_length=80)
    tail_dn = models.PositiveSmallIntegerField()
    layers_made_for = models.PositiveSmallIntegerField()
    outside_diameter_mm = ScaledField(places=2, null=True, blank=True, high=500)
    inside_diameter_mm = ScaledField(places=2, null=True, blank=True, high=500)
    length_mm = ScaledField(places=1, null=True, blank=True, high=1000)
    internal_depth_mm = ScaledField(places=1, null=True, blank=True, high=1000)
    note = models.CharField(max_length=500, blank=True)

    class Meta:
        constraints = [
            *revision_constraints("shell_revision", REVISION_STATES),
            models.CheckConstraint(
                condition=Q(outside_diameter_mm__isnull=True)
                | Q(inside_diameter_mm__isnull=True)
                | Q(outside_diameter_mm__gt=models.F("inside_diameter_mm")),
                name="shell_outside_above_inside",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.header} rev {self.number}"
