"""Forms of the stock: a reel and parts come in, something moves, a level, a list narrowed."""

import datetime as dt
from collections.abc import Sequence
from decimal import Decimal
from typing import Any

from django import forms

from assemblies.actions.reels import Delivery
from assemblies.actions.stores import Parts
from assemblies.calc.day_ranges import DateError, DayRange
from assemblies.calc.reel_receipt import MadeReading, read_made, reading_key
from assemblies.forms.boxes import ItemBox, text_box
from assemblies.models import StockItem, StockMovement
from fleet.calc.units import parse_length
from fleet.forms.typed import DayBox, MeasureBox, number_box
from fleet.models import Site

Kind = StockMovement.Kind


def metre_box(**options: Any) -> MeasureBox:
    """Metres of hose: a bare figure is metres, `200 ft` and `6050 mm` are read too."""
    return MeasureBox(_metres, **options)


def _metres(text: str) -> Decimal:
    return (parse_length(text, default_unit="m").mm / 1000).quantize(Decimal("0.001"))


class SiteForm(forms.Form):
    """A form that begins with a site: asked only of who keeps several."""

    site = forms.ChoiceField(label="Site")

    def __init__(self, *args: Any, sites: Sequence[Site], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self._sites = {str(site.pk): site for site in sites}
        box: Any = self.fields["site"]
        box.choices = [(pk, site.name) for pk, site in self._sites.items()]
        if len(box.choices) == 1:
            box.initial, box.widget = box.choices[0][0], forms.HiddenInput()

    @property
    def chosen_site(self) -> Site:
        return self._sites[self.cleaned_data["site"]]


class MadeForm(forms.Form):
    """When hose was made: read from its marks, asked about where they leave it open."""

    layline = text_box(
        "Layline",
        200,
        help_text="The whole printed line, as it stands: maker / standard / type / size / date.",
    )
    made_typed = text_box(
        "Date code",
        60,
        help_text="If it isn’t in the layline: 2Q25, 05/2025, 2025-W23.",
    )
    made_as = forms.ChoiceField(label="Which is it?", required=False, widget=forms.RadioSelect)
    reading: MadeReading = MadeReading(None)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.reading = MadeReading(None)
        self._offer(())

    @property
    def asks(self) -> bool:
        """Whether the marks read more than one way, and the answers stand in the form."""
        return bool(self.fields["made_as"].choices)  # type: ignore[attr-defined]  # a ChoiceField

    def _offer(self, readings: Sequence[DayRange]) -> None:
        choices = [(reading_key(one), f"{one} ({one.pattern})") for one in readings]
        self.fields["made_as"].choices = choices  # type: ignore[attr-defined]  # as above

    def full_clean(self) -> None:
        """The answers are those of the marks as typed now: they are read before all else."""
        if self.is_bound:
            self._offer(self._readings())
        super().full_clean()

    def _readings(self) -> tuple[DayRange, ...]:
        try:
            typed, layline = (str(self.data.get(name, "")) for name in ("made_typed", "layline"))
            return read_made(typed[:60], layline[:200], latest_on=self.latest_on()).readings
        except DateError:
            return ()

    def latest_on(self) -> dt.date:
        """The day after which the hose can't have been made."""
        return dt.date.max

    def read_marks(self, latest_on: dt.date) -> DayRange | None:
        """The day the marks give, or the one chosen; adds the error where it stays open."""
        given = self.cleaned_data
        typed, layline = given.get("made_typed", ""), given.get("layline", "")
        try:
            self.reading = read_made(typed, layline, latest_on=latest_on)
        except DateError as error:
            self.add_error("made_typed" if typed else "layline", str(error))
            return None
        chosen = self.reading.chosen(given.get("made_as", ""))
        if self.reading.asked and chosen is None:
            self.add_error("made_as", self.reading.asked)
        return self.reading.made or chosen


class ReelForm(SiteForm, MadeForm):
    """A reel that came in, on one page."""

    hose = ItemBox("hose", label="Hose", help_text="The catalogue’s code of it.")
    code = text_box("Reel code", 40, help_text="Empty: the next number is drawn. Write it on.")
    delivered_m = metre_box(label="Length")
    received_on = DayBox(label="Came in on")
    supplier = text_box("Supplier", 120)
    made_unknown = forms.BooleanField(label="It can’t be told when it was made", required=False)
    reinforcement_mm = number_box(
        label="Over the wire, measured",
        required=False,
        help_text="Cover skived off a short end, calliper across the wire, mean of three.",
    )
    looked = forms.BooleanField(
        label="The layline names another hose: I looked, and it is this one", required=False
    )

    def latest_on(self) -> dt.date:
        try:
            day = self.fields["received_on"].clean(self.data.get("received_on"))
        except forms.ValidationError:
            return dt.date.max
        return day if isinstance(day, dt.date) else dt.date.max

    def clean(self) -> dict[str, Any]:
        given = super().clean() or self.cleaned_data
        made = self.read_marks(given.get("received_on") or dt.date.max)
        told = any(name in self.errors for name in ("made_typed", "made_as", "layline"))
        if made is None and not told and not given.get("made_unknown"):
            self.add_error(
                "made_typed",
                "Say when the hose was made: by its age it is judged when it is built in. If no "
                "mark tells, tick that it can’t be told.",
            )
        given["made"] = made
        return given

    def delivery(self) -> Delivery:
        """What the action takes."""
        given = self.cleaned_data
        names = ("hose", "code", "delivered_m", "received_on", "supplier", "layline", "made")
        more = ("made_typed", "reinforcement_mm", "looked")
        return Delivery(**{name: given[name] for name in (*names, *more)})


class ReelDateForm(MadeForm):
    """A better day for a reel that is here already."""

    def __init__(self, *args: Any, received_on: dt.date, **kwargs: Any) -> None:
        self.received_on = received_on
        super().__init__(*args, **kwargs)
        del self.fields["layline"]
        self.fields["made_typed"].required = True
        self.fields["made_typed"].help_text = "As it stands on the hose: 2Q25, 05/2025, 2025-W23."

    def latest_on(self) -> dt.date:
        return self.received_on

    def clean(self) -> dict[str, Any]:
        given = super().clean() or self.cleaned_data
        given["made"] = self.read_marks(self.received_on) if given.get("made_typed") else None
        return given


class PartsForm(SiteForm):
    """Pieces that came in: a fitting or a shell by lot, a small part by name."""

    fitting = ItemBox("fitting", label="Fitting", required=False)
    shell = ItemBox("shell", label="Shell", required=False)
    name = text_box(
        "Or a small part, by name", 120, help_text="O-rings, caps, sleeves: what has no lot."
    )
    lot = text_box("Lot", 40, help_text="From the bag or box. A fitting or shell needs one.")
    pieces = number_box(label="How many")
    unit = forms.ChoiceField(
        label="Counted in",
        choices=StockItem.Unit.choices,
        initial=StockItem.Unit.PIECE,
        widget=forms.RadioSelect,
        help_text="Metres only for sleeve and guard by the metre.",
    )
    supplier = text_box("Supplier", 120)
    reference = text_box("Delivery note", 120)

    def parts(self) -> Parts:
        given = self.cleaned_data
        names = ("pieces", "fitting", "shell", "name", "lot", "supplier", "unit")
        return Parts(**{name: given[name] for name in names})


_MOVES = {
    Kind.COUNTED: "Counted: this much is there",
    Kind.USED: "Used",
    Kind.SCRAPPED: "Scrapped",
    Kind.RETURNED: "Came back",
    Kind.RECEIVED: "Came in",
}


class MoveForm(forms.Form):
    """One movement of one line of the stock."""

    kind = forms.ChoiceField(label="What happened", widget=forms.RadioSelect)
    quantity = number_box(label="How much")
    reference = text_box("For what", 120, help_text="A sheet, a job, a delivery note.")
    note = text_box("Note", 300)
    seen = forms.DecimalField(widget=forms.HiddenInput)

    def __init__(self, *args: Any, item: StockItem, kinds: Sequence[str], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.item = item
        choices = [(kind.value, words) for kind, words in _MOVES.items() if kind in kinds]
        self.fields["kind"].choices = choices  # type: ignore[attr-defined]  # a ChoiceField
        if item.unit == StockItem.Unit.METRE:
            self.fields["quantity"] = metre_box(label="How much")
        self.fields["seen"].initial = item.balance

    @property
    def signed(self) -> Decimal:
        """The quantity as the ledger takes it: out is below nought."""
        quantity: Decimal = self.cleaned_data["quantity"]
        out = self.cleaned_data["kind"] in (Kind.USED, Kind.SCRAPPED)
        return -quantity if out else quantity


class LevelForm(forms.Form):
    """The level at which a thing is ordered again."""

    level = number_box(
        label="Order again at",
        required=False,
        help_text="All lots of it at the site together. Empty: not watched.",
    )


class StockFilterForm(forms.Form):
    """A list narrowed."""

    q = text_box("Find", 80, help_text="Code, lot, supplier, or size: 2SN DN12, -8, DKOL.")
    standing = forms.ChoiceField(label="Show", required=False)
    kind = forms.ChoiceField(label="Kind", required=False)
    site = forms.ChoiceField(label="Site", required=False)

    def __init__(
        self,
        data: Any,
        *,
        standings: Sequence[tuple[str, str]],
        sites: Sequence[Site],
        kinds: Sequence[tuple[str, str]] = (),
    ) -> None:
        super().__init__(data)
        chosen: dict[str, Any] = {
            "standing": standings,
            "kind": [("", "all"), *kinds],
            "site": [("", "all of mine"), *((str(one.pk), one.name) for one in sites)],
        }
        for name, choices in chosen.items():
            self.fields[name].choices = choices  # type: ignore[attr-defined]  # ChoiceFields
        if not kinds:
            del self.fields["kind"]
        if len(sites) < 2:
            del self.fields["site"]
        self.usual = standings[0][0]

    def asked(self) -> dict[str, Any]:
        """What is asked for; a value that can't be read is the usual one."""
        self.is_valid()
        given = self.cleaned_data
        site = given.get("site")
        return {
            "text": given.get("q", ""),
            "standing": given.get("standing") or self.usual,
            "site_id": int(site) if site else None,
            **({"kind": given.get("kind", "")} if "kind" in self.fields else {}),
        }
