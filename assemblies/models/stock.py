"""Stock: reels, lots, and a ledger. A balance never goes below zero."""

from django.conf import settings
from django.db import models
from django.db.models import F, Q

from fleet.models import Site, SiteScopedQuerySet
from fleet.models.abstract import Withdrawable
from fleet.models.fields import DayField, ScaledField, TextKeyField
from fleet.models.seals import Seal

from .assemblies import Precision
from .catalogue import FittingItem, HoseItem, ShellItem


class Reel(Withdrawable):
    """One delivered length of bulk hose, with its date of manufacture."""

    site = models.ForeignKey(Site, models.PROTECT, related_name="reels")
    code = models.CharField(max_length=40)
    code_key = TextKeyField(source="code")
    hose = models.ForeignKey(HoseItem, models.PROTECT, related_name="reels")
    supplier = models.CharField(max_length=120, blank=True)
    received_on = DayField()
    delivered_m = ScaledField(places=3, high=10_000)
    layline = models.CharField(max_length=200, blank=True)
    made_earliest_on = DayField(null=True, blank=True)
    made_latest_on = DayField(null=True, blank=True)
    made_precision = models.CharField(max_length=8, choices=Precision, blank=True)
    made_typed = models.CharField(max_length=60, blank=True)
    made_pattern = models.CharField(max_length=40, blank=True, help_text="How it was read.")
    made_confirmed_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+"
    )
    reinforcement_diameter_mm = ScaledField(places=2, null=True, blank=True, high=500)

    objects = models.Manager.from_queryset(SiteScopedQuerySet)()

    class Meta:
        ordering = ["code_key"]
        constraints = [
            models.UniqueConstraint(fields=["site", "code_key"], name="reel_code_once"),
            models.CheckConstraint(condition=Q(delivered_m__gt=0), name="reel_has_a_length"),
            models.CheckConstraint(
                condition=Q(made_earliest_on__isnull=True, made_latest_on__isnull=True)
                | Q(made_earliest_on__lte=F("made_latest_on")),
                name="reel_made_days_in_order",
            ),
        ]

    def __str__(self) -> str:
        return self.code


class StockItem(Withdrawable):
    """Something kept at a site: a lot of fittings or shells, a reel, or small parts by name."""

    class Unit(models.TextChoices):
        PIECE = "piece", "pieces"
        METRE = "metre", "metres"

    site = models.ForeignKey(Site, models.PROTECT, related_name="stock_items")
    fitting = models.ForeignKey(
        FittingItem, models.PROTECT, null=True, blank=True, related_name="stock"
    )
    shell = models.ForeignKey(
        ShellItem, models.PROTECT, null=True, blank=True, related_name="stock"
    )
    reel = models.OneToOneField(Reel, models.PROTECT, null=True, blank=True, related_name="stock")
    name = models.CharField(max_length=120, blank=True)
    name_key = TextKeyField(source="name", blank=True)
    lot = models.CharField(max_length=40, blank=True)
    supplier = models.CharField(max_length=120, blank=True)
    unit = models.CharField(max_length=6, choices=Unit, default=Unit.PIECE)
    balance = ScaledField(places=3, default=0)
    reorder_at = ScaledField(places=3, null=True, blank=True)

    objects = models.Manager.from_queryset(SiteScopedQuerySet)()

    class Meta:
        constraints = [
            models.CheckConstraint(condition=Q(balance__gte=0), name="stock_never_below_zero"),
            models.CheckConstraint(
                condition=Q(fitting__isnull=False, shell__isnull=True, reel__isnull=True, name="")
                | Q(fitting__isnull=True, shell__isnull=False, reel__isnull=True, name="")
                | Q(fitting__isnull=True, shell__isnull=True, reel__isnull=False, name="")
                | (Q(fitting__isnull=True, shell__isnull=True, reel__isnull=True) & ~Q(name="")),
                name="stock_is_one_thing",
            ),
            models.UniqueConstraint(
                fields=["site", "fitting", "lot"],
                condition=Q(fitting__isnull=False),
                name="fitting_lot_once",
            ),
            models.UniqueConstraint(
                fields=["site", "shell", "lot"],
                condition=Q(shell__isnull=False),
                name="shell_lot_once",
            ),
            models.UniqueConstraint(
                fields=["site", "name_key"],
                condition=~Q(name_key=""),
                name="small_part_once_at_a_site",
            ),
        ]

    def __str__(self) -> str:
        what = self.fitting or self.shell or self.reel or self.name
        return f"{what} {self.lot}".strip()


class StockMovement(models.Model):
    """One line of the ledger. The item's balance is the sum of its movements."""

    class Kind(models.TextChoices):
        RECEIVED = "received", "received"
        USED = "used", "used"
        SCRAPPED = "scrapped", "scrapped"
        COUNTED = "counted", "counted"
        RETURNED = "returned", "returned"

    item = models.ForeignKey(StockItem, models.PROTECT, related_name="movements")
    kind = models.CharField(max_length=10, choices=Kind)
    quantity = ScaledField(places=3, low=-(10**9))
    moved_at = models.DateTimeField()
    moved_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, related_name="+"
    )
    reference = models.CharField(max_length=120, blank=True)
    note = models.CharField(max_length=300, blank=True)

    seal = Seal()

    class Meta:
        constraints = [
            models.CheckConstraint(condition=~Q(quantity=0), name="movement_moves_something")
        ]

    def __str__(self) -> str:
        return f"{self.item}: {self.quantity}"
