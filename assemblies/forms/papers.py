"""Forms for papers: what a sheet is wanted for, which paper, which labels."""

from decimal import Decimal
from typing import Any

from django import forms

from assemblies.actions.tags import LARGEST_LOT
from assemblies.pdf.labels import STOCKS, LabelForm, LabelStock
from assemblies.queries.sheets import MOST_PIECES
from fleet.calc.units import parse_length
from fleet.forms.typed import DayBox, MeasureBox
from fleet.models import Site
from fleet.pdf.frame import A4, SIZES, PageSize, page_size

PAPERS = [(name, size.name) for name, size in SIZES.items()]
OWN = "own"
_MOST_MM = 400
_STOCK_CHOICES = [*((name, name) for name in STOCKS), (OWN, "other, by its measures")]


def _count(label: str, most: int, **options: Any) -> forms.IntegerField:
    """A count typed by hand, never a spinner."""
    return forms.IntegerField(label=label, max_value=most, widget=forms.TextInput, **options)


class SheetForm(forms.Form):
    """What a sheet is wanted for."""

    quantity = _count("How many", MOST_PIECES, min_value=1, initial=1)
    need_by = DayBox(label="Needed by", required=False)
    job = forms.CharField(label="Job", required=False, max_length=40)


class SiteSheetForm(SheetForm):
    """The same, where the site is not known from a machine or a hose."""

    site = forms.ModelChoiceField(Site.objects.none(), label="For the site", empty_label=None)

    field_order = ("site", "quantity", "need_by", "job")

    def __init__(self, *args: Any, sites: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["site"].queryset = sites  # type: ignore[attr-defined]  # a ModelChoiceField


class PaperForm(forms.Form):
    """Which paper."""

    page = forms.ChoiceField(label="Paper", choices=PAPERS, initial="a4")

    def size(self) -> PageSize:
        return page_size(self.cleaned_data["page"]) if self.is_valid() else A4


def _mm(label: str, **options: Any) -> MeasureBox:
    return MeasureBox(_label_mm, label=label, required=False, **options)


def _label_mm(text: str) -> Decimal:
    """A measure of a label sheet, in mm or in inches."""
    mm = parse_length(text, default_unit="mm").mm
    if mm > _MOST_MM:
        raise ValueError(f"“{text}” is longer than any label sheet: 0 to {_MOST_MM} mm.")
    return mm


class StockForm(PaperForm):
    """Which label stock: one of the sizes sold everywhere, or its own measures in mm."""

    stock = forms.ChoiceField(
        label="Labels",
        choices=_STOCK_CHOICES,
    )
    skipped = forms.IntegerField(
        label="Places used before",
        min_value=0,
        initial=0,
        required=False,
        widget=forms.TextInput,
        help_text="On a page that was begun: how many labels are gone, row by row.",
    )
    form = forms.ChoiceField(
        label="Form",
        initial="plain",
        required=False,
        choices=[("plain", "plain"), ("wrap", "wrap-round, with a clear tail")],
    )
    width = _mm("Label width", help_text="Measures in mm; only for other labels.")
    height = _mm("Label height")
    printed = _mm("White part of a wrap label, height")
    columns = _count("Across", 20, min_value=1, required=False)
    rows = _count("Down", 60, min_value=1, required=False)
    left = _mm("Left margin")
    top = _mm("Top margin")
    pitch_x = _mm("From label to label, across")
    pitch_y = _mm("From label to label, down")

    own_fields = ("width", "height", "columns", "rows", "left", "top", "pitch_x", "pitch_y")

    def clean(self) -> dict[str, Any]:
        given = super().clean() or {}
        if given.get("stock") != OWN:
            return given
        for name in self.own_fields:
            if given.get(name) is None and name not in self.errors:
                self.add_error(name, "Say this measure, in mm or as a count.")
        printed, height = given.get("printed"), given.get("height")
        if given.get("form") == "wrap" and not printed and "printed" not in self.errors:
            self.add_error("printed", "A wrap label has a white part: say its height.")
        elif printed and height and printed > height:
            self.add_error("printed", "The white part is no higher than the label.")
        return given

    def label_stock(self) -> LabelStock:
        """The stock as the labels are drawn on it. Call when the form is valid."""
        given = self.cleaned_data
        if given["stock"] != OWN:
            return STOCKS[given["stock"]]
        return LabelStock(
            width_mm=float(given["width"]),
            height_mm=float(given["height"]),
            columns=given["columns"],
            rows=given["rows"],
            left_mm=float(given["left"]),
            top_mm=float(given["top"]),
            pitch_x_mm=float(given["pitch_x"]),
            pitch_y_mm=float(given["pitch_y"]),
            page=self.size(),
            form=LabelForm(given["form"] or "plain"),
            printed_mm=float(given["printed"]) if given["printed"] else None,
        )


class LotForm(forms.Form):
    """How many blank tags to draw, and at which site."""

    site = forms.ModelChoiceField(Site.objects.none(), label="Site", empty_label=None)
    size = _count("How many tags", LARGEST_LOT, min_value=1, initial=24)

    def __init__(self, *args: Any, sites: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["site"].queryset = sites  # type: ignore[attr-defined]  # a ModelChoiceField
