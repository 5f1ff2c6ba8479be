"""Positions over the API, and a hose by its tag."""

from decimal import Decimal
from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from assemblies.actions.tags import bind_tag, draw_lot
from assemblies.models import Assembly, Tag
from tests import factories as make
from tests.api_client import Caller
from tests.db.assemblies import spec_shop as shop

pytestmark = pytest.mark.django_db


def tagged(hose: Assembly) -> str:
    fitter = make.person("fitter", at=hose.site)
    code: str = bind_tag(assembly=hose, typed="", person=fitter, at=make.NOW).tag_id or ""
    return code


def test_tells_a_position_with_its_duty_and_what_it_holds() -> None:
    place = make.position(pressure_bar=Decimal(280), circuit="working")
    hose = make.fitted(on=place, owner_mark="H-7", stay_from_earliest_on=make.TODAY)
    said = Caller(make.person("fitter", at=place.machine.site)).get(f"positions/{place.pk}/").said
    assert (said["pressure_bar"], said["surge_bar"], said["required_spec"]) == ("280.00", None, "")
    assert said["holds"]["assembly_id"] == hose.pk
    assert said["holds"]["fitted_earliest_on"] == make.TODAY.isoformat()


def test_tells_the_positions_of_the_persons_sites_only() -> None:
    mine, other = make.position(), make.position()
    caller = Caller(make.person("planner", at=mine.machine.site))
    assert [item["id"] for item in caller.get("positions/").said["items"]] == [mine.pk]
    foreign = caller.get(f"positions/{other.pk}/")
    assert foreign.status == 404
    assert foreign == caller.get("positions/999999/")


def test_walks_round_one_machine_page_by_page() -> None:
    machine = make.machine()
    places = [make.position(on=machine, walk_order=order) for order in (30, 10, 20, 10)]
    caller, seen, cursor = Caller(make.person("fitter", at=machine.site)), [], ""
    while cursor is not None:
        more = {"cursor": cursor} if cursor else {}
        asked = {"machine_id": machine.pk, "ordering": "walk_order", "page_size": 1, **more}
        told = caller.get("positions/", **asked).said
        seen += [item["id"] for item in told["items"]]
        cursor = told["next"]
    assert seen == [places[n].pk for n in (1, 3, 2, 0)]


@pytest.mark.parametrize(
    ("parameters", "code"),
    [
        ({"ordering": "walk_order"}, "walk_of_one_machine"),
        ({"machine_id": "x"}, "invalid"),
        ({"machine_id": str(2**63)}, "max_value"),
        ({"circuit": "steam"}, "unknown_word"),
        ({"site": "NOPE"}, "unknown_site"),
        ({"duty": "high"}, "unknown_parameter"),
    ],
)
def test_refuses_a_query_it_does_not_know(parameters: dict[str, str], code: str) -> None:
    answer = Caller(make.person("planner")).get("positions/", **parameters)
    assert (answer.status, answer.code) == (400, code)


def test_another_sites_code_is_refused_like_one_that_does_not_exist() -> None:
    caller, other = Caller(make.person("planner", at=make.site())), make.site()
    answer = caller.get("positions/", site=other.code)
    assert (
        answer.said["sentence"].replace(other.code, "NOPE")
        == (caller.get("positions/", site="NOPE").said["sentence"])
    )


@pytest.mark.parametrize("fact", ["circuit", "consequence", "exposure"])
def test_filters_by_what_is_given(fact: str) -> None:
    words = {"circuit": "steering", "consequence": "hurts", "exposure": "rocks"}
    facts: dict[str, Any] = {fact: words[fact]}
    wanted = make.position(**facts)
    make.position()
    told = Caller(make.person("planner")).get("positions/", **facts).said
    assert [item["id"] for item in told["items"]] == [wanted.pk]


def test_a_longer_list_takes_no_more_queries() -> None:
    machine = make.machine()
    caller, counts = Caller(make.person("planner", at=machine.site)), []
    for size in (1, 8):
        for _ in range(size):
            make.fitted(on=make.position(on=machine))
        with CaptureQueriesContext(connection) as asked:
            caller.get("positions/")
        counts.append(len(asked))
    assert counts[0] == counts[1]


def test_tells_a_hose_by_its_tag_with_where_it_is_and_what_binds_it() -> None:
    hose = make.fitted(spec=shop.approved())
    tag = tagged(hose)
    said = Caller(make.person("storeman", at=hose.site)).get(f"assemblies/{tag}/").said
    assert (said["id"], said["tag"], said["spec"]) == (hose.pk, tag, "S-1")
    assert said["working_pressure_bar"] == "275.00"
    assert "set by hose" in said["rating"]
    assert said["where"]["place"] == "position"


@pytest.mark.parametrize("written", [str.lower, lambda tag: f"{tag[:4]}-{tag[4:]}"])
def test_reads_a_tag_as_people_write_it(written: Any) -> None:
    hose = make.stored()
    caller = Caller(make.person("fitter", at=hose.site))
    assert caller.get(f"assemblies/{written(tagged(hose))}/").said["id"] == hose.pk


def test_an_unbound_or_foreign_tag_answers_like_one_never_drawn() -> None:
    site = make.site()
    person = make.person("fitter", at=site)
    draw_lot(site=site, size=1, person=person, at=make.NOW)
    caller = Caller(person)
    blank = caller.get(f"assemblies/{Tag.objects.get().code}/")
    foreign = caller.get(f"assemblies/{tagged(make.stored())}/")
    assert blank.status == 404
    assert blank == foreign


@pytest.mark.parametrize("typed", ["ABC", "0000000Z", "№7", "%00", "A" * 500])
def test_says_that_a_mistyped_tag_is_no_tag(typed: str) -> None:
    answer = Caller(make.person("fitter")).get(f"assemblies/{typed}/")
    assert (answer.status, answer.code, answer.said["field"]) == (400, "not_a_tag", "tag")


@pytest.mark.parametrize("path", ["positions/", "positions/1/", "assemblies/ABC/"])
def test_nobody_is_told_anything(path: str) -> None:
    assert Caller().get(path).status == 401


def test_more_hoses_take_no_more_queries_by_tag() -> None:
    counts = []
    for n in range(3):
        hose = make.fitted(spec=shop.approved(f"S-{n}"))
        tag, caller = tagged(hose), Caller(make.person("fitter", at=hose.site))
        with CaptureQueriesContext(connection) as asked:
            caller.get(f"assemblies/{tag}/")
        counts.append(len(asked))
    assert len(set(counts)) == 1
