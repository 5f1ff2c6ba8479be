"""The pages of the catalogue: found by any notation, added, looked up, approved, withdrawn."""

from decimal import Decimal
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from assemblies.actions.catalogue import HOSE
from assemblies.models import FittingRevision, HoseItem, HoseRevision, ShellRevision
from fleet.models import Person
from tests import factories as make
from tests.db.assemblies import spec_shop as shop

pytestmark = pytest.mark.django_db
HOSE_TYPED = {
    "code": "H-12",
    "maker": "Harrow Hose",
    "product": "H2",
    "standard_type": "2SN",
    "size_dn": "-8",
    "working_pressure_bar": "27.5 MPa",
    "reinforcement": "wire_braid",
    "layers": "2",
}


def client(*roles: str, person: Person | None = None) -> Client:
    made = Client()
    made.force_login(person or make.person(*roles, at=make.site()))
    return made


def shown(who: Client, name: str, *args: Any, **query: Any) -> str:
    response = who.get(reverse(f"assemblies:{name}", args=args), query)
    assert response.status_code == 200, response.status_code
    return response.content.decode()


def sent(who: Client, name: str, *args: Any, **data: Any) -> Any:
    return who.post(reverse(f"assemblies:{name}", args=args), data, follow=True)


@pytest.mark.parametrize(
    "typed",
    [
        *("DN12", "dn 12", "-8", '1/2"', "1/2", "12.7 mm", "12"),
        *("2SN", "R2AT -8", "harrow", "h2 dn12", "Ｈ-", "black"),
    ],
)
def test_a_hose_is_found_by_any_notation(typed: str) -> None:
    wanted = make.hose(note="black")
    other = make.hose(
        size_dn=25, standard_type="4SP", layers=4, maker="Other", product="Q9", state="approved"
    )
    HoseItem.objects.filter(pk=other.header_id).update(code="ZZ", code_key="zz")
    page = shown(client("fitter"), "catalogue", q=typed)
    assert f">{wanted.header}<" in page
    assert ">ZZ<" not in page


@pytest.mark.parametrize("typed", ["DKOS", "24° cone S", "S16", "M24×1.5", "heavy", "dkos -8"])
def test_a_fitting_is_found_by_its_connection(typed: str) -> None:
    wanted = make.fitting()
    other = make.fitting(connection="37° cone", connection_size="1 1/16-12", tail_dn=19)
    page = shown(client("fitter"), "catalogue", q=typed, kind="fitting")
    assert f">{wanted.header}<" in page
    assert f">{other.header}<" not in page


@pytest.mark.parametrize("typed", ["'; --", "%", "\\", "(", "\u202e", "x" * 300, "½", "\U0001f600"])
def test_an_odd_search_finds_nothing_and_breaks_nothing(typed: str) -> None:
    make.hose(), make.fitting(), shop.shell()
    response = client("fitter").get(reverse("assemblies:catalogue"), {"q": typed})
    assert response.status_code == 200


def test_a_search_keeps_no_nul() -> None:
    assert client("fitter").get("/catalogue/?q=%00&after=%00&kind=%00").status_code == 200


def test_a_withdrawn_and_a_replaced_revision_are_not_found_by_what_they_said() -> None:
    hose = make.hose(product="Oldname", state="replaced")
    assert f">{hose.header}<" not in shown(client("fitter"), "catalogue", q="Oldname")


def test_a_longer_catalogue_takes_no_more_queries() -> None:
    who, counts = client("planner"), []
    for size in (2, 9):
        for _ in range(size):
            make.hose(), make.fitting()
        with CaptureQueriesContext(connection) as asked:
            shown(who, "catalogue", q="dn12")
        counts.append(len(asked))
    assert counts[0] == counts[1]


def test_pages_of_one_kind_lead_on_to_the_end() -> None:
    codes = {str(make.hose().header) for _ in range(60)}
    who, seen, query = client("fitter"), set(), "?kind=hose"
    for _ in range(2):
        response = who.get(reverse("assemblies:catalogue") + query)
        page = response.context["shelves"][0][1]
        seen |= {line.code for line in page.rows}
        query = f"?{page.next_query}"
    assert seen == codes
    assert page.next_query == ""


def test_adding_a_hose_keeps_the_size_and_the_pressure_as_typed() -> None:
    sent(client("planner"), "item_add", "hose", **HOSE_TYPED)
    hose = HoseRevision.objects.get()
    assert (hose.size_dn, hose.working_pressure_bar) == (12, Decimal(275))
    assert (hose.printed_pressure, hose.state) == ("27.5 MPa", "draft")
    assert hose.rating_source.startswith("EN 853")


@pytest.mark.parametrize(
    ("name", "typed", "words"),
    [
        ("size_dn", "12", "could be DN19"),
        ("size_dn", "huge", "is no hose size"),
        ("working_pressure_bar", "300 bar", "275 bar: 300 bar is above it"),
        ("working_pressure_bar", "300 bananas", "stands none of"),
        ("layers", "three", "whole number"),
    ],
)
def test_a_hose_that_can_not_be_read_comes_back_with_the_reason(
    name: str, typed: str, words: str
) -> None:
    response = sent(client("planner"), "item_add", "hose", **{**HOSE_TYPED, name: typed})
    page = response.content.decode()
    assert words in page
    assert typed in page
    assert HoseRevision.objects.count() == 0


def test_looking_the_standard_up_saves_nothing_and_shows_document_edition_and_mark() -> None:
    response = sent(client("planner"), "item_add", "hose", **{**HOSE_TYPED, "look": "1"})
    page = response.content.decode()
    assert "275 bar" in page
    assert "EN 853, ISO 1436, edition not recorded" in page
    assert "seen in a public page that quotes the document" in page
    assert "from memory, verify; unverified" in page
    assert "Check against your copy and the maker&#x27;s data" in page
    assert "Not saved yet" not in page
    assert HoseRevision.objects.count() == 0


def test_looking_up_an_end_shows_its_row() -> None:
    typed = {"connection": "DKOL", "connection_size": "L22", "look": "1"}
    page = sent(client("planner"), "item_add", "fitting", **typed).content.decode()
    assert "160 bar" in page
    assert "ISO 8434-1, 2007" in page


def test_a_type_without_a_row_is_said_to_have_none() -> None:
    typed = {**HOSE_TYPED, "standard_type": "R17", "look": "1"}
    page = sent(client("planner"), "item_add", "hose", **typed).content.decode()
    assert "No table here has a row for this type and size" in page


def test_adding_a_fitting_and_a_shell() -> None:
    who = client("planner")
    fitting = {
        "code": "F-1",
        "maker": "Harrow Ends",
        "product": "E12",
        "connection": "DKOL",
        "connection_size": "L15",
        "form": "straight",
        "turns": "swivel_nut",
        "tail_dn": "DN13",
        "working_pressure_bar": "4568 psi",
        "rating_source": "Harrow Ends list 4",
        "allowance_mm": "45,5",
        "allowance_counts_from": "seat_to_seat",
    }
    sent(who, "item_add", "fitting", **fitting)
    made = FittingRevision.objects.get()
    assert (made.tail_dn, made.allowance_mm) == (12, Decimal("45.5"))
    assert (made.working_pressure_bar, made.printed_pressure) == (Decimal("314.95"), "4568 psi")
    shell = {"code": "S-1", "maker": "a", "product": "b", "tail_dn": "-8", "layers_made_for": "2"}
    sent(who, "item_add", "shell", **shell)
    assert ShellRevision.objects.get().tail_dn == 12


def test_a_tube_named_hose_is_sized_by_its_tube() -> None:
    typed = {**HOSE_TYPED, "standard_type": "100R5", "size_dn": "-8", "layers": "1"}
    sent(client("planner"), "item_add", "hose", **{**typed, "rating_source": "maker's list"})
    assert HoseRevision.objects.get().size_dn == 10


def test_the_page_of_an_item_shows_its_revisions_side_by_side() -> None:
    hose, who = make.hose(), client("planner")
    typed = {**HOSE_TYPED, "working_pressure_bar": "250 bar", "rating_source": "maker's list"}
    response = sent(who, "item_draft", "hose", hose.header_id, **typed)
    page = response.content.decode()
    assert "Revision 2 waits for approval" in page
    assert ">275 bar<" in page
    assert ">250 bar<" in page
    assert "What the standard says" in page


def test_approving_on_the_page_replaces_what_stood() -> None:
    hose = make.hose()
    draft = HoseRevision.objects.create(
        header=hose.header,
        number=2,
        maker="Harrow Hose",
        product="H2",
        standard_type="2SN",
        rating_source="maker",
        size_dn=12,
        working_pressure_bar=Decimal(260),
        layers=2,
        made_at=make.NOW,
    )
    seen = HOSE.fingerprint(HoseRevision.objects.get(pk=draft.pk))
    args = ("item_approve", "hose", hose.header_id, 2)
    assert "Someone changed this" in sent(client("manager"), *args, seen="x").content.decode()
    page = sent(client("manager"), *args, seen=seen).content.decode()
    assert "Revision 2 of" in page
    assert list(HoseRevision.objects.order_by("number").values_list("state", flat=True)) == [
        "replaced",
        "approved",
    ]


def test_a_draft_changed_meanwhile_by_another_is_not_overwritten() -> None:
    who = client("planner")
    sent(who, "item_add", "hose", **HOSE_TYPED)
    draft = HoseRevision.objects.get()
    args = ("item_change", "hose", draft.header_id, 1)
    old = HOSE.fingerprint(draft)
    sent(who, *args, **{**HOSE_TYPED, "product": "H3", "seen": old})
    page = sent(who, *args, **{**HOSE_TYPED, "product": "H4", "seen": old}).content.decode()
    assert "Someone changed this hose item meanwhile" in page
    assert HoseRevision.objects.get().product == "H3"


def test_a_new_pressure_leaves_no_stale_print_behind() -> None:
    who = client("planner")
    sent(who, "item_add", "hose", **HOSE_TYPED)
    draft = HoseRevision.objects.get()
    typed = {**HOSE_TYPED, "printed_pressure": "27.5 MPa", "working_pressure_bar": "250 bar"}
    typed |= {"rating_source": "maker's list", "seen": HOSE.fingerprint(draft)}
    sent(who, "item_change", "hose", draft.header_id, 1, **typed)
    assert HoseRevision.objects.get().printed_pressure == "250 bar"


def test_withdrawing_on_the_page_needs_its_reason() -> None:
    hose = make.hose()
    args = ("item_withdraw", "hose", hose.header_id, 1)
    assert "Say why it is withdrawn" in sent(client("manager"), *args).content.decode()
    sent(client("manager"), *args, reason="bad lot")
    assert HoseRevision.objects.get().withdrawal_reason == "bad lot"


ROUTES = [
    ("catalogue", ()),
    ("item", ("hose", 1)),
    ("item_add", ("hose",)),
    ("item_draft", ("hose", 1)),
    ("item_change", ("hose", 1, 1)),
]


@pytest.mark.parametrize(("name", "args"), ROUTES)
def test_nobody_sees_the_catalogue_without_a_log_in(name: str, args: tuple[Any, ...]) -> None:
    response = Client().get(reverse(f"assemblies:{name}", args=args))
    assert (response.status_code, response["Location"].split("?")[0]) == (302, "/login/")


@pytest.mark.parametrize(("name", "args"), ROUTES)
def test_someone_without_any_role_is_told_so(name: str, args: tuple[Any, ...]) -> None:
    hose = make.hose()
    swapped = tuple(hose.header_id if arg == 1 and n == 1 else arg for n, arg in enumerate(args))
    response = client(person=make.person()).get(reverse(f"assemblies:{name}", args=swapped))
    assert response.status_code == 403


@pytest.mark.parametrize(("role", "status"), [("planner", 200), ("fitter", 403), ("manager", 403)])
def test_each_role_reaches_the_forms_as_it_may(role: str, status: int) -> None:
    who, hose = client(role), make.hose()
    assert who.get(reverse("assemblies:item_add", args=["fitting"])).status_code == status
    draft = reverse("assemblies:item_draft", args=["hose", hose.header_id])
    assert who.get(draft).status_code == status
    assert shown(who, "item", "hose", hose.header_id)


def test_a_fitter_approves_and_withdraws_nothing() -> None:
    hose = make.hose()
    for name in ("item_approve", "item_withdraw"):
        response = sent(client("fitter"), name, "hose", hose.header_id, 1, reason="x", seen="x")
        assert response.status_code == 403


@pytest.mark.parametrize("name", ["item_approve", "item_withdraw"])
def test_nothing_is_approved_by_following_a_link(name: str) -> None:
    url = reverse(f"assemblies:{name}", args=["hose", make.hose().header_id, 1])
    assert client("manager").get(url).status_code == 405


@pytest.mark.parametrize(
    "path", ["catalogue/hose/999/", "catalogue/rope/1/", "catalogue/hose/999/revisions/1/change/"]
)
def test_what_is_not_there_is_not_found(path: str) -> None:
    assert client("planner").get(f"/{path}").status_code == 404


def test_text_of_people_is_shown_and_never_run() -> None:
    hose = make.hose(maker="<script>alert(1)</script>", note="P&ID «кран»")
    page = shown(client("fitter"), "item", "hose", hose.header_id)
    assert "<script>alert(1)" not in page
    assert "P&amp;ID «кран»" in page
