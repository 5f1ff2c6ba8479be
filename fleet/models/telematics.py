"""Telematics: where hours are fetched from, what was seen there, and each run of fetching."""

from django.conf import settings
from django.db import models
from django.db.models import Q

from .abstract import Withdrawable
from .fields import ScaledField, TextKeyField
from .machines import Machine
from .meters import Counter
from .seals import Seal
from .sites import Person, Site, SiteScopedQuerySet


class SourceQuerySet(SiteScopedQuerySet["TelematicsSource"]):
    """A source of every site is seen by those who see every site."""

    def visible_to(self, person: object) -> "SourceQuerySet":
        if not isinstance(person, Person) or not person.is_active:
            return self.none()
        return self if person.sees_every_site else self.filter(site__in=person.seen_site_ids)


class SeenQuerySet(SiteScopedQuerySet["TelematicsMatch"]):
    site_path = "source__site_id"


class TelematicsSource(Withdrawable):
    """A provider's address for hours (ISO 15143-3). No secret is kept here.

    The credential stands in the environment of the server under the name `credential_variable`,
    beside the only host that it may be sent to. `site` empty: machines of every site. One that is
    not `asked_daily` is asked by hand alone: nothing calls out to it by itself.
    """

    class Form(models.TextChoices):
        XML = "xml", "XML"
        JSON = "json", "JSON"

    name = models.CharField(max_length=60)
    name_key = TextKeyField(source="name")
    site = models.ForeignKey(Site, models.PROTECT, null=True, blank=True, related_name="+")
    address = models.CharField(max_length=500)
    form = models.CharField(max_length=4, choices=Form, default=Form.XML)
    credential_variable = models.CharField(max_length=60, blank=True)
    asked_daily = models.BooleanField(default=True)
    added_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, related_name="+"
    )
    added_at = models.DateTimeField()

    objects = SourceQuerySet.as_manager()

    class Meta:
        ordering = ["name_key"]
        constraints = [
            models.UniqueConstraint(
                fields=["name_key"],
                condition=Q(withdrawn_at__isnull=True),
                name="telematics_source_named_once",
            ),
            models.CheckConstraint(condition=~Q(name_key=""), name="telematics_source_has_a_name"),
            models.CheckConstraint(
                condition=Q(form__in=["xml", "json"]), name="telematics_form_known"
            ),
        ]

    def __str__(self) -> str:
        return self.name


class TelematicsRun(models.Model):
    """One run of fetching, with what came of it in figures and words. Sealed when it has ended.

    While it is open, `next_address` says where it goes on, and one worker holds it at a time: a
    killed worker's run goes on there when its hold is over.
    """

    class State(models.TextChoices):
        OPEN = "open", "at work"
        DONE = "done", "done"
        FAILED = "failed", "failed"

    source = models.ForeignKey(TelematicsSource, models.PROTECT, related_name="runs")
    state = models.CharField(max_length=8, choices=State, default=State.OPEN)
    asked_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+"
    )
    began_at = models.DateTimeField()
    ended_at = models.DateTimeField(null=True, blank=True)
    next_address = models.CharField(max_length=1000, blank=True)
    seen_addresses = models.JSONField(default=list)
    tries = models.PositiveSmallIntegerField(default=0)
    not_before_at = models.DateTimeField(null=True, blank=True)
    held_until_at = models.DateTimeField(null=True, blank=True)
    snapshot_text = models.CharField(max_length=60, blank=True)
    pages = models.PositiveIntegerField(default=0)
    equipment = models.PositiveIntegerField(default=0)
    recorded = models.PositiveIntegerField(default=0)
    doubtful = models.PositiveIntegerField(default=0)
    known = models.PositiveIntegerField(default=0)
    unmatched = models.PositiveIntegerField(default=0)
    unusable = models.PositiveIntegerField(default=0)
    problems = models.JSONField(default=list)
    error = models.TextField(blank=True)

    seal = Seal(when="OLD.ended_at IS NOT NULL")

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["source"],
                condition=Q(ended_at__isnull=True),
                name="telematics_one_run_open",
            ),
            models.CheckConstraint(
                condition=Q(state="open", ended_at__isnull=True)
                | Q(state__in=["done", "failed"], ended_at__isnull=False, next_address=""),
                name="telematics_run_ends_when_it_is_over",
            ),
        ]
        indexes = [models.Index(fields=["source", "-id"], name="telematics_runs_of_a_source")]

    def __str__(self) -> str:
        return f"{self.source} {self.began_at:%Y-%m-%d %H:%M}"


class TelematicsMatch(models.Model):
    """A machine as a provider names it, and ours, once a person has said which it is.

    It stands here from the first time it is seen. Unmatched, it keeps the last reading, so that
    nothing is lost until someone says; `set_aside` says that it is none of ours.
    """

    class Kind(models.TextChoices):
        PIN = "pin", "PIN"
        SERIAL = "serial", "serial number"
        EQUIPMENT = "equipment", "equipment id"

    source = models.ForeignKey(TelematicsSource, models.PROTECT, related_name="matches")
    kind = models.CharField(max_length=10, choices=Kind)
    identity_key = models.CharField(max_length=200)
    maker = models.CharField(max_length=80, blank=True)
    model = models.CharField(max_length=80, blank=True)
    equipment_ref = models.CharField(max_length=80, blank=True)
    serial_number = models.CharField(max_length=80, blank=True)
    pin = models.CharField(max_length=80, blank=True)
    machine = models.ForeignKey(
        Machine, models.PROTECT, null=True, blank=True, related_name="telematics_matches"
    )
    counts = models.CharField(max_length=12, choices=Counter, default=Counter.ENGINE)
    decided_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+"
    )
    decided_at = models.DateTimeField(null=True, blank=True)
    set_aside_reason = models.CharField(max_length=300, blank=True)
    first_seen_at = models.DateTimeField()
    last_seen_at = models.DateTimeField()
    last_reading_h = ScaledField(places=1, high=10**7, null=True, blank=True)
    last_typed = models.CharField(max_length=40, blank=True)
    last_read_at = models.DateTimeField(null=True, blank=True)
    last_zone_known = models.BooleanField(default=True)
    last_problem = models.CharField(max_length=300, blank=True)

    objects = SeenQuerySet.as_manager()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["source", "kind", "identity_key"], name="telematics_identity_once"
            ),
            models.CheckConstraint(
                condition=Q(kind__in=["pin", "serial", "equipment"]), name="telematics_kind_known"
            ),
            models.CheckConstraint(
                condition=~Q(identity_key=""), name="telematics_identity_not_empty"
            ),
            models.CheckConstraint(
                condition=Q(machine__isnull=True)
                | Q(decided_by__isnull=False, decided_at__isnull=False, set_aside_reason=""),
                name="telematics_match_signed",
            ),
        ]
        indexes = [models.Index(fields=["machine"], name="telematics_by_machine")]

    def __str__(self) -> str:
        return f"{self.get_kind_display()} {self.identity_text}"

    @property
    def identity_text(self) -> str:
        said = {"pin": self.pin, "serial": f"{self.maker} {self.serial_number}".strip()}
        return said.get(self.kind) or self.equipment_ref

    @property
    def reference(self) -> str:
        """What a reading says of where it came from; its end finds the readings again."""
        return f"{self.source.name}, {self}"[:100] + self.mark

    @property
    def mark(self) -> str:
        return f" (seen {self.pk})"
