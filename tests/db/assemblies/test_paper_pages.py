"""The pages of papers: sheets, labels and books, for the right person and for a stranger."""

import datetime as dt
import io
import re
from pathlib import Path
from typing import Any

import pdfplumber
import pytest
from django.core.management import CommandError, call_command
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from assemblies.actions.sheets import issue_book_sheets
from assemblies.actions.tags import bind_tag, draw_lot
from assemblies.models import ConditionalRelease, FrozenSheet, Position
from assemblies.queries.hose_books import book_file, book_plan
from fleet.actions.errands import run_errand
from fleet.models import Errand, Machine, Person, Site
from tests import factories as make
from tests.db.assemblies import spec_shop as shop

pytestmark = pytest.mark.django_db


def client(person: Person) -> Client:
    made = Client()
    made.force_login(person)
    return made


def fitter(at: Site) -> Client:
    return client(make.person("fitter", at=at))


def address(name: str, *args: Any) -> str:
    return reverse(f"assemblies:{name}", args=args)


def pdf_text(answer: Any) -> str:
    content = b"".join(answer.streaming_content) if answer.streaming else answer.content
    assert answer["Content-Type"] == "application/pdf"
    with pdfplumber.open(io.BytesIO(content)) as book:
        return "\n".join(page.extract_text() or "" for page in book.pages)


def ready_position(**facts: Any) -> Position:
    """A position whose required spec is approved and has its recipes."""
    hose, near, far = make.hose(), shop.end(), shop.end()
    for end in (near, far):
        shop.approved_recipe(hose, end)
    code = facts.pop("code", "S-1")
    spec = shop.approved(code, hose=hose, near=near, far=far)
    return make.position(required_spec=spec.header, **facts)


def test_a_sheet_is_asked_for_from_a_position_shown_and_printed() -> None:
    position = ready_position()
    who = fitter(position.machine.site)
    asked = who.get(address("position_sheet", position.pk))
    assert "S-1 revision 1" in asked.content.decode()
    wanted = {"quantity": "2", "job": "J-7"}
    answer = who.post(address("position_sheet", position.pk), wanted, follow=True)
    page = answer.content.decode()
    assert "Ø 24.60 ±0.10 mm" in page
    assert "Never search for a leak with a hand." in page
    sheet = FrozenSheet.objects.get()
    text = pdf_text(who.get(address("sheet_pdf", sheet.site_id, sheet.number)))
    assert f"BUILD SHEET {sheet.site.code} {sheet.number}" in text
    assert re.search("page 1 of ?2", text), "a row of boxes for each of two pieces"


def test_a_sheet_is_printed_on_letter_paper_where_it_is_asked_for() -> None:
    position = ready_position()
    who = fitter(position.machine.site)
    who.post(address("position_sheet", position.pk), {"quantity": "1"})
    answer = who.get(address("sheet_pdf", position.machine.site_id, 1), {"page": "letter"})
    with pdfplumber.open(io.BytesIO(answer.content)) as book:
        assert round(book.pages[0].width) == 612
    assert (
        who.get(address("sheet_pdf", position.machine.site_id, 1), {"page": "A0"}).status_code
        == 200
    )


def test_a_sheet_is_drawn_the_same_each_time_it_is_fetched() -> None:
    position = ready_position()
    who = fitter(position.machine.site)
    who.post(address("position_sheet", position.pk), {"quantity": "1"})
    where = address("sheet_pdf", position.machine.site_id, 1)
    assert who.get(where).content == who.get(where).content


def test_a_quantity_out_of_range_is_said_at_its_field() -> None:
    position = ready_position()
    who = fitter(position.machine.site)
    for typed in ("0", "201", "two", ""):
        answer = who.post(address("position_sheet", position.pk), {"quantity": typed})
        assert answer.status_code == 200
        assert "id_quantity_error" in answer.content.decode()
    assert not FrozenSheet.objects.exists()


def test_a_position_without_an_approved_spec_says_what_to_do_next() -> None:
    position = make.position()
    page = fitter(position.machine.site).get(address("position_sheet", position.pk))
    assert "No approved spec stands behind this" in page.content.decode()


def test_another_hose_is_built_by_the_sheet_of_this_one() -> None:
    position = ready_position()
    hose = make.fitted(on=position)
    who = fitter(hose.site)
    who.post(address("hose_sheet", hose.pk), {"quantity": "1"})
    assert FrozenSheet.objects.get().content["position"] == str(position)


def test_a_spec_is_put_on_a_sheet_for_one_of_the_persons_sites() -> None:
    position, here, there = ready_position(), make.site(), make.site()
    spec = position.required_spec
    assert spec is not None
    who = fitter(here)
    refused = who.post(address("spec_sheet", spec.pk), {"quantity": "1", "site": there.pk})
    assert refused.status_code == 200
    assert not FrozenSheet.objects.exists()
    who.post(address("spec_sheet", spec.pk), {"quantity": "1", "site": here.pk})
    assert FrozenSheet.objects.get().site == here


def test_the_codes_on_a_sheet_open_its_spec_and_its_page() -> None:
    position = ready_position()
    who = fitter(position.machine.site)
    who.post(address("position_sheet", position.pk), {"quantity": "1"})
    sheet = FrozenSheet.objects.get()
    spec = who.get(sheet.content["spec_link"].replace("http://testserver", ""))
    assert spec["Location"] == address("spec_revision", sheet.spec.header_id, 1)
    page = who.get(sheet.content["job_link"].replace("http://testserver", "").upper())
    assert page["Location"] == address("sheet", sheet.site_id, sheet.number)


def test_every_paper_is_kept_from_a_stranger_and_from_nobody() -> None:
    position = ready_position()
    hose = make.fitted(on=position)
    machine, site = position.machine, position.machine.site
    fitter(site).post(address("position_sheet", position.pk), {"quantity": "1"})
    lot = draw_lot(site=site, size=1, person=make.person("fitter", at=site), at=make.NOW)
    kept = [
        address("position_sheet", position.pk),
        address("hose_sheet", hose.pk),
        address("sheet", site.pk, 1),
        address("sheet_pdf", site.pk, 1),
        f"/B/{site.pk}/1",
        address("machine_book", machine.pk),
        address("hose_label", hose.pk),
        address("machine_labels", machine.pk),
        address("lot_labels", lot.pk),
    ]
    stranger = fitter(make.site())
    assert {stranger.get(where).status_code for where in kept} == {404}
    assert all("/login/" in Client().get(where)["Location"] for where in kept)
    missing = [stranger.get(where.replace("/1", "/999999")).status_code for where in kept[2:5]]
    assert set(missing) == {404}


def book_of(machine: Machine, who: Client) -> Errand:
    answer = who.post(address("machine_book", machine.pk), {"page": "a4"})
    errand = Errand.objects.get(kind="hose_book")
    assert answer["Location"] == address("book", errand.pk)
    return errand


def test_a_book_is_drawn_outside_the_request_and_fetched_by_who_asked(
    settings: Any, tmp_path: Path
) -> None:
    settings.MEDIA_ROOT = tmp_path
    position = ready_position()
    machine = position.machine
    make.position(on=machine, required_spec=position.required_spec)
    make.position(on=machine)
    person = make.person("fitter", at=machine.site)
    who = client(person)
    asked = who.get(address("machine_book", machine.pk)).content.decode()
    assert "Draw the book, 1 sheet<" in asked
    errand = book_of(machine, who)
    assert "being drawn" in who.get(address("book", errand.pk)).content.decode()
    assert run_errand(errand_id=errand.pk, clock=timezone.now)
    assert "The book is drawn" in who.get(address("book", errand.pk)).content.decode()
    text = pdf_text(who.get(address("book_pdf", errand.pk)))
    assert re.search("page 1 of ?3", text)
    assert "no specification yet" in text
    assert text.count("CRIMP OD A") == 1
    colleague = fitter(machine.site)
    assert colleague.get(address("book", errand.pk)).status_code == 404
    assert colleague.get(address("book_pdf", errand.pk)).status_code == 404


def test_a_book_names_a_spec_that_it_leaves_out() -> None:
    position = make.position(required_spec=shop.draft("S-3").header)
    plan = book_plan(position.machine)
    assert plan.specs == ()
    assert plan.left_out == ("S-3 has no approved revision: no sheet is drawn from it.",)
    assert [entry.no_sheet for entry in plan.entries] == ["S-3: not approved"]
    who = fitter(position.machine.site)
    assert (
        "would have no sheet"
        in who.get(address("machine_book", position.machine_id)).content.decode()
    )


def test_a_book_and_each_of_its_sheets_carry_the_releases_of_its_machine(
    settings: Any, tmp_path: Path
) -> None:
    settings.MEDIA_ROOT = tmp_path
    position = ready_position()
    hose = make.fitted(on=position, owner_mark="BQ 17")
    ConditionalRelease.objects.create(
        assembly=hose,
        authority=make.person(),
        released_at=make.NOW,
        reason="breakdown",
        limits="120 bar",
        replace_by_on=dt.date(2026, 3, 12),
    )
    who = fitter(position.machine.site)
    errand = book_of(position.machine, who)
    assert run_errand(errand_id=errand.pk, clock=timezone.now)
    with pdfplumber.open(book_file(errand.pk)) as book:
        told = ["CONDITIONAL RELEASE on this machine: BQ 17" in (page.extract_text() or "")
                for page in book.pages]  # fmt: skip
    assert told == [True, True, False], "contents and sheet; the index is a list of names"
    assert FrozenSheet.objects.get().content["machine"] == str(position.machine)


def test_the_book_of_another_machine_takes_sheets_of_its_own() -> None:
    position = ready_position()
    spec = position.required_spec
    assert spec is not None
    specs, site = [spec.revisions.get(state="approved")], position.machine.site
    machines = [make.machine(at=site) for _ in range(7)]
    facts: Any = {"specs": specs, "site": site, "address": "", "person": None, "at": make.NOW}
    first = [issue_book_sheets(machine=machine, **facts) for machine in machines]
    again = [issue_book_sheets(machine=machine, **facts) for machine in machines]
    assert first == again
    assert FrozenSheet.objects.count() == 7


def test_the_plan_of_a_book_takes_no_more_queries_for_more_positions() -> None:
    machine = make.machine()
    counts = []
    for turn in range(2):
        for n in range(3):
            ready_position(on=machine, code=f"S-{turn}{n}")
        with CaptureQueriesContext(connection) as run:
            assert len(book_plan(machine).specs) == 3 * (turn + 1)
        counts.append(len(run))
    assert counts[0] == counts[1]


def test_the_command_writes_a_sheet_by_spec_and_by_tag(tmp_path: Path, capsys: Any) -> None:
    position = ready_position()
    hose = make.fitted(on=position)
    bind_tag(assembly=hose, typed="", person=None, at=make.NOW)
    hose.refresh_from_db()
    for named in ("s-1", str(hose.tag_id)):
        out = tmp_path / f"{named}.pdf"
        call_command("build_sheet", named, out=str(out), site=hose.site.code, page="Letter")
        assert out.read_bytes().startswith(b"%PDF")
    assert "Build sheet" in capsys.readouterr().out
    assert FrozenSheet.objects.count() == 2


@pytest.mark.parametrize(
    ("named", "options", "words"),
    [
        ("S-77", {}, "neither a tag nor the code of an approved spec"),
        ("S-1", {"page": "A5"}, "not a paper size here"),
        ("S-1", {"site": "NONE"}, "Name the site that builds"),
        ("S-1", {"quantity": 0}, "A sheet is for 1 to 200 pieces"),
        ("S-1", {"out": "/nowhere/at/all.pdf"}, "cannot be written"),
    ],
)
def test_the_command_says_what_is_wrong(
    named: str, options: dict[str, Any], words: str, tmp_path: Path
) -> None:
    site = ready_position().machine.site
    given = {"out": str(tmp_path / "x.pdf"), "site": site.code, **options}
    with pytest.raises(CommandError, match=words):
        call_command("build_sheet", named, **given)
