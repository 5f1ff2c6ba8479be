"""Life rules and the exemptions from them."""

from django.conf import settings
from django.db import models
from django.db.models import F, Q

from assemblies.models import Assembly, Position
from fleet.models import Machine, MachineClass, Site
from fleet.models.abstract import REVISION_STATES, Revision, Withdrawable, revision_constraints
from fleet.models.fields import DayField, ScaledField
from fleet.models.seals import Seal


class Scope(models.Model):
    """What a rule or an exemption speaks of: all that are named must match; empty is any."""

    site = models.ForeignKey(Site, models.PROTECT, null=True, blank=True, related_name="+")
    machine_class = models.ForeignKey(
        MachineClass, models.PROTECT, null=True, blank=True, related_name="+"
    )
    machine = models.ForeignKey(Machine, models.PROTECT, null=True, blank=True, related_name="+")
    circuit = models.CharField(max_length=12, choices=Position.Circuit, blank=True)
    hose_type = models.CharField(max_length=40, blank=True)
    consequence = models.CharField(max_length=10, choices=Position.Consequence, blank=True)
    exposure = models.CharField(max_length=12, choices=Position.Exposure, blank=True)

    class Meta:
        abstract = True


class LifeRule(Withdrawable):
    """The header of a rule: its name, and the preset it came from if any."""

    name = models.CharField(max_length=120, unique=True)
    preset = models.CharField(max_length=40, blank=True)

    class Meta:
        ordering = ["id"]

    def __str__(self) -> str:
        return self.name


class LifeRuleRevision(Revision, Scope):
    """The limits. All matching approved revisions apply; the strictest limit wins."""

    header = models.ForeignKey(LifeRule, models.PROTECT, related_name="revisions")
    source = models.CharField(max_length=300)
    made_months = models.PositiveSmallIntegerField(null=True, blank=True)
    built_months = models.PositiveSmallIntegerField(null=True, blank=True)
    fitted_months = models.PositiveSmallIntegerField(null=True, blank=True)
    storage_months = models.PositiveSmallIntegerField(null=True, blank=True)
    reel_age_months = models.PositiveSmallIntegerField(null=True, blank=True)
    hours_fitting = ScaledField(places=1, null=True, blank=True, high=10**6)
    hours_total = ScaledField(places=1, null=True, blank=True, high=10**6)
    inspect_months = models.PositiveSmallIntegerField(null=True, blank=True)
    inspect_hours = ScaledField(places=1, null=True, blank=True, high=10**6)

    LIMITS = (
        "made_months",
        "built_months",
        "fitted_months",
        "storage_months",
        "reel_age_months",
        "hours_fitting",
        "hours_total",
        "inspect_months",
        "inspect_hours",
    )

    class Meta:
        constraints = [
            *revision_constraints("life_rule", REVISION_STATES),
            models.CheckConstraint(condition=~Q(source=""), name="life_rule_names_its_source"),
            models.CheckConstraint(
                condition=Q(made_months__gt=0)
                | Q(built_months__gt=0)
                | Q(fitted_months__gt=0)
                | Q(storage_months__gt=0)
                | Q(reel_age_months__gt=0)
                | Q(hours_fitting__gt=0)
                | Q(hours_total__gt=0)
                | Q(inspect_months__gt=0)
                | Q(inspect_hours__gt=0),
                name="life_rule_has_a_limit",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.header} rev {self.number}"


class Exemption(Scope):
    """Leave to pass a limit until a day: one assembly, one position, or a stated scope."""

    assembly = models.ForeignKey(
        Assembly, models.PROTECT, null=True, blank=True, related_name="exemptions"
    )
    position = models.ForeignKey(
        Position, models.PROTECT, null=True, blank=True, related_name="exemptions"
    )
    triggers = models.JSONField(default=list, blank=True)
    reason = models.CharField(max_length=500)
    granted_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    granted_on = DayField()
    until_on = DayField()
    ended_at = models.DateTimeField(null=True, blank=True)
    ended_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+"
    )

    seal = Seal(may_change=frozenset({"ended_at", "ended_by_id"}))

    class Meta:
        constraints = [
            models.CheckConstraint(condition=~Q(reason=""), name="exemption_has_a_reason"),
            models.CheckConstraint(
                condition=Q(until_on__gte=F("granted_on")), name="exemption_ends_after_it_begins"
            ),
            models.CheckConstraint(
                condition=Q(assembly__isnull=False)
                | Q(position__isnull=False)
                | Q(site__isnull=False)
                | Q(machine_class__isnull=False)
                | Q(machine__isnull=False)
                | ~Q(circuit="")
                | ~Q(hose_type="")
                | ~Q(consequence="")
                | ~Q(exposure=""),
                name="exemption_has_a_scope",
            ),
        ]

    def __str__(self) -> str:
        return f"exemption until {self.until_on}"
