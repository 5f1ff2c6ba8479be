"""Assembly specifications and the positions that require them."""

from typing import TypeVar

from django.db import models
from django.db.models import F, Q

from fleet.models import Counter, Machine, SiteScopedQuerySet
from fleet.models.abstract import REVISION_STATES, Revision, Withdrawable, revision_constraints
from fleet.models.fields import ScaledField, TextKeyField
from fleet.models.seals import Seal

from .catalogue import FittingItem, HoseItem, ShellItem


class AssemblySpec(Withdrawable):
    """The header of a specification: its code and what it is for."""

    code = models.CharField(max_length=40)
    code_key = TextKeyField(source="code", unique=True)
    title = models.CharField(max_length=160)

    class Meta:
        ordering = ["code_key"]

    def __str__(self) -> str:
        return self.code


class SpecRevision(Revision):
    """What an assembly must be."""

    class Basis(models.TextChoices):
        SEAT_TO_SEAT = "seat_to_seat", "seat to seat"
        OVERALL = "overall", "overall"
        CUT = "cut", "cut hose"

    header = models.ForeignKey(AssemblySpec, models.PROTECT, related_name="revisions")
    hose = models.ForeignKey(HoseItem, models.PROTECT, related_name="+")
    length_mm = ScaledField(places=1, high=100_000)
    length_basis = models.CharField(max_length=12, choices=Basis, default=Basis.SEAT_TO_SEAT)
    tolerance_plus_mm = ScaledField(places=1, null=True, blank=True, high=10_000)
    tolerance_minus_mm = ScaledField(places=1, null=True, blank=True, high=10_000)
    orientation_deg = models.PositiveSmallIntegerField(null=True, blank=True)
    test_pressure_bar = ScaledField(places=2, null=True, blank=True, high=10_000)
    test_hold_s = models.PositiveSmallIntegerField(null=True, blank=True)
    cleanliness = models.CharField(max_length=80, blank=True)
    note = models.TextField(max_length=2000, blank=True)

    class Meta:
        constraints = [
            *revision_constraints("spec_revision", REVISION_STATES),
            models.CheckConstraint(condition=Q(length_mm__gt=0), name="spec_length_above_zero"),
            models.CheckConstraint(
                condition=Q(orientation_deg__isnull=True) | Q(orientation_deg__lt=360),
                name="orientation_below_360",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.header} rev {self.number}"


_Row = TypeVar("_Row", bound=models.Model)
_FIXED = "(SELECT state FROM assemblies_specrevision WHERE id = {}.spec_id) <> 'draft'"
_PART_OF_A_SPEC = Seal(
    when=_FIXED.format("OLD"), delete_when=_FIXED.format("OLD"), insert_when=_FIXED.format("NEW")
)


class SpecEnd(models.Model):
    """One end of a specification. The recipe is named by its header (hose + fitting + shell)."""

    class Which(models.TextChoices):
        NEAR = "A", "end A (near)"
        FAR = "B", "end B (far)"

    spec = models.ForeignKey(SpecRevision, models.PROTECT, related_name="ends")
    which = models.CharField(max_length=1, choices=Which)
    fitting = models.ForeignKey(FittingItem, models.PROTECT, related_name="+")
    shell = models.ForeignKey(ShellItem, models.PROTECT, null=True, blank=True, related_name="+")

    seal = _PART_OF_A_SPEC

    class Meta:
        ordering = ["which"]
        constraints = [
            models.UniqueConstraint(fields=["spec", "which"], name="spec_end_once"),
            models.CheckConstraint(condition=Q(which__in=["A", "B"]), name="spec_end_known"),
        ]

    def __str__(self) -> str:
        return f"{self.spec} end {self.which}"


class SpecSleeve(models.Model):
    """A sleeve, guard or spring over the hose, measured from end A."""

    spec = models.ForeignKey(SpecRevision, models.PROTECT, related_name="sleeves")
    number = models.PositiveSmallIntegerField()
    kind = models.CharField(max_length=80)
    from_mm = ScaledField(places=1, default=0, high=100_000)
    to_mm = ScaledField(places=1, null=True, blank=True, high=100_000)

    seal = _PART_OF_A_SPEC

    class Meta:
        ordering = ["number"]
        constraints = [
            models.UniqueConstraint(fields=["spec", "number"], name="sleeve_number_once"),
            models.CheckConstraint(
                condition=Q(to_mm__isnull=True) | Q(to_mm__gt=F("from_mm")),
                name="sleeve_has_a_length",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.kind} on {self.spec}"


class PositionQuerySet(SiteScopedQuerySet[_Row]):
    site_path = "machine__site_id"


class Position(Withdrawable):
    """A place on a machine where an assembly is fitted, with its duty."""

    class Circuit(models.TextChoices):
        WORKING = "working", "working"
        TRAVEL = "travel", "travel"
        STEERING = "steering", "steering"
        BRAKES = "brakes", "brakes"
        PILOT = "pilot", "pilot"
        RETURN = "return", "return"
        SUCTION = "suction", "suction"
        CASE_DRAIN = "case_drain", "case drain"
        ATTACHMENT = "attachment", "attachment"
        OTHER = "other", "other"

    class Consequence(models.TextChoices):
        HURTS = "hurts", "hurts someone"
        STOPS = "stops", "stops the machine"
        POLLUTES = "pollutes", "pollutes"
        NUISANCE = "nuisance", "nuisance"
        UNKNOWN = "unknown", "not yet judged"

    class Exposure(models.TextChoices):
        NORMAL = "normal", "normal"
        RUBBING = "rubbing", "rubbing"
        ROCKS = "rocks", "rocks and impact"
        HEAT = "heat", "heat"
        WEATHER = "weather", "sun and weather"
        UNDERGROUND = "underground", "underground"

    machine = models.ForeignKey(Machine, models.PROTECT, related_name="positions")
    place = models.CharField(max_length=120)
    place_key = TextKeyField(source="place")
    place_no = models.PositiveSmallIntegerField(default=1)
    walk_order = models.PositiveIntegerField(default=0)
    circuit = models.CharField(max_length=12, choices=Circuit, default=Circuit.OTHER)
    counts = models.CharField(max_length=12, choices=Counter, default=Counter.ENGINE)
    consequence = models.CharField(max_length=10, choices=Consequence, default=Consequence.UNKNOWN)
    exposure = models.CharField(max_length=12, choices=Exposure, default=Exposure.NORMAL)
    pressure_bar = ScaledField(places=2, null=True, blank=True, high=5000)
    surge_bar = ScaledField(places=2, null=True, blank=True, high=5000)
    flow_l_per_min = ScaledField(places=1, null=True, blank=True, high=10_000)
    oil_temperature_c = models.SmallIntegerField(null=True, blank=True)
    ambient_temperature_c = models.SmallIntegerField(null=True, blank=True)
    fluid = models.CharField(max_length=80, blank=True)
    bend_radius_mm = ScaledField(places=1, null=True, blank=True, high=10_000)
    port_a = models.CharField(max_length=80, blank=True)
    port_b = models.CharField(max_length=80, blank=True)
    required_spec = models.ForeignKey(
        AssemblySpec, models.PROTECT, null=True, blank=True, related_name="positions"
    )
    labour_h = ScaledField(places=2, null=True, blank=True, high=1000)
    people = models.PositiveSmallIntegerField(default=1)
    lifting_needed = models.CharField(max_length=160, blank=True)
    access_group = models.CharField(max_length=40, blank=True)
    note = models.CharField(max_length=500, blank=True)
    version = models.PositiveIntegerField(default=1, editable=False)

    objects = models.Manager.from_queryset(PositionQuerySet)()

    class Meta:
        ordering = ["walk_order", "id"]
        constraints = [
            models.UniqueConstraint(
                fields=["machine", "place_key", "place_no"],
                condition=Q(withdrawn_at__isnull=True),
                name="place_once_on_a_machine",
            ),
            models.CheckConstraint(condition=~Q(place_key=""), name="position_has_a_place"),
            models.CheckConstraint(
                condition=Q(counts__in=Counter.values), name="position_counter_known"
            ),
        ]
        indexes = [models.Index(fields=["machine", "walk_order", "id"], name="position_by_walk")]

    def __str__(self) -> str:
        return self.named(self.place, self.place_no)

    @staticmethod
    def named(place: str, place_no: int) -> str:
        """A place as people say it; the second of its name on a machine has its number behind."""
        return f"{place} ({place_no})" if place_no > 1 else place
