"""Build records: what was really done. Signed once, then sealed; amendments stand beside."""

from django.conf import settings
from django.db import models
from django.db.models import Q

from fleet.models import Site, SiteScopedQuerySet
from fleet.models.fields import DayField, ScaledField
from fleet.models.seals import Seal

from .assemblies import Assembly
from .recipes import RecipeRevision
from .specs import SpecRevision
from .stock import Reel, StockItem
from .workshop import Crimper, Instrument

_SIGNED = "(SELECT signed_at FROM assemblies_buildrecord WHERE id = {}.build_id) IS NOT NULL"


class FrozenSheet(models.Model):
    """A build sheet as printed: its content, number and checksum. Never changed."""

    site = models.ForeignKey(Site, models.PROTECT, related_name="sheets")
    number = models.PositiveBigIntegerField()
    spec = models.ForeignKey(SpecRevision, models.PROTECT, related_name="sheets")
    content = models.JSONField()
    checksum = models.CharField(max_length=64)
    issued_at = models.DateTimeField()
    issued_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, related_name="+"
    )

    objects = models.Manager.from_queryset(SiteScopedQuerySet)()
    seal = Seal()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["site", "number"], name="sheet_number_once")]

    def __str__(self) -> str:
        return f"sheet {self.number}"


class BuildRecord(models.Model):
    """The build of one assembly."""

    assembly = models.OneToOneField(Assembly, models.PROTECT, related_name="build")
    site = models.ForeignKey(Site, models.PROTECT, related_name="+")
    spec = models.ForeignKey(SpecRevision, models.PROTECT, related_name="builds")
    sheet = models.ForeignKey(
        FrozenSheet, models.PROTECT, null=True, blank=True, related_name="builds"
    )
    reel = models.ForeignKey(Reel, models.PROTECT, null=True, blank=True, related_name="builds")
    crimper = models.ForeignKey(
        Crimper, models.PROTECT, null=True, blank=True, related_name="builds"
    )
    built_on = DayField()
    cut_square = models.BooleanField(default=False)
    bore_cleaned_with = models.CharField(max_length=80, blank=True)
    cut_length_mm = ScaledField(places=1, null=True, blank=True, high=100_000)
    flushed_with = models.CharField(max_length=80, blank=True)
    cleanliness = models.CharField(max_length=40, blank=True)
    proof_pressure_bar = ScaledField(places=2, null=True, blank=True, high=10_000)
    proof_hold_s = models.PositiveSmallIntegerField(null=True, blank=True)
    proof_passed = models.BooleanField(null=True, blank=True)
    gauge = models.ForeignKey(Instrument, models.PROTECT, null=True, blank=True, related_name="+")
    made_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, related_name="+"
    )
    signed_at = models.DateTimeField(null=True, blank=True)
    signed_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+"
    )
    note = models.CharField(max_length=1000, blank=True)

    objects = models.Manager.from_queryset(SiteScopedQuerySet)()
    seal = Seal(when="OLD.signed_at IS NOT NULL")

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(signed_at__isnull=True) | Q(signed_by__isnull=False),
                name="signed_build_names_its_signer",
            ),
        ]

    def __str__(self) -> str:
        return f"build of {self.assembly}"


class BuildEnd(models.Model):
    """One end as it was made: recipe revision, marks, readings, pin."""

    build = models.ForeignKey(BuildRecord, models.PROTECT, related_name="ends")
    which = models.CharField(max_length=1)
    recipe = models.ForeignKey(
        RecipeRevision, models.PROTECT, null=True, blank=True, related_name="build_ends"
    )
    fitting_lot = models.ForeignKey(
        StockItem, models.PROTECT, null=True, blank=True, related_name="+"
    )
    shell_lot = models.ForeignKey(
        StockItem, models.PROTECT, null=True, blank=True, related_name="+"
    )
    die_set = models.CharField(max_length=40, blank=True)
    insertion_depth_mm = ScaledField(places=2, null=True, blank=True, high=500)
    external_skive_mm = ScaledField(places=2, null=True, blank=True, high=500)
    od_readings = models.JSONField(default=list, blank=True)
    crimp_od_mm = ScaledField(places=2, null=True, blank=True, high=500)
    ovality_mm = ScaledField(places=2, null=True, blank=True, high=50)
    pin = models.CharField(max_length=8, blank=True)
    mark_visible = models.BooleanField(null=True, blank=True)
    instrument = models.ForeignKey(
        Instrument, models.PROTECT, null=True, blank=True, related_name="+"
    )

    seal = Seal(
        when=_SIGNED.format("OLD"),
        delete_when=_SIGNED.format("OLD"),
        insert_when=_SIGNED.format("NEW"),
    )

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["build", "which"], name="build_end_once"),
            models.CheckConstraint(condition=Q(which__in=["A", "B"]), name="build_end_known"),
        ]

    def __str__(self) -> str:
        return f"{self.build} end {self.which}"


class Amendment(models.Model):
    """What is added to a signed build, beside it, with the reason."""

    build = models.ForeignKey(BuildRecord, models.PROTECT, related_name="amendments")
    text = models.CharField(max_length=1000)
    reason = models.CharField(max_length=500)
    made_at = models.DateTimeField()
    made_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")

    seal = Seal()

    class Meta:
        constraints = [
            models.CheckConstraint(condition=~Q(reason=""), name="amendment_has_a_reason"),
        ]

    def __str__(self) -> str:
        return f"amendment to {self.build}"
