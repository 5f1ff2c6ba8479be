"""Failures in service, and what a study makes of many."""

from django.conf import settings
from django.db import models
from django.db.models import Q

from assemblies.models import Assembly, Stay
from fleet.models import Downtime, Machine, Photo, Site, SiteScopedQuerySet
from fleet.models.fields import DayField, ScaledField
from fleet.models.seals import Seal

from .rules import LifeRuleRevision


class Failure(models.Model):
    """Loss of function in service: what was seen, and why."""

    class Mode(models.TextChoices):
        BODY_LEAK = "body_leak", "leak at hose body"
        PINHOLE = "pinhole", "pinhole"
        BURST = "burst", "burst"
        BLOWN_OFF = "blown_off", "blown off the end"
        CRIMP_LEAK = "crimp_leak", "leak at the crimp"
        CONNECTION_LEAK = "connection_leak", "leak at the connection"
        WORN = "worn", "cover worn to wire"
        CRUSHED = "crushed", "crushed or kinked"
        BLISTERED = "blistered", "blistered"
        CRACKED = "cracked", "cracked or hard"
        TWISTED = "twisted", "twisted"
        COLLAPSED = "collapsed", "collapsed (suction)"
        OTHER = "other", "other"

    class Cause(models.TextChoices):
        ABRASION = "abrasion", "abrasion"
        BEND = "bend", "bend too tight"
        TWIST = "twist", "twist"
        TENSION = "tension", "tension"
        IMPACT = "impact", "impact"
        HEAT = "heat", "heat"
        COLD = "cold", "cold"
        OVER_PRESSURE = "over_pressure", "over-pressure or spikes"
        FATIGUE = "fatigue", "impulse fatigue"
        CRIMP = "crimp", "wrong insertion or crimp"
        UNMATCHED = "unmatched", "parts not matched"
        FLUID = "fluid", "fluid against tube"
        EROSION = "erosion", "erosion"
        CORROSION = "corrosion", "corrosion"
        SEAT = "seat", "torque or seat or seal"
        WRONG_PART = "wrong_part", "wrong part fitted"
        AGE = "age", "age"
        UNKNOWN = "unknown", "unknown"

    class Fire(models.TextChoices):
        NONE = "none", "no fire"
        NEAR_MISS = "near_miss", "near miss: oil on something hot"
        FIRE = "fire", "fire"

    class Certainty(models.TextChoices):
        SUPPOSED = "supposed", "supposed"
        EXAMINED = "examined", "examined"

    assembly = models.ForeignKey(Assembly, models.PROTECT, related_name="failures")
    stay = models.ForeignKey(Stay, models.PROTECT, null=True, blank=True, related_name="failures")
    machine = models.ForeignKey(Machine, models.PROTECT, null=True, related_name="failures")
    site = models.ForeignKey(Site, models.PROTECT, related_name="+")
    failed_at = models.DateTimeField()
    failed_on = DayField()
    machine_h = ScaledField(places=1, null=True, blank=True, high=10**7)
    mode = models.CharField(max_length=16, choices=Mode)
    cause = models.CharField(max_length=16, choices=Cause, default=Cause.UNKNOWN)
    cause_stated = models.CharField(
        max_length=8, choices=Certainty, default=Certainty.SUPPOSED, blank=True
    )
    oil_lost_l = ScaledField(places=1, null=True, blank=True, high=100_000)
    oil_cleaned_up = models.CharField(max_length=300, blank=True)
    fire = models.CharField(max_length=9, choices=Fire, default=Fire.NONE)
    harm = models.CharField(max_length=300, blank=True)
    cost_minor = models.BigIntegerField(null=True, blank=True, help_text="Parts, oil, labour.")
    claim_on = models.CharField(max_length=120, blank=True)
    claim = models.CharField(max_length=300, blank=True)
    downtime = models.ForeignKey(
        Downtime, models.PROTECT, null=True, blank=True, related_name="failures"
    )
    note = models.CharField(max_length=1000, blank=True)
    client_id = models.CharField(max_length=40, blank=True)
    reported_at = models.DateTimeField(null=True, blank=True)
    completed_at = models.DateTimeField(null=True, blank=True)
    completed_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+"
    )
    version = models.PositiveIntegerField(default=1, editable=False)
    reported_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, related_name="+"
    )

    objects = models.Manager.from_queryset(SiteScopedQuerySet)()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["reported_by", "client_id"],
                condition=~Q(client_id=""),
                name="failure_told_once",
            ),
            models.CheckConstraint(
                condition=Q(fire__in=["none", "near_miss", "fire"]), name="failure_fire_known"
            ),
        ]
        indexes = [
            models.Index(fields=["site", "failed_on", "id"], name="failure_by_site"),
            models.Index(fields=["failed_on", "id"], name="failure_by_day"),
        ]

    def __str__(self) -> str:
        return f"{self.assembly} failed on {self.failed_on}"


class FailurePhoto(models.Model):
    """A photo of a failure."""

    failure = models.ForeignKey(Failure, models.PROTECT, related_name="photos")
    photo = models.ForeignKey(Photo, models.PROTECT, related_name="+")

    seal = Seal()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["failure", "photo"], name="failure_photo_once"),
        ]

    def __str__(self) -> str:
        return f"{self.photo} of {self.failure}"


class LifeStudy(models.Model):
    """One study as it was made: which group, what went in, what came out. Never changed.

    `group` names the scope in words and ids; `counts` says what was left out and why; `result`
    holds the figures. `proposal` is the rule draft that came of it, if any.
    """

    class Clock(models.TextChoices):
        HOURS = "hours", "machine hours"
        DAYS = "days", "days"

    site = models.ForeignKey(Site, models.PROTECT, null=True, blank=True, related_name="+")
    title = models.CharField(max_length=200)
    clock = models.CharField(max_length=5, choices=Clock)
    group = models.JSONField(default=dict)
    counts = models.JSONField(default=dict)
    result = models.JSONField(default=dict)
    made_on = DayField()
    made_at = models.DateTimeField()
    made_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    proposal = models.ForeignKey(
        LifeRuleRevision, models.PROTECT, null=True, blank=True, related_name="studies"
    )

    objects = models.Manager.from_queryset(SiteScopedQuerySet)()
    seal = Seal(may_change=frozenset({"proposal_id"}))

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(clock__in=["hours", "days"]), name="study_clock_known"
            ),
        ]

    def __str__(self) -> str:
        return self.title
