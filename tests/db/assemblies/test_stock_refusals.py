"""Every box of the store's forms: what it refuses, and in which words."""

from collections.abc import Callable
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from assemblies.forms.stock import (
    LevelForm,
    MoveForm,
    PartsForm,
    ReelDateForm,
    ReelForm,
)
from assemblies.forms.tools import CalibrationForm, ToolForm
from assemblies.models import Crimper, Instrument, StockMovement
from fleet.models import Person, Site
from tests import factories as make
from tests.db.assemblies import store

pytestmark = pytest.mark.django_db
Case = tuple[str, str, str]
LONG = "x" * 400


@pytest.fixture
def site() -> Site:
    return make.site()


@pytest.fixture
def keeper(site: Site) -> Person:
    return make.person("storeman", at=site)


def sent_to(keeper: Person, url: str, typed: dict[str, str]) -> str:
    who = Client()
    who.force_login(keeper)
    content: str = who.post(url, typed, follow=True).content.decode()
    return content


REEL: list[Case] = [
    ("site", "9999", "Select a valid choice"),
    ("hose", "", "This field is required"),
    ("hose", "NO-SUCH", "The catalogue has no hose with the code “NO-SUCH”"),
    ("delivered_m", "", "This field is required"),
    ("delivered_m", "0", "A reel has a length above nought"),
    ("delivered_m", "sixty", "is not a length"),
    ("delivered_m", "-3", "is below nothing"),
    ("delivered_m", "20000", "is bigger than anything met in the trade"),
    ("received_on", "", "This field is required"),
    ("received_on", "9/3/2026", "could be two days"),
    ("received_on", "2099-01-01", "is still to come"),
    ("received_on", "2020-01-01", "which is after 2020-01-01"),
    ("code", LONG, "at most 40"),
    ("code", "R-TAKEN", "has a reel R-TAKEN already"),
    ("supplier", LONG, "at most 120"),
    ("layline", LONG, "at most 200"),
    ("layline", "Harrow/EN 853/2SN/DN 12/2Q59", "check the day the reel came in"),
    ("layline", "Harrow/EN 853/2SN/DN 12/3Q25", "The code and the layline differ"),
    ("looked", "Harrow/EN 857/2SC/DN 12/2Q25", "tick that you looked"),
    ("made_typed", LONG, "at most 60"),
    ("made_typed", "soon", "cannot be read as a date"),
    ("made_typed", "07/10", "could be"),
    ("made_typed", "", "Say when the hose was made"),
    ("made_as", "2001-01-01..2001-01-01", "Select a valid choice"),
    ("reinforcement_mm", "thick", "is not a plain figure"),
    ("reinforcement_mm", "600", "less than or equal to 500"),
]
DATE: list[Case] = [
    ("made_typed", "", "This field is required"),
    ("made_typed", "whenever", "cannot be read as a date"),
    ("made_typed", "2Q59", "which is after"),
    ("made_typed", "03/04/2021", "say which"),
    ("made_as", "2001-01-01..2001-01-01", "Select a valid choice"),
]
PARTS: list[Case] = [
    ("site", "9999", "Select a valid choice"),
    ("fitting", "NO-SUCH", "The catalogue has no fitting with the code"),
    ("shell", "NO-SUCH", "The catalogue has no shell with the code"),
    ("name", "", "Name one thing"),
    ("name", LONG, "at most 120"),
    ("lot", "", "by it a bad lot is found again"),
    ("lot", LONG, "at most 40"),
    ("pieces", "", "This field is required"),
    ("pieces", "many", "is not a plain figure"),
    ("pieces", "0", "Nothing would move"),
    ("pieces", "1.5", "whole pieces, not 1.5"),
    ("pieces", "200000", "more than 100,000 at once"),
    ("unit", "barrel", "Select a valid choice"),
    ("supplier", LONG, "at most 120"),
    ("reference", LONG, "at most 120"),
]
MOVE: list[Case] = [
    ("kind", "", "This field is required"),
    ("kind", "lost", "Select a valid choice"),
    ("quantity", "", "This field is required"),
    ("quantity", "some", "is not a plain figure"),
    ("quantity", "0", "Nothing would move"),
    ("quantity", "21", "has 20 pieces left, 21 pieces is wanted"),
    ("quantity", "1.5", "whole pieces"),
    ("reference", LONG, "at most 120"),
    ("note", LONG, "at most 300"),
    ("seen", "", "This field is required"),
    ("seen", "no", "Enter a number"),
]
LEVEL: list[Case] = [
    ("level", "lots", "is not a plain figure"),
    ("level", "200000", "A level is 0 to 100,000"),
]
TOOL: list[Case] = [
    ("site", "9999", "Select a valid choice"),
    ("code", "", "This field is required"),
    ("code", LONG, "at most 40"),
    ("code", "c-TAKEN", "has the crimper c-TAKEN already"),
    ("description", LONG, "at most 120"),
    ("calibrated_on", "1/2/2026", "could be two days"),
    ("calibrated_on", "2099-01-01", "is still to come"),
    ("calibration_due_on", "never", "is not a day"),
    ("calibration_due_on", "2020-01-01", "is not after 2026-01-01"),
]
CALIBRATION: list[Case] = [
    ("calibrated_on", "", "This field is required"),
    ("calibrated_on", "2099-01-01", "is still to come"),
    ("due_on", "", "This field is required"),
    ("due_on", "2020-01-01", "is not after 2026-01-01"),
    ("note", LONG, "at most 300"),
]
# What takes anything: a tick is only there or not.
TICKS = {"made_unknown", "looked"}


@pytest.mark.parametrize(
    ("form", "cases"),
    [
        (ReelForm, REEL),
        (ReelDateForm, [*DATE, ("layline", "", "")]),  # taken away: the reel's own stands
        (PartsForm, PARTS),
        (MoveForm, MOVE),
        (LevelForm, LEVEL),
        (ToolForm, TOOL),
        (CalibrationForm, CALIBRATION),
    ],
)
def test_every_box_of_a_form_has_its_refusals(form: Any, cases: list[Case]) -> None:
    assert set(form.base_fields) - TICKS <= {name for name, _, _ in cases}
    assert {name for name, _, _ in cases} <= set(form.base_fields)


def reel_typed(site: Site) -> dict[str, str]:
    hose = make.hose().header.code
    usual = {"site": str(site.pk), "hose": hose, "delivered_m": "60", "made_typed": "2Q25"}
    return {**usual, "received_on": "2026-01-05"}


def other_boxes(name: str, typed: str) -> dict[str, str]:
    """What must stand elsewhere for this box to be asked at all."""
    if name == "made_as":
        return {"made_typed": "07/10" if typed else ""}
    if name == "looked":
        return {"layline": typed, "looked": ""}
    if name == "layline" and typed.endswith("2Q59"):
        return {"made_typed": ""}
    if name == "received_on" and typed == "2020-01-01":
        return {"made_typed": "2Q25"}
    return {}


@pytest.mark.parametrize(("name", "typed", "words"), REEL)
def test_a_reels_form_says_what_is_wrong(
    name: str, typed: str, words: str, site: Site, keeper: Person
) -> None:
    store.reel(site, code="R-taken")
    sent = {**reel_typed(site), name: typed, **other_boxes(name, typed)}
    page = sent_to(keeper, reverse("assemblies:reel_receive"), sent)
    assert words in page
    assert StockMovement.objects.count() == 1


def test_a_reel_is_received_by_its_form_and_its_marks(site: Site, keeper: Person) -> None:
    typed = {**reel_typed(site), "made_typed": "", "layline": "Harrow/EN 853/2SN/DN 12/2Q25"}
    page = sent_to(keeper, reverse("assemblies:reel_receive"), {**typed, "delivered_m": "60,5 m"})
    assert f"Reel {site.code}-R0001 is in the stock" in page
    assert "quarter 2 of 2025" in page
    assert "60.5" in page


def test_a_date_that_reads_two_ways_is_asked_and_then_taken(site: Site, keeper: Person) -> None:
    url, typed = reverse("assemblies:reel_receive"), {**reel_typed(site), "made_typed": "07/10"}
    asked = sent_to(keeper, url, typed)
    assert 'value="2010-07-01..2010-07-31"' in asked
    assert 'value="2007-10-01..2007-10-31"' in asked
    page = sent_to(keeper, url, {**typed, "made_as": "2007-10-01..2007-10-31"})
    assert "Oct 2007" in page
    assert "as year-month, confirmed by" in page


def test_a_reel_whose_day_can_not_be_told_says_so(site: Site, keeper: Person) -> None:
    typed = {**reel_typed(site), "made_typed": "", "made_unknown": "on"}
    page = sent_to(keeper, reverse("assemblies:reel_receive"), typed)
    assert "Age not known: nobody has read when it was made" in page


@pytest.mark.parametrize(("name", "typed", "words"), DATE)
def test_a_reels_day_says_what_is_wrong(
    name: str, typed: str, words: str, site: Site, keeper: Person
) -> None:
    reel = store.reel(site)
    sent = {"made_typed": "2Q25", name: typed, **other_boxes(name, typed)}
    assert words in sent_to(keeper, reverse("assemblies:reel_date", args=[reel.pk]), sent)
    reel.refresh_from_db()
    assert reel.made_earliest_on == store.MADE[0]


@pytest.mark.parametrize(("name", "typed", "words"), PARTS)
def test_the_form_of_parts_says_what_is_wrong(
    name: str, typed: str, words: str, site: Site, keeper: Person
) -> None:
    usual = {"site": str(site.pk), "name": "Cap", "pieces": "5", "unit": "piece"}
    if name in ("fitting", "lot"):
        usual |= {"name": "", "fitting": make.fitting().header.code}
    page = sent_to(keeper, reverse("assemblies:stock_receive"), {**usual, name: typed})
    assert words in page
    assert StockMovement.objects.count() == 0


@pytest.mark.parametrize(("name", "typed", "words"), MOVE)
def test_the_form_of_a_movement_says_what_is_wrong(
    name: str, typed: str, words: str, site: Site, keeper: Person
) -> None:
    url = reverse("assemblies:stock_move", args=[store.fitting_lot(site).pk])
    usual = {"kind": "used", "quantity": "1", "seen": "20"}
    assert words in sent_to(keeper, url, {**usual, name: typed})
    assert StockMovement.objects.count() == 1


@pytest.mark.parametrize(("name", "typed", "words"), LEVEL)
def test_a_level_says_what_is_wrong(
    name: str, typed: str, words: str, site: Site, keeper: Person
) -> None:
    lot = store.fitting_lot(site)
    assert words in sent_to(keeper, reverse("assemblies:stock_level", args=[lot.pk]), {name: typed})
    lot.refresh_from_db()
    assert lot.reorder_at is None


@pytest.mark.parametrize(("name", "typed", "words"), TOOL)
def test_the_form_of_a_tool_says_what_is_wrong(
    name: str, typed: str, words: str, site: Site, keeper: Person
) -> None:
    Crimper.objects.create(site=site, code="C-taken")
    usual = {"site": str(site.pk), "code": "C-1", "calibrated_on": "2026-01-01"}
    assert words in sent_to(keeper, reverse("assemblies:crimper_add"), {**usual, name: typed})
    assert Crimper.objects.count() == 1


@pytest.mark.parametrize(("name", "typed", "words"), CALIBRATION)
def test_a_calibration_says_what_is_wrong(
    name: str, typed: str, words: str, site: Site, keeper: Person
) -> None:
    gauge = Instrument.objects.create(site=site, code="G-1")
    usual = {"calibrated_on": "2026-01-01", "due_on": "2027-01-01"}
    url = reverse("assemblies:instrument_calibrate", args=[gauge.pk])
    assert words in sent_to(keeper, url, {**usual, name: typed})
    gauge.refresh_from_db()
    assert gauge.calibrated_on is None


@pytest.mark.parametrize(
    ("url", "thing", "words"),
    [
        ("stock_withdraw", store.small_part, "Say why it is withdrawn"),
        (
            *("crimper_withdraw", lambda site: Crimper.objects.create(site=site, code="C")),
            "Say why it is withdrawn",
        ),
    ],
)
def test_withdrawing_asks_for_a_reason(
    url: str, thing: Callable[[Site], Any], words: str, site: Site, keeper: Person
) -> None:
    made = thing(site)
    address = reverse(f"assemblies:{url}", args=[made.pk])
    assert words in sent_to(keeper, address, {"reason": " "})
    made.refresh_from_db()
    assert made.withdrawn_at is None


@pytest.mark.parametrize(
    "query",
    [
        "standing=nothing",
        "site=9999",
        "site=x",
        "kind=hose",
        "after=[1]",
        "q=" + "x" * 500,
        "q=%00",
    ],
)
@pytest.mark.parametrize("page", ["reels", "stock"])
def test_a_list_takes_whatever_stands_in_its_address(
    page: str, query: str, site: Site, keeper: Person
) -> None:
    who = Client()
    who.force_login(keeper)
    assert who.get(f"{reverse(f'assemblies:{page}')}?{query}").status_code == 200
