"""Assemblies, their tags, and where each one is."""

from decimal import Decimal
from typing import cast

from django.conf import settings
from django.db import models
from django.db.models import F, Q

from fleet.models import Site, SiteScopedQuerySet
from fleet.models.abstract import Withdrawable
from fleet.models.fields import DayField, ScaledField, TextKeyField
from fleet.models.seals import Seal

from .catalogue import HoseItem
from .specs import Position, SpecRevision
from .trials import CrimpTrial


class Precision(models.TextChoices):
    """How exactly a day is known. The earliest day counts for age limits."""

    DAY = "day", "to the day"
    WEEK = "week", "to the week"
    MONTH = "month", "to the month"
    QUARTER = "quarter", "to the quarter"
    YEAR = "year", "to the year"
    RANGE = "range", "between two days"


class TagLot(models.Model):
    """A run of blank tags printed ahead."""

    site = models.ForeignKey(Site, models.PROTECT, related_name="tag_lots")
    number = models.PositiveIntegerField()
    size = models.PositiveIntegerField()
    drawn_at = models.DateTimeField()
    drawn_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, related_name="+"
    )

    objects = models.Manager.from_queryset(SiteScopedQuerySet)()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["site", "number"], name="tag_lot_number_once")
        ]

    def __str__(self) -> str:
        return f"lot {self.number}"


class Tag(models.Model):
    """One own tag. The code is drawn once in the life of the register, never again."""

    code = models.CharField(max_length=8, primary_key=True)
    lot = models.ForeignKey(TagLot, models.PROTECT, null=True, blank=True, related_name="tags")
    spoiled_at = models.DateTimeField(null=True, blank=True)

    seal = Seal(may_change=frozenset({"spoiled_at"}))

    def __str__(self) -> str:
        return self.code


class Assembly(Withdrawable):
    """One physical hose with ends on.

    `site` is the site whose register holds it; it follows the open stay. What the register or
    the layline said is kept as it was read beside what it was read as.
    """

    class Origin(models.TextChoices):
        BUILT = "built", "built here"
        BOUGHT = "bought", "bought in"
        UNKNOWN = "unknown", "unknown: found on the machine"

    class Condition(models.TextChoices):
        USABLE = "usable", "usable"
        HELD = "held", "held for a decision"
        SCRAP = "scrap", "scrap"

    site = models.ForeignKey(Site, models.PROTECT, related_name="assemblies")
    tag = models.OneToOneField(Tag, models.PROTECT, null=True, blank=True, related_name="assembly")
    owner_mark = models.CharField(max_length=60, blank=True)
    owner_mark_key = TextKeyField(source="owner_mark", blank=True)
    origin = models.CharField(max_length=8, choices=Origin, default=Origin.UNKNOWN)
    condition = models.CharField(max_length=8, choices=Condition, default=Condition.USABLE)
    spec = models.ForeignKey(
        SpecRevision, models.PROTECT, null=True, blank=True, related_name="assemblies"
    )
    hose = models.ForeignKey(HoseItem, models.PROTECT, null=True, blank=True, related_name="+")
    supplier = models.CharField(max_length=120, blank=True)
    certificate = models.CharField(max_length=120, blank=True)

    hose_type = models.CharField(max_length=40, blank=True)
    size_dn = models.PositiveSmallIntegerField(null=True, blank=True)
    size_typed = models.CharField(max_length=40, blank=True)
    length_mm = ScaledField(places=1, null=True, blank=True, high=100_000)
    length_typed = models.CharField(max_length=40, blank=True)
    working_pressure_bar = ScaledField(places=2, null=True, blank=True, high=5000)
    pressure_typed = models.CharField(max_length=40, blank=True)
    end_a = models.CharField(max_length=120, blank=True)
    end_b = models.CharField(max_length=120, blank=True)
    layline = models.CharField(max_length=200, blank=True)
    note = models.CharField(max_length=1000, blank=True)

    made_earliest_on = DayField(null=True, blank=True)
    made_latest_on = DayField(null=True, blank=True)
    made_precision = models.CharField(max_length=8, choices=Precision, blank=True)
    made_typed = models.CharField(max_length=60, blank=True)
    made_confirmed_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+"
    )
    built_earliest_on = DayField(null=True, blank=True)
    built_latest_on = DayField(null=True, blank=True)
    built_precision = models.CharField(max_length=8, choices=Precision, blank=True)
    built_typed = models.CharField(max_length=60, blank=True)
    built_confirmed_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+"
    )
    known_from_on = DayField()
    earlier_h = ScaledField(places=1, default=0, high=10**7, help_text="Hours of closed stays.")
    version = models.PositiveIntegerField(default=1, editable=False)

    objects = models.Manager.from_queryset(SiteScopedQuerySet)()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["site", "owner_mark_key"],
                condition=Q(withdrawn_at__isnull=True) & ~Q(owner_mark_key=""),
                name="owner_mark_once_at_a_site",
            ),
            models.CheckConstraint(
                condition=Q(made_earliest_on__isnull=True, made_latest_on__isnull=True)
                | Q(made_earliest_on__lte=F("made_latest_on")),
                name="made_days_in_order",
            ),
            models.CheckConstraint(
                condition=Q(built_earliest_on__isnull=True, built_latest_on__isnull=True)
                | Q(built_earliest_on__lte=F("built_latest_on")),
                name="built_days_in_order",
            ),
            models.CheckConstraint(
                condition=Q(origin__in=["built", "bought", "unknown"]), name="assembly_origin_known"
            ),
        ]
        indexes = [
            models.Index(fields=["site", "owner_mark_key", "id"], name="assembly_by_mark"),
            models.Index(
                fields=["supplier"],
                condition=Q(origin="bought") & ~Q(supplier=""),
                name="bought_by_supplier",
            ),
        ]

    def __str__(self) -> str:
        return self.tag_id or self.owner_mark or f"untagged no. {self.pk}"


class Stay(models.Model):
    """Where an assembly is, or was: one place from a day to a day. The open stay is now.

    An installation is a stay on a position. `machine_h` columns are machine hours of the
    position's counter at fitting and at removal. They are sealed when it ends; where a reading
    that they came from is corrected later, the right hours stand beside them (`corrected_h`).
    """

    class Place(models.TextChoices):
        BENCH = "bench", "on the bench"
        STORE = "store", "in store"
        POSITION = "position", "on a machine"
        SCRAPPED = "scrapped", "scrapped"

    class Removal(models.TextChoices):
        DUE = "due", "changed in time"
        FAILED = "failed", "failed"
        FOUND_BAD = "found_bad", "found bad at inspection"
        ACCESS = "access", "taken off for access"
        MOVED = "moved", "moved"
        RECALLED = "recalled", "recalled"
        CORRECTED = "corrected", "entry corrected"

    assembly = models.ForeignKey(Assembly, models.PROTECT, related_name="stays")
    place = models.CharField(max_length=8, choices=Place)
    position = models.ForeignKey(
        Position, models.PROTECT, null=True, blank=True, related_name="stays"
    )
    site = models.ForeignKey(Site, models.PROTECT, related_name="+")
    store_place = models.CharField(max_length=60, blank=True)
    from_at = models.DateTimeField(null=True, blank=True)
    from_earliest_on = DayField(null=True, blank=True)
    from_latest_on = DayField(null=True, blank=True)
    from_precision = models.CharField(max_length=8, choices=Precision, blank=True)
    from_typed = models.CharField(max_length=60, blank=True)
    from_machine_h = ScaledField(places=1, null=True, blank=True, high=10**7)
    from_corrected_h = ScaledField(places=1, null=True, blank=True, high=10**7)
    to_at = models.DateTimeField(null=True, blank=True)
    to_on = DayField(null=True, blank=True)
    to_machine_h = ScaledField(places=1, null=True, blank=True, high=10**7)
    to_corrected_h = ScaledField(places=1, null=True, blank=True, high=10**7)
    is_open = models.BooleanField(default=True)
    removal = models.CharField(max_length=10, choices=Removal, blank=True)
    note = models.CharField(max_length=300, blank=True)
    recorded_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, related_name="+"
    )
    recorded_at = models.DateTimeField()

    objects = models.Manager.from_queryset(SiteScopedQuerySet)()
    seal = Seal(
        when="NOT OLD.is_open", may_change=frozenset({"from_corrected_h", "to_corrected_h"})
    )

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["assembly"], condition=Q(is_open=True), name="assembly_in_one_place"
            ),
            models.UniqueConstraint(
                fields=["position"],
                condition=Q(is_open=True, position__isnull=False),
                name="position_holds_one_assembly",
            ),
            models.CheckConstraint(
                condition=Q(place="position", position__isnull=False)
                | (~Q(place="position") & Q(position__isnull=True)),
                name="stay_names_its_position",
            ),
            models.CheckConstraint(
                condition=Q(place__in=["bench", "store", "position", "scrapped"]),
                name="stay_place_known",
            ),
            models.CheckConstraint(
                condition=Q(is_open=True, to_on__isnull=True)
                | Q(is_open=False, to_on__isnull=False),
                name="closed_stay_has_its_end",
            ),
            models.CheckConstraint(
                condition=Q(to_on__isnull=True)
                | Q(from_earliest_on__isnull=True)
                | Q(to_on__gte=F("from_earliest_on")),
                name="stay_ends_after_it_begins",
            ),
            models.CheckConstraint(
                condition=Q(from_earliest_on__isnull=True, from_latest_on__isnull=True)
                | Q(from_earliest_on__lte=F("from_latest_on")),
                name="fitted_days_in_order",
            ),
            models.CheckConstraint(
                condition=Q(to_machine_h__isnull=True)
                | Q(from_machine_h__isnull=True)
                | Q(to_machine_h__gte=F("from_machine_h")),
                name="stay_hours_in_order",
            ),
            models.CheckConstraint(
                condition=Q(is_open=False)
                | Q(from_corrected_h__isnull=True, to_corrected_h__isnull=True),
                name="hours_beside_an_ended_stay",
            ),
        ]
        indexes = [
            models.Index(fields=["position", "id"], name="stay_by_position"),
            models.Index(fields=["assembly", "id"], name="stay_by_assembly"),
        ]

    def __str__(self) -> str:
        return f"{self.assembly} {self.get_place_display()}"

    @property
    def began_h(self) -> Decimal | None:
        """Machine hours at fitting, as they are known now."""
        hours = self.from_machine_h if self.from_corrected_h is None else self.from_corrected_h
        return cast("Decimal | None", hours)

    @property
    def ended_h(self) -> Decimal | None:
        """Machine hours at removal, as they are known now."""
        hours = self.to_machine_h if self.to_corrected_h is None else self.to_corrected_h
        return cast("Decimal | None", hours)

    @property
    def run_h(self) -> Decimal | None:
        """Hours run on it, None where not known; corrected hours that run backwards tell none."""
        if self.began_h is None or self.ended_h is None or self.ended_h < self.began_h:
            return None
        return self.ended_h - self.began_h

    @property
    def is_corrected(self) -> bool:
        return self.from_corrected_h is not None or self.to_corrected_h is not None


class ConditionalRelease(models.Model):
    """A hose released for a breakdown by a named authority, to be replaced by a day.

    `limits` says all that it may bear and where, in words; `pressure_bar` and `where_it_hurts`
    are what fitting it is held against. `trial` is where the hose is the piece of a crimp trial.
    """

    assembly = models.ForeignKey(Assembly, models.PROTECT, related_name="releases")
    authority = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    released_at = models.DateTimeField()
    reason = models.CharField(max_length=500)
    limits = models.CharField(max_length=300)
    pressure_bar = ScaledField(places=2, null=True, blank=True, high=5000)
    where_it_hurts = models.BooleanField(default=False)
    replace_by_on = DayField()
    trial = models.OneToOneField(
        CrimpTrial, models.PROTECT, null=True, blank=True, related_name="release"
    )

    seal = Seal()

    class Meta:
        constraints = [
            models.CheckConstraint(condition=~Q(reason=""), name="release_has_a_reason"),
            models.CheckConstraint(condition=~Q(limits=""), name="release_has_limits"),
        ]

    def __str__(self) -> str:
        return f"{self.assembly} released until {self.replace_by_on}"
