"""The papers' pages at a phone and at a desk: readable, reachable, silent; a sheet asked for."""

from collections.abc import Callable
from decimal import Decimal
from typing import Any

import pytest
from django.urls import reverse

from assemblies.actions.build_scrapping import amend_build
from assemblies.actions.papers import issue_certificate, issue_fitting_sheet
from assemblies.models import Assembly, FrozenPaper, Position
from assemblies.queries.fitting_sheets import FittingOrder
from tests import factories as make
from tests.browser.conftest import DESK, NARROWEST, PHONE, Visit
from tests.browser.test_every_page import SPILLED, TOO_SMALL, grave
from tests.db.assemblies import build_bench as bb

pytestmark = pytest.mark.django_db(transaction=True)
LONG = "Boom cylinder left, rod side, behind the guard plate of the upper clamp"


def place_for(at: bb.Bench) -> Position:
    """A position at the bench's site that requires what the bench builds."""
    return make.position(
        on=make.machine(at=at.site),
        **{"place": LONG, "required_spec": at.spec.header, "pressure_bar": Decimal(210)},
        **{"fluid": "HVLP 46", "lifting_needed": "boom stand, side guard off", "people": 2},
    )


def paths(at: bb.Bench) -> list[str]:
    """Every page of the papers, with something on it and with nothing."""
    place, build = place_for(at), bb.signed(at)
    hose = Assembly.objects.get(pk=build.assembly_id)
    old = make.fitted(on=place, owner_mark="BQ 17")
    amend_build(build=build, text="Reel R-2.", reason="Misread.", person=at.fitter, at=make.NOW)
    told: dict[str, Any] = {"address": "https://hoses.example", "person": at.fitter, "at": make.NOW}
    sheet = issue_fitting_sheet(order=FittingOrder(place, hose), **told)
    certificate = issue_certificate(hose=hose, **told)
    return [
        reverse("assemblies:position_fitting_sheet", args=[place.pk]),
        reverse("assemblies:hose_fitting_sheet", args=[hose.pk]),
        reverse("assemblies:hose_fitting_sheet", args=[make.stored(at=at.site).pk]),
        reverse("assemblies:fitting_sheet", args=[sheet.pk]),
        reverse("assemblies:hose_certificate", args=[hose.pk]),
        reverse("assemblies:hose_certificate", args=[old.pk]),
        reverse("assemblies:certificate", args=[certificate.pk]),
        reverse("assemblies:machine_book", args=[place.machine_id]),
        reverse("assemblies:hose_label", args=[hose.pk]),
        reverse("assemblies:position_sheet", args=[place.pk]),
    ]


@pytest.mark.parametrize(("size", "scheme"), [(NARROWEST, "light"), (DESK, "dark")])
def test_every_page_of_a_paper_is_readable_and_silent(
    visit: Callable[..., Visit], size: dict[str, int], scheme: str
) -> None:
    at = bb.bench()
    seen = visit(at.fitter, size, scheme=scheme)
    wrong: dict[str, object] = {}
    for path in paths(at):
        page = seen.open(path)
        faults = {
            "axe": grave(page),
            "spilled": page.evaluate(SPILLED),
            "small": page.evaluate(TOO_SMALL) if size["width"] < 500 else [],
            "console": list(seen.console),
        }
        seen.console.clear()
        if any(faults.values()):
            wrong[path] = {name: fault for name, fault in faults.items() if fault}
    assert not wrong


def test_a_sheet_is_asked_for_on_a_phone_and_leads_to_its_paper(
    visit: Callable[..., Visit],
) -> None:
    at = bb.bench()
    place = place_for(at)
    hose = Assembly.objects.get(pk=bb.signed(at).assembly_id)
    seen = visit(at.fitter, PHONE)
    page = seen.open(reverse("assemblies:position_fitting_sheet", args=[place.pk]))
    page.get_by_text(str(hose)).click()
    page.fill("[name=job]", "J-7")
    page.get_by_role("button", name="Issue the sheet").click()
    page.wait_for_selector("text=VERIFY ZERO")
    paper = FrozenPaper.objects.get()
    assert paper.assembly == hose
    href = page.get_by_role("link", name="PDF, A4").get_attribute("href")
    assert href == reverse("assemblies:fitting_sheet_pdf", args=[paper.pk]) + "?page=a4"
    assert seen.console == []
