"""Machines, where they belong, and which machine carries which."""

from django.conf import settings
from django.db import models
from django.db.models import F, Q

from .abstract import Withdrawable
from .fields import DayField, ScaledField, TextKeyField
from .sites import Site, SiteScopedQuerySet


class MachineClass(Withdrawable):
    """A kind of machine, with what is assumed of one where nothing better is known."""

    name = models.CharField(max_length=80)
    name_key = TextKeyField(source="name", unique=True)
    hours_per_day = ScaledField(places=3, high=24, default=0)
    down_cost_per_hour_minor = models.BigIntegerField(default=0)

    class Meta:
        ordering = ["name_key"]
        constraints = [
            models.CheckConstraint(
                condition=Q(hours_per_day__gte=0, hours_per_day__lte=24),
                name="machine_class_hours_in_a_day",
            ),
        ]

    def __str__(self) -> str:
        return self.name


class Machine(Withdrawable):
    """A mobile machine, an attachment, or an exchange component that carries hoses."""

    class Kind(models.TextChoices):
        MACHINE = "machine", "machine"
        ATTACHMENT = "attachment", "attachment"
        COMPONENT = "component", "exchange component"

    class Status(models.TextChoices):
        IN_SERVICE = "in_service", "in service"
        STANDING = "standing", "standing"
        SOLD = "sold", "sold"

    site = models.ForeignKey(Site, models.PROTECT, related_name="machines")
    fleet_number = models.CharField(max_length=40)
    number_key = TextKeyField(source="fleet_number")
    kind = models.CharField(max_length=12, choices=Kind, default=Kind.MACHINE)
    machine_class = models.ForeignKey(MachineClass, models.PROTECT, related_name="machines")
    maker = models.CharField(max_length=80, blank=True)
    model = models.CharField(max_length=80, blank=True)
    serial_number = models.CharField(max_length=60, blank=True)
    pin = models.CharField(max_length=60, blank=True)
    in_service_from = DayField(null=True, blank=True)
    status = models.CharField(max_length=12, choices=Status, default=Status.IN_SERVICE)
    down_cost_per_hour_minor = models.BigIntegerField(null=True, blank=True)
    version = models.PositiveIntegerField(default=1, editable=False)

    objects = models.Manager.from_queryset(SiteScopedQuerySet)()

    class Meta:
        ordering = ["number_key"]
        constraints = [
            models.UniqueConstraint(
                fields=["site", "number_key"],
                condition=Q(withdrawn_at__isnull=True) & ~Q(status="sold"),
                name="fleet_number_once_at_a_site",
            ),
            models.CheckConstraint(condition=~Q(number_key=""), name="machine_has_a_number"),
            models.CheckConstraint(
                condition=Q(status__in=["in_service", "standing", "sold"]),
                name="machine_status_known",
            ),
            models.CheckConstraint(
                condition=Q(kind__in=["machine", "attachment", "component"]),
                name="machine_kind_known",
            ),
        ]
        indexes = [
            models.Index(fields=["site", "number_key", "id"], name="machine_by_number"),
            models.Index(fields=["number_key", "id"], name="machine_by_number_anywhere"),
        ]

    def __str__(self) -> str:
        return self.fleet_number


class SiteSpell(models.Model):
    """A time that a machine belongs to a site. The open spell names the machine's site."""

    machine = models.ForeignKey(Machine, models.PROTECT, related_name="site_spells")
    site = models.ForeignKey(Site, models.PROTECT, related_name="machine_spells")
    from_on = DayField()
    to_on = DayField(null=True, blank=True)
    recorded_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, related_name="+"
    )

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["machine"], condition=Q(to_on__isnull=True), name="machine_at_one_site"
            ),
            models.CheckConstraint(
                condition=Q(to_on__isnull=True) | Q(to_on__gte=F("from_on")),
                name="site_spell_ends_after_it_begins",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.machine} at {self.site}"


class Mount(models.Model):
    """A time that an attachment or component rides on a carrier."""

    part = models.ForeignKey(Machine, models.PROTECT, related_name="mounts")
    carrier = models.ForeignKey(Machine, models.PROTECT, related_name="carries")
    from_on = DayField()
    to_on = DayField(null=True, blank=True)
    uses_carrier_hours = models.BooleanField(default=False)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["part"], condition=Q(to_on__isnull=True), name="part_on_one_carrier"
            ),
            models.CheckConstraint(
                condition=Q(to_on__isnull=True) | Q(to_on__gte=F("from_on")),
                name="mount_ends_after_it_begins",
            ),
            models.CheckConstraint(condition=~Q(part=F("carrier")), name="nothing_carries_itself"),
        ]

    def __str__(self) -> str:
        return f"{self.part} on {self.carrier}"


class Downtime(models.Model):
    """Machine time lost. Open while the machine is down."""

    machine = models.ForeignKey(Machine, models.PROTECT, related_name="downtimes")
    site = models.ForeignKey(Site, models.PROTECT, related_name="+")
    from_at = models.DateTimeField()
    from_on = DayField()
    to_at = models.DateTimeField(null=True, blank=True)
    planned = models.BooleanField(default=False)
    reason = models.CharField(max_length=500, blank=True)
    cost_per_hour_minor = models.BigIntegerField(default=0)
    recorded_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, related_name="+"
    )

    objects = models.Manager.from_queryset(SiteScopedQuerySet)()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["machine"],
                condition=Q(to_at__isnull=True, planned=False),
                name="machine_down_once",
            ),
            models.CheckConstraint(
                condition=Q(to_at__isnull=True) | Q(to_at__gte=F("from_at")),
                name="downtime_ends_after_it_begins",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.machine} down from {self.from_on}"
