"""Dues: one narrow row an assembly, and the marks of what must be worked out again."""

from django.db import models
from django.db.models import F, Q

from assemblies.models import Assembly
from fleet.models import Machine, Site, SiteScopedQuerySet
from fleet.models.fields import DayField


class Due(models.Model):
    """When an assembly falls due, and what binds. Written by `due_dates` only.

    Trigger and flag numbers are those of `scheduling.calc.due`, kinds those of `calc.tally`. Rule
    columns hold the ids of rule revisions, without a foreign key: revisions are never deleted.
    """

    assembly = models.OneToOneField(Assembly, models.PROTECT, primary_key=True, related_name="due")
    site = models.ForeignKey(Site, models.PROTECT, related_name="+", db_index=False)
    machine = models.ForeignKey(
        Machine, models.PROTECT, null=True, related_name="dues", db_index=False
    )
    kinds = models.SmallIntegerField(default=0)
    due_on = DayField(null=True)
    replace_early_on = DayField(null=True)
    replace_on = DayField(null=True)
    replace_late_on = DayField(null=True)
    inspect_on = DayField(null=True)
    replace_trigger = models.SmallIntegerField(default=0)
    replace_rule = models.BigIntegerField(null=True)
    inspect_trigger = models.SmallIntegerField(default=0)
    inspect_rule = models.BigIntegerField(null=True)
    flags = models.IntegerField(default=0)
    fingerprint = models.BigIntegerField(default=0)

    objects = models.Manager.from_queryset(SiteScopedQuerySet)()

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(replace_on__isnull=True)
                | (
                    Q(replace_early_on__lte=F("replace_on"))
                    & Q(replace_on__lte=F("replace_late_on"))
                )
                | Q(replace_late_on__isnull=True),
                name="due_bounds_in_order",
            ),
        ]
        indexes = [
            models.Index(fields=["site", "due_on", "assembly"], name="due_by_site"),
            models.Index(fields=["due_on", "assembly"], name="due_by_day"),
            models.Index(fields=["machine", "due_on", "assembly"], name="due_by_machine"),
        ]

    def __str__(self) -> str:
        return f"{self.assembly} due {self.due_on}"


class DueTally(models.Model):
    """How many dues of a site came to, or went from, each day: the sum of a site's rows is how
    many it has now.

    A row is written in the transaction that changes dues, so that nobody waits for another; a
    sweep puts many together to one. `cells` are triples of whole numbers of 32 bits, lowest byte
    first: day, kinds, how many more. The site needs no look of its own, which would lock its row:
    the dues that were counted name it under a constraint.
    """

    site = models.ForeignKey(Site, models.PROTECT, related_name="+", db_constraint=False)
    cells = models.BinaryField()

    objects = models.Manager.from_queryset(SiteScopedQuerySet)()

    def __str__(self) -> str:
        return f"dues counted at {self.site}"


class StaleMark(models.Model):
    """Something whose dues must be worked out again: raised with the change, lowered after.

    `generation` counts the changes, `done_generation` those that the dues know of; a change
    during a refresh is not lost.
    """

    class Subject(models.TextChoices):
        MACHINE = "machine", "machine"
        ASSEMBLY = "assembly", "assembly"
        SITE = "site", "site"
        EVERYTHING = "everything", "everything"

    subject = models.CharField(max_length=10, choices=Subject)
    subject_id = models.BigIntegerField(default=0)
    generation = models.PositiveBigIntegerField(default=1)
    done_generation = models.PositiveBigIntegerField(default=0)
    since_at = models.DateTimeField()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["subject", "subject_id"], name="one_stale_mark_a_subject"
            )
        ]
        indexes = [
            models.Index(
                fields=["since_at"],
                condition=Q(generation__gt=F("done_generation")),
                name="stale_to_do",
            )
        ]

    def __str__(self) -> str:
        return f"{self.subject} {self.subject_id}"
