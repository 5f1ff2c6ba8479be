"""The import's pages: sent, matched, looked at, confirmed; by whom, and by whom not."""

import re
from pathlib import Path
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from assemblies.actions.register import errands
from assemblies.models import Assembly, ColumnMemory, RegisterFile, RegisterRow
from fleet.actions.errands import claimable, run_errand
from fleet.models import Errand, Person, Site, TrailEntry
from tests import factories as make

from .yard import HEAD, take_in

pytestmark = pytest.mark.django_db
FOLDER = Path(__file__).parents[4] / "fixtures" / "imports"
GOOD = (HEAD, "EX-07,Boom,H1,1/2,1200,2021-05-01,", "EX-08,Arm,,3/4,900,,")
BAD = (*GOOD, "EX-08,Bucket,H3,rubbish,900,,")
UNSURE = (HEAD, "EX-07,Boom,H1,12,1200,03/04/2021,")


@pytest.fixture
def site() -> Site:
    return make.site(code="BQ", name="Blackmere Quarry")


@pytest.fixture
def planner(site: Site) -> Person:
    return make.person("planner", at=site)


@pytest.fixture
def at_desk(client: Client, planner: Person) -> Client:
    client.force_login(planner)
    return client


def send(client: Client, site: Site, content: bytes | tuple[str, ...], name: str = "a.csv") -> Any:
    data = content if isinstance(content, bytes) else "\n".join(content).encode()
    sent = {"site": site.pk, "file": SimpleUploadedFile(name, data)}
    return client.post(reverse("assemblies:registers"), sent)


def page(client: Client, name: str = "register", *, query: str = "") -> str:
    file = RegisterFile.objects.latest("pk")
    answer = client.get(reverse(f"assemblies:{name}", args=[file.pk]) + query)
    assert answer.status_code == 200
    return str(answer.content.decode())


def post(client: Client, name: str, **given: Any) -> Any:
    file = RegisterFile.objects.latest("pk")
    return client.post(reverse(f"assemblies:{name}", args=[file.pk]), given)


def test_nothing_is_written_before_it_is_confirmed(at_desk: Client, site: Site) -> None:
    send(at_desk, site, GOOD)
    shown = page(at_desk)
    assert "H1 · EX-07, Boom" in shown
    assert "machine EX-07, new" in shown
    assert not Assembly.objects.exists()
    post(at_desk, "register_confirm")
    assert Assembly.objects.count() == 2
    assert "2 new, 0 changed" in page(at_desk)


def test_questions_are_asked_answered_and_offered_next_time(at_desk: Client, site: Site) -> None:
    send(at_desk, site, UNSURE)
    shown = page(at_desk)
    assert "In what order stand day, month and year?" in shown
    assert "what do the bare numbers mean?" in shown
    answers = {"answer-size.notation": "dn", "answer-fitted.order": "dmy"}
    columns = {f"column-{c['letter']}": c["field"] for c in _found()["columns"]}
    post(at_desk, "register_columns", **columns, **answers)
    post(at_desk, "register_confirm")
    assert Assembly.objects.get().size_dn == 12
    assert ColumnMemory.objects.get().answers == {"size.notation": "dn", "fitted.order": "dmy"}
    send(at_desk, site, (UNSURE[0], UNSURE[1].replace("12,", "16,")))
    assert RegisterFile.objects.latest("pk").state == "read"  # offered, never taken unasked
    offered = re.search(r'<input[^>]*value="dn"[^>]*>', page(at_desk))
    assert offered is not None
    assert "checked" in offered[0]


def _found() -> dict[str, Any]:
    found: dict[str, Any] = RegisterFile.objects.latest("pk").counts["found"]
    return found


def test_columns_are_corrected_by_hand_and_remembered_for_the_site(
    at_desk: Client, site: Site
) -> None:
    lines = ("Machine,Position,Painted on it,Size", "EX-07,Boom,H1,1/2")
    send(at_desk, site, lines)
    columns = {"column-A": "machine", "column-B": "place", "column-C": "tag", "column-D": "size"}
    post(at_desk, "register_columns", **columns)
    post(at_desk, "register_confirm")
    assert Assembly.objects.get().owner_mark == "H1"
    send(at_desk, site, lines)
    assert _found()["columns"][2]["field"] == "tag"
    assert RegisterFile.objects.latest("pk").counts["same"] == 1


def test_refused_rows_need_a_stated_choice(at_desk: Client, site: Site) -> None:
    send(at_desk, site, BAD)
    assert "D4, Size" in page(at_desk, query="?outcome=refused")
    answer = post(at_desk, "register_confirm", take="none")
    assert answer.status_code == 422
    assert not Assembly.objects.exists()
    post(at_desk, "register_confirm", take="good")
    assert Assembly.objects.count() == 2
    assert "1 refused row was not taken" in page(at_desk)


@pytest.mark.parametrize("form", ["csv", "xlsx"])
def test_refused_rows_come_back_with_the_reason_last(
    at_desk: Client, site: Site, form: str
) -> None:
    from fleet.tabular import open_table

    send(at_desk, site, BAD)
    file = RegisterFile.objects.get()
    answer = at_desk.get(reverse("assemblies:register_refused", args=[file.pk, form]))
    rows = list(open_table(answer.content, name=f"a.{form}").rows())
    assert rows[1].cells[0].text == "EX-08"
    assert rows[1].cells[-1].text.startswith("D4: “rubbish” is no hose size")


def test_a_register_that_changed_meanwhile_is_shown_anew(at_desk: Client, site: Site) -> None:
    send(at_desk, site, GOOD)
    take_in(site, HEAD, "EX-07,Boom,H9,1/2,1200,,")
    post(at_desk, "register_confirm")
    file = RegisterFile.objects.get()
    assert (file.state, Assembly.objects.count()) == ("looked", 1)
    assert "The register has changed since these rows were looked through" in page(at_desk)
    assert file.counts["refused"] == 1


def test_a_change_that_touches_no_row_does_not_matter(at_desk: Client, site: Site) -> None:
    send(at_desk, site, GOOD)
    take_in(site, HEAD, "WL-01,Boom,Z1,1/2,1200,,")
    post(at_desk, "register_confirm")
    assert RegisterFile.objects.get().state == "written"


def test_confirming_twice_writes_once(at_desk: Client, site: Site) -> None:
    send(at_desk, site, GOOD)
    post(at_desk, "register_confirm")
    post(at_desk, "register_confirm")
    assert Assembly.objects.count() == 2
    assert TrailEntry.objects.filter(deed="imported a register").count() == 1


def test_a_file_put_aside_is_gone_from_the_list(at_desk: Client, site: Site) -> None:
    send(at_desk, site, GOOD)
    post(at_desk, "register_drop")
    at_desk.get(reverse("assemblies:registers"))  # which says so once
    assert "a.csv" not in str(at_desk.get(reverse("assemblies:registers")).content)
    assert not RegisterRow.objects.exists()


@pytest.mark.parametrize("path", sorted((FOLDER / "refused").iterdir()), ids=lambda path: path.name)
def test_hostile_files_are_refused_on_the_page(at_desk: Client, site: Site, path: Path) -> None:
    answer = send(at_desk, site, path.read_bytes(), path.name)
    assert answer.status_code == 422
    assert not RegisterFile.objects.exists()


def test_the_letters_of_a_file_are_asked_for(at_desk: Client, site: Site) -> None:
    send(at_desk, site, (FOLDER / "messy_western.csv").read_bytes())
    assert "Höhenverstellung" in page(at_desk)
    post(at_desk, "register_columns", encoding="cp1252")
    assert RegisterFile.objects.get().state == "looked"
    post(at_desk, "register_confirm")
    assert Assembly.objects.count() == 2


def test_a_file_without_a_header_can_be_given_one(at_desk: Client, site: Site) -> None:
    send(at_desk, site, ("Ding,Stelle,Nummer 7", "EX-07,Boom,H1"))
    assert "No header is recognised" in page(at_desk)
    post(at_desk, "register_columns", header_row=1)
    columns = {"column-A": "machine", "column-B": "place", "column-C": "tag"}
    post(at_desk, "register_columns", header_row=1, **columns)
    post(at_desk, "register_confirm")
    assert Assembly.objects.get().owner_mark == "H1"


def test_a_large_file_is_an_errand(
    at_desk: Client, site: Site, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(errands, "SMALL_TEXT_BYTES", 10)
    send(at_desk, site, GOOD)
    match_or_read = RegisterFile.objects.get()
    assert match_or_read.state in ("read", "looking")
    _do_errands()
    assert RegisterFile.objects.get().state == "looked"
    post(at_desk, "register_confirm")
    assert "being written" in page(at_desk)
    assert not Assembly.objects.exists()
    _do_errands()
    assert Assembly.objects.count() == 2
    assert set(
        Errand.objects.filter(kind__contains="register").values_list("state", flat=True)
    ) == {"done"}


def _do_errands() -> None:
    from django.utils import timezone

    for errand in list(claimable(timezone.now())):
        run_errand(errand_id=errand.pk, clock=timezone.now)


NAMES = ("register", "register_columns")
DEEDS = ("register_confirm", "register_drop")


def test_only_those_with_the_right_at_the_site_see_it(client: Client, site: Site) -> None:
    client.force_login(make.person("planner", at=site))
    send(client, site, GOOD)
    others = {
        "a stranger": make.person("planner", at=make.site()),
        "a fitter of the site": make.person("fitter", at=site),
    }
    for who, person in others.items():
        client.force_login(person)
        file = RegisterFile.objects.get()
        for name in NAMES:
            assert client.get(reverse(f"assemblies:{name}", args=[file.pk])).status_code == 404, who
        for name in DEEDS:
            url = reverse(f"assemblies:{name}", args=[file.pk])
            assert client.post(url, {}).status_code == 404, who
    assert RegisterFile.objects.get().state == "looked"


def test_a_colleague_with_the_right_may_confirm(client: Client, site: Site) -> None:
    client.force_login(make.person("planner", at=site))
    send(client, site, GOOD)
    client.force_login(make.person("planner", at=site))
    post(client, "register_confirm")
    assert Assembly.objects.count() == 2


def test_nobody_is_sent_to_the_log_in(client: Client) -> None:
    assert client.get(reverse("assemblies:registers")).status_code == 302
    assert client.get(reverse("assemblies:register", args=[1])).status_code == 302


def test_a_fitter_may_not_send_one(client: Client, site: Site) -> None:
    client.force_login(make.person("fitter", at=site))
    assert client.get(reverse("assemblies:registers")).status_code == 403


def test_a_site_of_others_can_not_be_sent_to(at_desk: Client) -> None:
    other = make.site()
    assert send(at_desk, other, GOOD).status_code == 422
    assert not RegisterFile.objects.exists()


def test_queries_of_the_rows_do_not_grow(at_desk: Client, site: Site) -> None:
    counts = []
    for size in (3, 60):
        send(at_desk, site, (HEAD, *(f"EX-07,P{n},H{n},1/2,,," for n in range(size))))
        page(at_desk)
        with CaptureQueriesContext(connection) as seen:
            page(at_desk)
        counts.append(len(seen))
    assert counts[0] == counts[1]


def test_rows_are_paged(at_desk: Client, site: Site) -> None:
    send(at_desk, site, (HEAD, *(f"EX-07,P{n},H{n},1/2,,," for n in range(60))))
    shown = page(at_desk)
    assert "Next rows" in shown
    assert "H59" not in shown


def test_what_a_text_says_is_never_markup(at_desk: Client, site: Site) -> None:
    send(at_desk, site, (HEAD, "EX-07,<script>x</script>,H1,1/2,,,", "EX-07,a,<b>,no,,,"))
    assert "<script>x" not in page(at_desk)
    assert "&lt;script&gt;x" in page(at_desk)
