"""The first loop, told once: log in, bring in a register, ask a date why, draw sheet and label."""

import io
from collections.abc import Callable

import pdfplumber
import pytest
from django.urls import reverse

from assemblies.models import Assembly, Position
from fleet.models import Machine, Person, Site
from scheduling.actions.due_dates import refresh_all
from tests import factories as make
from tests.browser.conftest import DESK, PHONE, Visit

pytestmark = pytest.mark.django_db(transaction=True)
WORD = "a long and quiet word"
REGISTER = (
    "Blackmere hoses;;;;;;\n"
    "Tag;Machine;Position;Size;WP bar;Built;Fitted\n"
    "G-001;EX-31;Boom lift left;1/2;275;2019-03-05;2019-03-25\n"
    "G-002;EX-31;Boom lift right;DN12;275;2023-04-06;2023-04-29\n"
    ";;;;;;\n"
    "Total;2;;;;;\n"
)


@pytest.fixture
def planner() -> Person:
    """A planner at a quarry with one machine whose left lift hose has an approved spec."""
    site: Site = make.site(code="BQ", name="Blackmere Quarry")
    machine: Machine = make.machine(at=site, fleet_number="EX-31")
    Position.objects.create(
        machine=machine, place="Boom lift left", walk_order=10, required_spec=make.spec()
    )
    make.life_rule(built_months=72, source="DIN 20066, normal duty")
    made = make.person("planner", "fitter", at=site)
    made.set_password(WORD)
    made.save()
    return made


@pytest.mark.parametrize("size", [PHONE, DESK], ids=["phone", "desk"])
def test_from_a_register_to_a_sheet_and_a_label(
    visit: Callable[..., Visit], planner: Person, size: dict[str, int]
) -> None:
    seen = visit(None, size)
    page = seen.open(reverse("assemblies:registers"))
    page.fill("[name=username]", planner.username)
    page.fill("[name=password]", WORD)
    page.click("text=Log in")
    table = {"name": "register.csv", "mimeType": "text/csv", "buffer": REGISTER.encode()}
    page.set_input_files("input[type=file]", table)  # type: ignore[arg-type]  # a typed dict there
    page.click("text=Look at it")
    assert not Assembly.objects.exists()
    page.click("text=Write all 2 rows")
    page.wait_for_selector("text=written")
    hose = Assembly.objects.get(owner_mark="G-001")
    refresh_all()

    page = seen.open(reverse("scheduling:due"))
    assert "G-001" in page.inner_text("main")
    page.click("text=Why? >> nth=0")
    said = page.inner_text("main")
    assert "DIN 20066" in said
    assert "5 Mar 2025" in said

    page = seen.open(reverse("assemblies:hose_sheet", args=[hose.pk]))
    page.click("main form button[type=submit]")
    page.wait_for_url("**/sheets/**")
    assert "275" in page.inner_text("main")
    pdf = seen.context.request.get(page.url.rstrip("/") + "/pdf/").body()
    with pdfplumber.open(io.BytesIO(pdf)) as paper:
        text = paper.pages[0].extract_text()
    assert "EX-31" in text
    assert "no recipe" in text.lower()

    seen.open(reverse("assemblies:tag", args=[hose.pk])).click("text=Bind it")
    hose.refresh_from_db()
    assert hose.tag_id is not None
    label = seen.open(reverse("assemblies:hose_label", args=[hose.pk]))
    asked = label.evaluate(
        "() => new URLSearchParams(new FormData(document.querySelector('main form'))).toString()"
    )
    sheet = seen.context.request.get(f"{label.url}?{asked}").body()
    with pdfplumber.open(io.BytesIO(sheet)) as paper:
        assert hose.tag_id in "".join(paper.pages[0].extract_text().split())

    quiet = [line for line in seen.console if not line.startswith(("log", "info"))]
    assert quiet == []
