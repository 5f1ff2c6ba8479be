"""Build records: what was really done. Signed once, then sealed; amendments stand beside."""

from django.conf import settings
from django.db import models
from django.db.models import Q

from fleet.models import Photo, Site, SiteScopedQuerySet
from fleet.models.fields import DayField, ScaledField
from fleet.models.seals import Seal

from .assemblies import Assembly
from .recipes import RecipeRevision
from .specs import Position, SpecRevision
from .stock import Reel, StockItem
from .workshop import Crimper, Instrument

_SIGNED = "(SELECT signed_at FROM assemblies_buildrecord WHERE id = {}.build_id) IS NOT NULL"


class FrozenSheet(models.Model):
    """A build sheet as printed: its content, number and checksum. Never changed.

    How many, by when and for which position stand in the content too; here the bench's list
    finds them. One that is not to be built any more is put aside, with who and why.
    """

    site = models.ForeignKey(Site, models.PROTECT, related_name="sheets")
    number = models.PositiveBigIntegerField()
    spec = models.ForeignKey(SpecRevision, models.PROTECT, related_name="sheets")
    content = models.JSONField()
    checksum = models.CharField(max_length=64)
    issued_at = models.DateTimeField()
    issued_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, related_name="+"
    )
    position = models.ForeignKey(
        Position, models.PROTECT, null=True, blank=True, related_name="sheets"
    )
    need_by_on = DayField(null=True, blank=True)
    quantity = models.PositiveSmallIntegerField(default=1)
    aside_at = models.DateTimeField(null=True, blank=True)
    aside_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+"
    )
    aside_reason = models.CharField(max_length=300, blank=True)

    objects = models.Manager.from_queryset(SiteScopedQuerySet)()
    seal = Seal(may_change=frozenset({"aside_at", "aside_by_id", "aside_reason"}))

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["site", "number"], name="sheet_number_once"),
            models.CheckConstraint(
                condition=Q(aside_at__isnull=True)
                | (Q(aside_by__isnull=False) & ~Q(aside_reason="")),
                name="sheet_put_aside_says_why",
            ),
        ]

    def __str__(self) -> str:
        return f"sheet {self.number}"


class BuildBatch(models.Model):
    """Several pieces built by one sheet in one go; the first one off is checked before the rest."""

    site = models.ForeignKey(Site, models.PROTECT, related_name="+")
    sheet = models.ForeignKey(FrozenSheet, models.PROTECT, related_name="batches")
    quantity = models.PositiveSmallIntegerField()
    begun_at = models.DateTimeField()
    begun_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    client_id = models.CharField(max_length=40, blank=True)
    first_off_checked_at = models.DateTimeField(null=True, blank=True)
    first_off_checked_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+"
    )

    objects = models.Manager.from_queryset(SiteScopedQuerySet)()
    seal = Seal(may_change=frozenset({"first_off_checked_at", "first_off_checked_by_id"}))

    class Meta:
        constraints = [
            models.CheckConstraint(condition=Q(quantity__gt=0), name="batch_has_pieces"),
            models.UniqueConstraint(
                fields=["begun_by", "client_id"],
                condition=~Q(client_id=""),
                name="batch_begun_once",
            ),
        ]

    def __str__(self) -> str:
        return f"batch of {self.quantity} by {self.sheet}"


class BuildRecord(models.Model):
    """The build of one assembly. A scrapped piece stays, with why, and is signed for as scrap."""

    assembly = models.OneToOneField(Assembly, models.PROTECT, related_name="build")
    site = models.ForeignKey(Site, models.PROTECT, related_name="+")
    spec = models.ForeignKey(SpecRevision, models.PROTECT, related_name="builds")
    sheet = models.ForeignKey(
        FrozenSheet, models.PROTECT, null=True, blank=True, related_name="builds"
    )
    batch = models.ForeignKey(
        BuildBatch, models.PROTECT, null=True, blank=True, related_name="builds"
    )
    place_in_batch = models.PositiveSmallIntegerField(default=1)
    reel = models.ForeignKey(Reel, models.PROTECT, null=True, blank=True, related_name="builds")
    crimper = models.ForeignKey(
        Crimper, models.PROTECT, null=True, blank=True, related_name="builds"
    )
    built_on = DayField()
    cut_square = models.BooleanField(default=False)
    bore_cleaned_with = models.CharField(max_length=80, blank=True)
    cut_length_mm = ScaledField(places=1, null=True, blank=True, high=100_000)
    hose_used_m = ScaledField(places=3, null=True, blank=True, high=10_000)
    finished_length_mm = ScaledField(places=1, null=True, blank=True, high=100_000)
    angle_deg = models.PositiveSmallIntegerField(null=True, blank=True)
    stamped = models.BooleanField(default=False, help_text="Mark, pressure and date on the shell.")
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
    scrapped_reason = models.CharField(max_length=500, blank=True)
    note = models.CharField(max_length=1000, blank=True)
    judged = models.JSONField(
        default=list, blank=True, help_text="How each thing stood when it was signed."
    )
    version = models.PositiveIntegerField(default=1, editable=False)

    objects = models.Manager.from_queryset(SiteScopedQuerySet)()
    seal = Seal(when="OLD.signed_at IS NOT NULL")

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["batch", "place_in_batch"],
                condition=Q(batch__isnull=False),
                name="piece_once_in_a_batch",
            ),
            models.CheckConstraint(
                condition=Q(signed_at__isnull=True) | Q(signed_by__isnull=False),
                name="signed_build_names_its_signer",
            ),
            models.CheckConstraint(
                condition=Q(scrapped_reason="") | Q(signed_at__isnull=False),
                name="scrapped_build_is_signed_for",
            ),
            models.CheckConstraint(
                condition=Q(angle_deg__isnull=True) | Q(angle_deg__lt=360),
                name="built_angle_below_360",
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
    external_skive = models.CharField(
        max_length=8, choices=RecipeRevision.Skive, blank=True, help_text="Empty: not said yet."
    )
    external_skive_mm = ScaledField(places=2, null=True, blank=True, high=500)
    internal_skive = models.CharField(max_length=8, choices=RecipeRevision.Skive, blank=True)
    internal_skive_mm = ScaledField(places=2, null=True, blank=True, high=500)
    setting_mm = ScaledField(places=2, null=True, blank=True, high=500)
    closed_again = models.BooleanField(default=False, help_text="Oversize, then closed to size.")
    od_readings = models.JSONField(default=list, blank=True)
    crimp_od_mm = ScaledField(places=2, null=True, blank=True, high=500)
    ovality_mm = ScaledField(places=2, null=True, blank=True, high=50)
    pin = models.CharField(max_length=8, blank=True)
    must_pass_pin = models.CharField(max_length=8, blank=True)
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
        indexes = [
            models.Index(fields=["die_set"], condition=~Q(die_set=""), name="build_end_by_die"),
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


class BuildPhoto(models.Model):
    """A photo of a build."""

    build = models.ForeignKey(BuildRecord, models.PROTECT, related_name="photos")
    photo = models.ForeignKey(Photo, models.PROTECT, related_name="+")

    seal = Seal()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["build", "photo"], name="build_photo_once"),
        ]

    def __str__(self) -> str:
        return f"{self.photo} of {self.build}"


class FrozenPaper(models.Model):
    """A paper about one assembly as it was printed: its content, number and checksum."""

    class Kind(models.TextChoices):
        CERTIFICATE = "certificate", "test certificate"
        FITTING_UP = "fitting_up", "fitting-up sheet"

    site = models.ForeignKey(Site, models.PROTECT, related_name="papers")
    kind = models.CharField(max_length=12, choices=Kind)
    number = models.PositiveBigIntegerField()
    assembly = models.ForeignKey(
        Assembly, models.PROTECT, null=True, blank=True, related_name="papers"
    )
    position = models.ForeignKey(
        Position, models.PROTECT, null=True, blank=True, related_name="papers"
    )
    content = models.JSONField()
    checksum = models.CharField(max_length=64)
    issued_at = models.DateTimeField()
    issued_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, related_name="+"
    )

    objects = models.Manager.from_queryset(SiteScopedQuerySet)()
    seal = Seal()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["site", "kind", "number"], name="paper_number_once"),
            models.CheckConstraint(
                condition=Q(kind__in=["certificate", "fitting_up"]), name="paper_kind_known"
            ),
            models.CheckConstraint(
                condition=Q(assembly__isnull=False) | Q(position__isnull=False),
                name="paper_is_about_something",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_kind_display()} {self.number}"
