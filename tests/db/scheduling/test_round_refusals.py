"""Every field of a round's and a registration's forms, and every reason to refuse it."""

from typing import Any

import pytest
from django.forms import Form
from django.test import Client
from django.urls import reverse

from assemblies.models import Assembly
from fleet.actions.refusals import Refused
from scheduling.actions.baselining import tell_empty
from scheduling.actions.rounds import begin_round
from scheduling.forms.baselining import EmptyForm, RegisterForm, SettleForm
from scheduling.forms.catch_up import CatchUpForm
from scheduling.forms.rounds import BackForm, BeginForm, LookForm, RestForm
from scheduling.models import CatchUpPlan, Inspection, Round
from tests import factories as make
from tests.db.fleet.photo_files import sent
from tests.db.scheduling.yard import Yard, yard

pytestmark = pytest.mark.django_db
NOW, TODAY = make.NOW, make.TODAY
ID = "0123456789abcdef0123"
Case = tuple[str, dict[str, Any], str]
_ID: list[Case] = [
    ("client_id", {"client_id": ""}, "This field is required"),
    ("client_id", {"client_id": "short"}, "Enter a valid value"),
    ("client_id", {"client_id": "x" * 25}, "Enter a valid value"),
    ("looked_at", {"looked_at": "x" * 41}, "at most 40 characters"),
]
_FOUND: list[Case] = [
    ("what", {"what": ["no such thing"]}, "Select a valid choice"),
    ("what", {"verdict": "recheck", "by_on": "2999-01-01"}, "Tick what was found"),
    ("verdict", {"what": ["twisted"], "verdict": "shrug"}, "Select a valid choice"),
    ("verdict", {"what": ["wrong part fitted"]}, "The checklist has no answer"),
    ("by_on", {"what": ["twisted"], "verdict": "replace"}, "Say by which day"),
    ("by_on", {"what": ["twisted"], "by_on": "2999-01-01"}, "A day goes with"),
    ("by_on", {"what": ["twisted"], "verdict": "replace", "by_on": "9/3/26"}, "could be two days"),
    (
        "by_on",
        {"what": ["clamp loose"], "verdict": "replace", "by_on": "2020-01-01", "note": "x"},
        "is before the look",
    ),
    ("note", {"what": ["something else"], "verdict": "out_now"}, "Say what it is"),
    ("note", {"what": ["twisted"], "note": "x" * 501}, "at most 500 characters"),
    ("note", {"what": ["twisted"], "verdict": "keep"}, "The checklist is stricter"),
    ("photos", {"what": ["twisted"], "photos": sent(b"no picture")}, "can’t be read as a photo"),
]
LOOK: list[Case] = [
    *_ID,
    *_FOUND,
    ("hose", {"hose": ""}, "This field is required"),
    ("hose", {"hose": "a hose"}, "Enter a whole number"),
    ("answer", {"answer": ""}, "This field is required"),
    ("answer", {"answer": "maybe"}, "Select a valid choice"),
    ("what", {"what": []}, "Tick what was found"),
    ("what", {"what": ["twisted"], "answer": "fine"}, "Something is ticked"),
]
REST: list[Case] = [
    *_ID,
    ("hoses", {"hoses": ""}, "This field is required"),
    ("hoses", {"hoses": "1,two"}, "can’t be read"),
    ("hoses", {"hoses": ",".join(["1234567"] * 1001)}, "at most 8000 characters"),
]
BACK: list[Case] = [
    *_ID,
    ("look", {"look": ""}, "This field is required"),
    ("look", {"look": "x"}, "Enter a whole number"),
]
REGISTER: list[Case] = [
    *_ID,
    *_FOUND,
    ("position", {"position": "x"}, "Enter a whole number"),
    ("place", {"position": "", "place": ""}, "Say where on the machine"),
    ("place", {"position": "", "place": "x" * 121}, "at most 120 characters"),
    ("place", {"position": "", "place": "Boom lift, rod side"}, "give it another number"),
    ("circuit", {"circuit": "none such"}, "Select a valid choice"),
    ("consequence", {"consequence": "none such"}, "Select a valid choice"),
    ("tag", {"tag": "ZZZZZZZZ"}, "check character"),
    ("tag", {"tag": "x" * 201}, "at most 200 characters"),
    ("layline", {"layline": "x" * 201}, "at most 200 characters"),
    ("layline", {"layline": "ANOTHER/EN 853"}, "The register has"),
    ("stamp", {"stamp": "x" * 61}, "at most 60 characters"),
    ("stamp", {"stamp": "1702"}, "The register has"),
    ("owner_mark", {"owner_mark": "x" * 61}, "at most 60 characters"),
    ("owner_mark", {"owner_mark": "OTHER"}, "The register has"),
    ("made", {"made": "x" * 41}, "at most 40 characters"),
    ("built", {"built": "x" * 41}, "at most 40 characters"),
    ("size", {"size": "x" * 11}, "at most 10 characters"),
    ("answer", {"answer": ""}, "This field is required"),
    ("answer", {"answer": "maybe"}, "Select a valid choice"),
    ("answer", {"answer": "fine", "what": ["twisted"]}, "Something is ticked"),
    ("what", {"what": []}, "Tick what was found"),
]
EMPTY: list[Case] = [
    *_ID,
    ("position", {"position": ""}, "Say which place"),
    ("position", {"position": "x"}, "Enter a whole number"),
    ("position", {}, "take it off on the position"),
]
BEGIN: list[Case] = [
    ("occasion", {"occasion": "boredom"}, "Select a valid choice"),
    ("event", {"occasion": "something else"}, "Say in a few words"),
    ("event", {"event": "hit a wall"}, "This belongs to"),
    ("event", {"occasion": "something else", "event": "x" * 61}, "at most 60 characters"),
    ("inspector", {"inspector": "x" * 121}, "at most 120 characters"),
    ("reading", {"reading": "twelve"}, "twelve"),
]
PLAN: list[Case] = [
    ("site", {"site": ""}, "This field is required"),
    ("site", {"site": "999999"}, "Select a valid choice"),
    ("from_on", {"from_on": ""}, "This field is required"),
    ("from_on", {"from_on": "9/3/2026"}, "could be two days"),
    ("from_on", {"from_on": "2020-01-01"}, "is past"),
    ("weeks", {"weeks": ""}, "This field is required"),
    ("weeks", {"weeks": "0"}, "greater than or equal to 1"),
    ("weeks", {"weeks": "261"}, "less than or equal to 260"),
    ("a_week", {"a_week": "0"}, "greater than or equal to 1"),
    ("a_week", {"a_week": "501"}, "less than or equal to 500"),
    ("a_week", {"a_week": "two"}, "Enter a whole number"),
]
TABLES: dict[type[Form], list[Case]] = {
    LookForm: LOOK,
    RestForm: REST,
    BackForm: BACK,
    RegisterForm: REGISTER,
    EmptyForm: EMPTY,
    BeginForm: BEGIN,
    CatchUpForm: PLAN,
}


@pytest.fixture
def where() -> Yard:
    found = yard()
    Assembly.objects.update(layline="HARROW/EN 853/2SN", built_typed="1606")
    return found


@pytest.mark.parametrize("form", TABLES, ids=lambda form: form.__name__)
def test_every_field_has_its_refusals(form: type[Form]) -> None:
    assert {field for field, _, _ in TABLES[form]} == set(form.base_fields)


def test_the_form_of_readings_is_all_or_nothing() -> None:
    """Two buttons of a page: what they send is theirs, or it is not there."""
    assert set(SettleForm.base_fields) == {"asks", "answer"}
    assert not SettleForm({"asks": "colour", "answer": "x"}).is_valid()
    assert not SettleForm({"asks": "made", "answer": "x" * 41}).is_valid()


def told(client: Client, where: Yard, name: str, given: dict[str, Any]) -> str:
    """What a round's page answers a script."""
    register = name in ("register_told", "register_empty")
    held = begin_round(
        machine=where.machine,
        purpose="register" if register else "inspect",
        person=where.planner,
        today=TODAY,
        at=NOW,
    )
    client.force_login(where.planner)
    url = reverse(f"scheduling:{name}", args=[held.pk])
    answer = client.post(url, given, headers={"accept": "application/json"})
    assert answer.status_code == 422, answer.content
    assert not Inspection.objects.exists()
    return str(answer.json()["refused"])


@pytest.mark.parametrize(("field", "typed", "sentence"), LOOK)
def test_refuses_a_look(
    client: Client, where: Yard, field: str, typed: dict[str, Any], sentence: str
) -> None:
    given = {"client_id": ID, "hose": where.hose.pk, "answer": "found", **typed}
    if field in ("client_id", "looked_at", "hose"):
        given.setdefault("what", ["twisted"])
    if field == "answer":
        given["what"] = []
    assert sentence in told(client, where, "round_look", given)


@pytest.mark.parametrize(("field", "typed", "sentence"), REST)
def test_refuses_the_rest(
    client: Client, where: Yard, field: str, typed: dict[str, Any], sentence: str
) -> None:
    given = {"client_id": ID, "hoses": str(where.hose.pk), **typed}
    assert sentence in told(client, where, "round_rest", given), field


@pytest.mark.parametrize(("field", "typed", "sentence"), BACK)
def test_refuses_to_take_back(
    client: Client, where: Yard, field: str, typed: dict[str, Any], sentence: str
) -> None:
    given = {"client_id": ID, "look": "1", **typed}
    assert sentence in told(client, where, "round_back", given), field


@pytest.mark.parametrize(("field", "typed", "sentence"), REGISTER)
def test_refuses_a_hose_found(
    client: Client, where: Yard, field: str, typed: dict[str, Any], sentence: str
) -> None:
    given = {"client_id": ID, "position": where.position.pk, "answer": "found", **typed}
    if field not in ("what", "verdict", "by_on", "note", "photos", "answer"):
        given["answer"] = "fine"
    assert sentence in told(client, where, "register_told", given)


@pytest.mark.parametrize(("field", "typed", "sentence"), EMPTY)
def test_refuses_a_place_without_a_hose(
    client: Client, where: Yard, field: str, typed: dict[str, Any], sentence: str
) -> None:
    given = {"client_id": ID, "position": where.position.pk, **typed}
    assert sentence in told(client, where, "register_empty", given), field


@pytest.mark.parametrize(("field", "typed", "sentence"), BEGIN)
def test_refuses_to_begin(
    client: Client, where: Yard, field: str, typed: dict[str, Any], sentence: str
) -> None:
    client.force_login(where.planner)
    url = reverse("scheduling:round_begin", args=[where.machine.pk])
    assert sentence in client.post(url, typed).content.decode(), field
    assert not Round.objects.exists()


@pytest.mark.parametrize(("field", "typed", "sentence"), PLAN)
def test_refuses_a_plan(
    client: Client, where: Yard, field: str, typed: dict[str, Any], sentence: str
) -> None:
    client.force_login(where.planner)
    given = {"site": where.site.pk, "from_on": "2999-01-01", "weeks": "4", "a_week": "2", **typed}
    page = client.post(reverse("scheduling:catch_up_add"), given).content.decode()
    assert sentence in page, field
    assert not CatchUpPlan.objects.exists()


def test_refuses_an_empty_place_of_a_finished_round(where: Yard) -> None:
    held = begin_round(
        machine=where.machine, purpose="register", person=where.planner, today=TODAY, at=NOW
    )
    Round.objects.update(finished_at=NOW)
    bare = make.position(on=where.machine)
    with pytest.raises(Refused, match="begin another"):
        tell_empty(round_=held, position=bare, person=where.planner, at=NOW)
