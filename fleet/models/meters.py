"""Hour meters and what was read off them."""

from django.conf import settings
from django.db import models
from django.db.models import F, Q

from .fields import DayField, ScaledField
from .machines import Machine
from .sites import Site, SiteScopedQuerySet


class Counter(models.TextChoices):
    """What a meter counts. A position names the counter that ages its hose."""

    ENGINE = "engine", "engine"
    HYDRAULICS = "hydraulics", "hydraulics"
    ATTACHMENT = "attachment", "attachment"


class Told(models.Func):
    """Whether a text says anything; without a parameter, or SQLite would not know its index."""

    template = "%(expressions)s <> ''"
    output_field = models.BooleanField()


IN_DOUBT = Q(Told("doubt"), accepted_at=None, set_aside_at=None)


class HourMeter(models.Model):
    """One meter of a counter, from its fitting to its removal.

    Machine hours = `offset_h` (hours run on earlier meters, less this meter's first reading)
    + the reading + the rollovers passed. One that was undone never was: nothing is read off it.
    """

    machine = models.ForeignKey(Machine, models.PROTECT, related_name="meters")
    counts = models.CharField(max_length=12, choices=Counter, default=Counter.ENGINE)
    from_on = DayField(null=True, blank=True)
    to_on = DayField(null=True, blank=True)
    offset_h = ScaledField(places=1, low=-(10**7), high=10**7, default=0)
    rollover_h = ScaledField(places=1, null=True, blank=True)
    undone_at = models.DateTimeField(null=True, blank=True)
    undone_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+"
    )
    undone_reason = models.CharField(max_length=300, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["machine", "counts"],
                condition=Q(to_on__isnull=True),
                name="one_meter_a_counter",
            ),
            models.CheckConstraint(
                condition=Q(to_on__isnull=True)
                | Q(from_on__isnull=True)
                | Q(to_on__gte=F("from_on")),
                name="meter_ends_after_it_begins",
            ),
            models.CheckConstraint(
                condition=Q(undone_at__isnull=True) | Q(to_on__isnull=False),
                name="undone_meter_is_off",
            ),
            models.CheckConstraint(
                condition=Q(rollover_h__isnull=True) | Q(rollover_h__gt=0),
                name="rollover_above_zero",
            ),
            models.CheckConstraint(condition=Q(counts__in=Counter.values), name="counter_known"),
        ]

    def __str__(self) -> str:
        return f"{self.machine}: {self.get_counts_display()} hours"


class HourReading(models.Model):
    """What a meter showed. Never changed or deleted: a correction is a reading beside it.

    `zone_known` is False where a time came without its zone and was taken as the site's own.
    """

    class Source(models.TextChoices):
        TYPED = "typed", "typed"
        IMPORTED = "imported", "imported"
        TELEMATICS = "telematics", "telematics"
        JOB = "job", "from a job"

    meter = models.ForeignKey(HourMeter, models.PROTECT, related_name="readings")
    site = models.ForeignKey(Site, models.PROTECT, related_name="+")
    read_at = models.DateTimeField()
    read_on = DayField()
    zone_known = models.BooleanField(default=True)
    reading_h = ScaledField(places=1, high=10**7)
    machine_h = ScaledField(places=1, high=10**7)
    typed = models.CharField(max_length=40, blank=True)
    source = models.CharField(max_length=12, choices=Source, default=Source.TYPED)
    source_ref = models.CharField(max_length=120, blank=True)
    doubt = models.CharField(max_length=300, blank=True)
    accepted_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+"
    )
    accepted_at = models.DateTimeField(null=True, blank=True)
    set_aside_at = models.DateTimeField(null=True, blank=True)
    set_aside_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+"
    )
    set_aside_reason = models.CharField(max_length=300, blank=True)
    replaces = models.ForeignKey(
        "self", models.PROTECT, null=True, blank=True, related_name="replaced_by"
    )
    recorded_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, related_name="+"
    )
    recorded_at = models.DateTimeField()

    objects = models.Manager.from_queryset(SiteScopedQuerySet)()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["meter", "read_at", "reading_h"],
                condition=Q(set_aside_at__isnull=True),
                name="same_reading_once",
            ),
            models.UniqueConstraint(
                fields=["replaces"],
                condition=Q(replaces__isnull=False, set_aside_at__isnull=True),
                name="reading_replaced_once",
            ),
            models.CheckConstraint(condition=Q(reading_h__gte=0), name="reading_not_negative"),
            models.CheckConstraint(
                condition=Q(source__in=["typed", "imported", "telematics", "job"]),
                name="reading_source_known",
            ),
        ]
        indexes = [
            models.Index(fields=["meter", "read_on", "id"], name="reading_by_day"),
            models.Index(fields=["id"], condition=IN_DOUBT, name="reading_in_doubt"),
        ]

    def __str__(self) -> str:
        return f"{self.meter}: {self.reading_h} h on {self.read_on}"

    @property
    def counts_in_forecasts(self) -> bool:
        return self.set_aside_at is None and (not self.doubt or self.accepted_at is not None)


class Usage(models.Model):
    """How fast one counter of a machine runs: kept from its readings, one row a counter."""

    machine = models.ForeignKey(Machine, models.PROTECT, related_name="usages")
    counts = models.CharField(max_length=12, choices=Counter, default=Counter.ENGINE)
    as_of_on = DayField(null=True, blank=True)
    machine_h = ScaledField(places=1, null=True, blank=True)
    rate_h_per_day = ScaledField(places=3, high=24, default=0)
    low_h_per_day = ScaledField(places=3, high=24, default=0)
    high_h_per_day = ScaledField(places=3, high=24, default=0)
    basis = models.CharField(max_length=200, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["machine", "counts"], name="one_usage_a_counter"),
            models.CheckConstraint(
                condition=Q(low_h_per_day__lte=F("rate_h_per_day"))
                & Q(rate_h_per_day__lte=F("high_h_per_day")),
                name="usage_bounds_in_order",
            ),
        ]
        indexes = [models.Index(fields=["as_of_on", "machine"], name="usage_by_day")]

    def __str__(self) -> str:
        return f"{self.machine} {self.counts}: {self.rate_h_per_day} h a day"
