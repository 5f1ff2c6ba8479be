"""Rounds, looks and what they find."""

from django.conf import settings
from django.db import models
from django.db.models import Q

from assemblies.models import Assembly, Position
from fleet.models import Machine, Photo, Site, SiteScopedQuerySet
from fleet.models.fields import DayField, ScaledField
from fleet.models.seals import Seal

from .recalls import Recall


class Round(models.Model):
    """One walk round a machine to look at its hoses, or to register them for the first time.

    `inspector_name` is the competent person who looks, where the one who records has no mark of
    being one. `told_empty` are the positions found to hold no hose; `left_out` says in words what
    was not seen when the round was finished.
    """

    class Purpose(models.TextChoices):
        INSPECT = "inspect", "inspection"
        REGISTER = "register", "first registration"

    machine = models.ForeignKey(Machine, models.PROTECT, related_name="rounds")
    site = models.ForeignKey(Site, models.PROTECT, related_name="+")
    purpose = models.CharField(max_length=8, choices=Purpose, default=Purpose.INSPECT)
    occasion = models.CharField(max_length=120, blank=True)
    inspector_name = models.CharField(max_length=120, blank=True)
    begun_at = models.DateTimeField()
    begun_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    told_empty = models.JSONField(default=list, blank=True)
    finished_at = models.DateTimeField(null=True, blank=True)
    finished_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+"
    )
    left_out = models.JSONField(default=list, blank=True)

    objects = models.Manager.from_queryset(SiteScopedQuerySet)()
    seal = Seal(when="OLD.finished_at IS NOT NULL")

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["machine", "purpose"],
                condition=Q(finished_at__isnull=True),
                name="one_open_round_a_machine",
            ),
            models.CheckConstraint(
                condition=Q(purpose__in=["inspect", "register"]), name="round_purpose_known"
            ),
        ]
        indexes = [models.Index(fields=["site", "-begun_at", "id"], name="round_by_site")]

    def __str__(self) -> str:
        return f"{self.get_purpose_display()} of {self.machine}"


class Inspection(models.Model):
    """One look at one assembly. Recorded once; a correction is another inspection.

    One that was told wrongly is taken back: it stays to be seen and counts for nothing.
    """

    assembly = models.ForeignKey(Assembly, models.PROTECT, related_name="inspections")
    position = models.ForeignKey(Position, models.PROTECT, null=True, blank=True, related_name="+")
    site = models.ForeignKey(Site, models.PROTECT, related_name="+")
    round = models.ForeignKey(
        Round, models.PROTECT, null=True, blank=True, related_name="inspections"
    )
    client_id = models.CharField(max_length=40, blank=True)
    inspected_on = DayField()
    machine_h = ScaledField(places=1, null=True, blank=True, high=10**7)
    not_seen = models.BooleanField(default=False)
    occasion = models.CharField(max_length=120, blank=True)
    inspected_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, related_name="+"
    )
    inspector_name = models.CharField(max_length=120, blank=True)
    competent_person = models.BooleanField(default=False)
    note = models.CharField(max_length=1000, blank=True)
    recorded_at = models.DateTimeField()
    taken_back_at = models.DateTimeField(null=True, blank=True)
    taken_back_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+"
    )

    objects = models.Manager.from_queryset(SiteScopedQuerySet)()
    seal = Seal(may_change=frozenset({"taken_back_at", "taken_back_by_id"}))

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["inspected_by", "client_id"],
                condition=~Q(client_id=""),
                name="look_told_once",
            ),
        ]
        indexes = [
            models.Index(fields=["assembly", "-inspected_on", "id"], name="inspection_by_assembly")
        ]

    def __str__(self) -> str:
        return f"{self.assembly} looked at on {self.inspected_on}"


class Finding(models.Model):
    """What an inspection, a recall or a withdrawn recipe says of an assembly. Read by the dues."""

    class Verdict(models.TextChoices):
        KEEP = "keep", "keep"
        RECHECK = "recheck", "recheck within"
        REPLACE = "replace", "replace by"
        OUT_NOW = "out_now", "take out now"

    assembly = models.ForeignKey(Assembly, models.PROTECT, related_name="findings")
    inspection = models.ForeignKey(
        Inspection, models.PROTECT, null=True, blank=True, related_name="findings"
    )
    recall = models.ForeignKey(
        Recall, models.PROTECT, null=True, blank=True, related_name="findings"
    )
    site = models.ForeignKey(Site, models.PROTECT, related_name="+")
    what = models.CharField(max_length=40)
    verdict = models.CharField(max_length=8, choices=Verdict)
    found_on = DayField()
    by_on = DayField(null=True, blank=True)
    source = models.CharField(max_length=200, blank=True)
    note = models.CharField(max_length=500, blank=True)
    made_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, related_name="+"
    )
    dealt_with_at = models.DateTimeField(null=True, blank=True)
    dealt_with_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+"
    )
    dealt_with_how = models.CharField(max_length=300, blank=True)

    objects = models.Manager.from_queryset(SiteScopedQuerySet)()
    seal = Seal(may_change=frozenset({"dealt_with_at", "dealt_with_by_id", "dealt_with_how"}))

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(verdict__in=["keep", "out_now"]) | Q(by_on__isnull=False),
                name="finding_has_its_day",
            ),
            models.CheckConstraint(
                condition=Q(verdict__in=["keep", "recheck", "replace", "out_now"]),
                name="finding_verdict_known",
            ),
            models.UniqueConstraint(
                fields=["recall", "assembly"],
                condition=Q(recall__isnull=False),
                name="recalled_once",
            ),
        ]
        indexes = [
            models.Index(
                fields=["assembly", "id"],
                condition=Q(dealt_with_at__isnull=True),
                name="open_finding_by_assembly",
            ),
            models.Index(
                fields=["verdict", "assembly"],
                condition=Q(dealt_with_at__isnull=True),
                name="open_finding_by_verdict",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.assembly}: {self.get_verdict_display()}"


class InspectionPhoto(models.Model):
    """A photo of what was seen at a look."""

    inspection = models.ForeignKey(Inspection, models.PROTECT, related_name="photos")
    photo = models.ForeignKey(Photo, models.PROTECT, related_name="+")

    seal = Seal()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["inspection", "photo"], name="look_photo_once"),
        ]

    def __str__(self) -> str:
        return f"{self.photo} of {self.inspection}"
