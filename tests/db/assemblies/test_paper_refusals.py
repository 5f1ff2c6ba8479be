"""Every box of the papers' forms, with every reason it is refused for and its sentence."""

from collections.abc import Iterator
from typing import Any

import pytest
from django import forms
from django.test import Client
from django.urls import reverse

from assemblies.actions.tags import draw_lot
from assemblies.forms.fitting_sheets import FittingSheetForm
from assemblies.forms.papers import LotForm, PaperForm, SheetForm, SiteSheetForm, StockForm
from assemblies.models import FrozenPaper, FrozenSheet, TagLot
from fleet.models import Person, Site
from tests import factories as make
from tests.db.assemblies.test_paper_pages import ready_position

pytestmark = pytest.mark.django_db
Case = tuple[str, str, str]

SHEET: list[Case] = [
    ("quantity", "", "This field is required"),
    ("quantity", "two", "Enter a whole number"),
    ("quantity", "1.5", "Enter a whole number"),
    ("quantity", "0", "greater than or equal to 1"),
    ("quantity", "201", "less than or equal to 200"),
    ("need_by", "9/3/2026", "could be two days: write 2026-03-09"),
    ("need_by", "soon", "“soon” is not a day"),
    ("need_by", "2026-02-30", "is not a day"),
    ("job", "x" * 41, "at most 40 characters"),
    ("job", "J\0", "Null characters are not allowed"),
]
SITE: list[Case] = [("site", "9999", "Select a valid choice"), ("site", "", "is required")]
PAPER: list[Case] = [("page", "a5", "Select a valid choice"), ("page", "", "is required")]
LOT: list[Case] = [
    *SITE,
    ("size", "", "This field is required"),
    ("size", "many", "Enter a whole number"),
    ("size", "0", "greater than or equal to 1"),
    ("size", "100000", "less than or equal to"),
]
MEASURES = ("width", "height", "left", "top", "pitch_x", "pitch_y")
STOCK: list[Case] = [
    ("stock", "", "This field is required"),
    ("stock", "none of these", "not one of the available choices"),
    ("page", "a5", "Select a valid choice"),
    ("form", "round", "Select a valid choice"),
    ("skipped", "-1", "greater than or equal to 0"),
    ("skipped", "first", "Enter a whole number"),
    ("skipped", "24", "a page has 24; say 0 to 23"),
    *((name, "", "Say this measure, in mm or as a count.") for name in MEASURES),
    *((name, "wide", "“wide” is not a length") for name in MEASURES),
    *((name, "-3", "is below nothing") for name in MEASURES),
    *((name, "401", "longer than any label sheet: 0 to 400 mm") for name in MEASURES),
    ("width", "12", "is too small for the tag"),
    ("height", "6", "is too small for the tag"),
    ("left", "60", "more than A4 has"),
    ("top", "60", "more than A4 has"),
    ("pitch_x", "50", "overlap: the step to the right"),
    ("pitch_y", "20", "overlap: the step down"),
    ("columns", "", "Say this measure"),
    ("columns", "0", "greater than or equal to 1"),
    ("columns", "21", "less than or equal to 20"),
    ("columns", "two", "Enter a whole number"),
    ("rows", "", "Say this measure"),
    ("rows", "0", "greater than or equal to 1"),
    ("rows", "61", "less than or equal to 60"),
    ("rows", "two", "Enter a whole number"),
    ("printed", "thick", "“thick” is not a length"),
    ("printed", "401", "longer than any label sheet"),
    ("printed", "31", "The white part is no higher than the label."),
]
FITTING: list[Case] = [
    ("named", "no such hose", "No one hose that you may see is “no such hose”."),
    ("named", "x" * 201, "at most 200 characters"),
    ("named", "ON IT", "is on"),
    ("named", "HELD", "is held for a decision: it can&#x27;t go on"),
    ("named", "SCRAP", "is scrap: it can&#x27;t go on"),
    ("picked", "999999", "Select a valid choice"),
    ("picked", "a hose", "Select a valid choice"),
    ("job", "x" * 41, "at most 40 characters"),
]
OWN = {
    "stock": "own", "page": "a4", "form": "plain", "width": "60", "height": "30", "skipped": "0",
    "columns": "3", "rows": "8", "left": "5", "top": "5", "pitch_x": "62", "pitch_y": "32",
}  # fmt: skip


@pytest.fixture
def site() -> Site:
    return make.site()


@pytest.fixture
def fitter(site: Site) -> Person:
    return make.person("fitter", at=site)


def answer(person: Person, url: str, typed: dict[str, str], *, get: bool = False) -> Any:
    who = Client()
    who.force_login(person)
    return who.get(url, typed) if get else who.post(url, typed)


@pytest.mark.parametrize(("field", "typed", "words"), SHEET)
def test_a_sheet_is_not_issued(
    field: str, typed: str, words: str, site: Site, fitter: Person
) -> None:
    position = ready_position(on=make.machine(at=site))
    url = reverse("assemblies:position_sheet", args=[position.pk])
    said = answer(fitter, url, {"quantity": "1", field: typed})
    assert words in said.content.decode()
    assert not FrozenSheet.objects.exists()


@pytest.mark.parametrize(("field", "typed", "words"), [*SITE, *SHEET])
def test_a_sheet_of_a_spec_is_not_issued(
    field: str, typed: str, words: str, site: Site, fitter: Person
) -> None:
    spec = ready_position().required_spec
    assert spec is not None
    url = reverse("assemblies:spec_sheet", args=[spec.pk])
    said = answer(fitter, url, {"quantity": "1", "site": str(site.pk), field: typed})
    assert words in said.content.decode()
    assert not FrozenSheet.objects.exists()


@pytest.mark.parametrize(("field", "typed", "words"), PAPER)
def test_a_book_is_not_drawn(
    field: str, typed: str, words: str, site: Site, fitter: Person
) -> None:
    position = ready_position(on=make.machine(at=site))
    url = reverse("assemblies:machine_book", args=[position.machine_id])
    said = answer(fitter, url, {"page": "a4", field: typed})
    assert words in said.content.decode()


@pytest.mark.parametrize(("field", "typed", "words"), LOT)
def test_a_lot_is_not_drawn(field: str, typed: str, words: str, site: Site, fitter: Person) -> None:
    given = {"site": str(site.pk), "size": "3", field: typed}
    said = answer(fitter, reverse("assemblies:labels"), given)
    assert words in said.content.decode()
    assert not TagLot.objects.exists()


@pytest.mark.parametrize(("field", "typed", "words"), STOCK)
def test_labels_are_not_drawn(
    field: str, typed: str, words: str, site: Site, fitter: Person
) -> None:
    lot = draw_lot(site=site, size=2, person=fitter, at=make.NOW)
    url = reverse("assemblies:lot_labels", args=[lot.pk])
    said = answer(fitter, url, {**OWN, field: typed}, get=True)
    assert said["Content-Type"].startswith("text/html")
    assert words in said.content.decode()


@pytest.mark.parametrize("typed", ["60", "60,0", "60 mm", "2.4 in", "6 cm"])
def test_a_measure_of_a_label_is_read_as_it_is_written(
    typed: str, site: Site, fitter: Person
) -> None:
    lot = draw_lot(site=site, size=2, person=fitter, at=make.NOW)
    url = reverse("assemblies:lot_labels", args=[lot.pk])
    said = answer(fitter, url, {**OWN, "width": typed}, get=True)
    assert said["Content-Type"] == "application/pdf"


@pytest.mark.parametrize(("field", "typed", "words"), FITTING)
def test_a_fitting_up_sheet_is_not_issued(
    field: str, typed: str, words: str, site: Site, fitter: Person
) -> None:
    position = make.position(on=make.machine(at=site))
    make.fitted(on=position, owner_mark="ON IT")
    make.stored(at=site, owner_mark="HELD", condition="held")
    make.stored(at=site, owner_mark="SCRAP", condition="scrap")
    url = reverse("assemblies:position_fitting_sheet", args=[position.pk])
    said = answer(fitter, url, {"job": "J-1", field: typed})
    assert words in said.content.decode()
    assert not FrozenPaper.objects.exists()


def test_a_fitting_up_sheet_is_for_one_hose(site: Site, fitter: Person) -> None:
    position = make.position(on=make.machine(at=site))
    hose = make.stored(at=site, owner_mark="BQ 9")
    url = reverse("assemblies:position_fitting_sheet", args=[position.pk])
    said = answer(fitter, url, {"named": "BQ 9", "picked": str(hose.pk)})
    assert "Name the hose, or pick one from the store: not both." in said.content.decode()
    assert not FrozenPaper.objects.exists()


def _boxes(form: type[forms.Form]) -> Iterator[str]:
    yield from form.base_fields


@pytest.mark.parametrize(
    ("form", "cases"),
    [
        (SheetForm, SHEET),
        (SiteSheetForm, [*SITE, *SHEET]),
        (PaperForm, PAPER),
        (LotForm, LOT),
        (StockForm, STOCK),
        (FittingSheetForm, FITTING),
    ],
)
def test_every_box_has_its_refusals(form: type[forms.Form], cases: list[Case]) -> None:
    assert {field for field, _, _ in cases} == set(_boxes(form))
