"""Every field of every form about hours, with each reason for which it is refused, in words."""

from collections.abc import Iterator
from typing import Any

import pytest
import time_machine
from django import forms
from django.test import Client
from django.urls import reverse

from fleet.forms.machines import DecisionForm, ReadingForm
from fleet.forms.meters import (
    AddMeterForm,
    CorrectionForm,
    MeterChangeForm,
    RolloverForm,
    SetAsideForm,
    UndoChangeForm,
)
from fleet.forms.telematics import MatchForm, ReasonForm, SearchForm, SourceForm, TakeBackForm
from fleet.forms.yard_readings import YardForm, YardRowForm
from fleet.models import HourReading, TelematicsMatch, TelematicsSource, TrailEntry
from tests import factories as make
from tests.db.fleet.hours_yard import NOW, HoursYard, hours_yard

pytestmark = pytest.mark.django_db

# What a form is filled with where all of it is right.
RIGHT: dict[str, dict[str, str]] = {
    "add": {"counts": "engine", "reading": "1300", "read_on": "2026-03-09"},
    "decide": {"verdict": "aside", "reason": "misread"},
    "correct": {"reading": "1244", "read": "2026-02-27 08:00", "reason": "misread"},
    "aside": {"reason": "misread"},
    "meter": {
        "counts": "engine",
        "on": "2026-03-05",
        "old_last": "1280",
        "new_first": "0",
        "rollover": "10000",
    },
    "undo": {"counts": "engine", "reason": "wrong machine"},
    "rollover": {"counts": "engine", "rollover": "10000"},
    "add meter": {"counts": "hydraulics", "rollover": ""},
    "add source": {
        "name": "South feed",
        "site": "HERE",
        "address": "https://data.other.example/fleet",
        "form": "xml",
        "asked": "daily",
        "credential_variable": "TELEMATICS_KEY_SOUTH",
    },
    "withdraw source": {"reason": "sold"},
    "match": {"machine": "HERE", "counts": "engine"},
    "match aside": {"reason": "hired out"},
    "take back": {"wrong": "no", "reason": "sold"},
}
FORMS: dict[str, type[forms.Form]] = {
    "add": ReadingForm,
    "decide": DecisionForm,
    "correct": CorrectionForm,
    "aside": SetAsideForm,
    "meter": MeterChangeForm,
    "undo": UndoChangeForm,
    "rollover": RolloverForm,
    "add meter": AddMeterForm,
    "add source": SourceForm,
    "withdraw source": ReasonForm,
    "match": MatchForm,
    "match aside": ReasonForm,
    "take back": TakeBackForm,
}
NEEDED = "This field is required."
NO_HOURS = "not a number"
CASES: list[tuple[str, str, str, str]] = [
    ("add", "counts", "", NEEDED),
    ("add", "counts", "hydraulics", "not one of the available choices"),
    ("add", "reading", "", NEEDED),
    ("add", "reading", "twelve", NO_HOURS),
    ("add", "reading", "-5", "below nothing"),
    ("add", "reading", "99999999999", "bigger than anything"),
    ("add", "reading", "5 km", "km"),
    ("add", "reading", "9" * 41, "at most 40 characters"),
    ("add", "read_on", "", NEEDED),
    ("add", "read_on", "9/3/2026", "could be two days"),
    ("add", "read_on", "Monday", "is not a day"),
    ("decide", "verdict", "", NEEDED),
    ("decide", "verdict", "maybe", "not one of the available choices"),
    ("decide", "reason", "", "Say why it is set aside."),
    ("decide", "reason", "x" * 301, "at most 300 characters"),
    ("correct", "reading", "", NEEDED),
    ("correct", "reading", "twelve", NO_HOURS),
    ("correct", "reading", "-5", "below nothing"),
    ("correct", "reading", "1240", "what stands there already"),
    ("correct", "reading", "99999999999", "bigger than anything"),
    ("correct", "read", "", NEEDED),
    ("correct", "read", "27/2/2026", "could be two days"),
    ("correct", "read", "2026-02-27 25:00", "is not a time of day"),
    ("correct", "read", "1066-10-14", "is not a day or a time"),
    ("correct", "read", "x" * 41, "at most 40 characters"),
    ("correct", "reason", "", NEEDED),
    ("correct", "reason", "x" * 301, "at most 300 characters"),
    ("aside", "reason", "", NEEDED),
    ("aside", "reason", "x" * 301, "at most 300 characters"),
    ("meter", "counts", "", NEEDED),
    ("meter", "counts", "hydraulics", "not one of the available choices"),
    ("meter", "on", "", NEEDED),
    ("meter", "on", "5/3/2026", "could be two days"),
    ("meter", "on", "2026-02-20", "counts on the present meter, after that day"),
    ("meter", "on", "2026-03-10", "still to come"),
    ("meter", "old_last", "", NEEDED),
    ("meter", "old_last", "twelve", NO_HOURS),
    ("meter", "old_last", "900", "run back"),
    ("meter", "old_last", "99999999999", "bigger than anything"),
    ("meter", "new_first", "", NEEDED),
    ("meter", "new_first", "-1", "below nothing"),
    ("meter", "rollover", "ten", NO_HOURS),
    ("meter", "rollover", "0", "can't begin again at 0"),
    ("meter", "new_first", "10000", "can't show that"),
    ("meter", "rollover", "99999999999", "bigger than anything"),
    ("undo", "counts", "", NEEDED),
    ("undo", "counts", "km", "not one of the available choices"),
    ("undo", "reason", "", NEEDED),
    ("undo", "reason", "x" * 301, "at most 300 characters"),
    ("rollover", "counts", "", NEEDED),
    ("rollover", "counts", "hydraulics", "not one of the available choices"),
    ("rollover", "rollover", "ten", NO_HOURS),
    ("rollover", "rollover", "0", "can't begin again at 0"),
    ("rollover", "rollover", "1000", "can't show that"),
    ("rollover", "rollover", "99999999999", "bigger than anything"),
    ("add meter", "counts", "", NEEDED),
    ("add meter", "counts", "engine", "has a meter of that kind"),
    ("add meter", "counts", "km", "not one of the available choices"),
    ("add meter", "rollover", "ten", NO_HOURS),
    ("add meter", "rollover", "0", "can't begin again at 0"),
    ("add source", "name", "", NEEDED),
    ("add source", "name", "NORTH feed", "already"),
    ("add source", "name", "x" * 61, "at most 60 characters"),
    ("add source", "name", "\u200b", "Give it a name"),
    ("add source", "site", "", NEEDED),
    ("add source", "site", "every", "not one of the available choices"),
    ("add source", "site", "999999", "not one of the available choices"),
    ("add source", "address", "", NEEDED),
    ("add source", "address", "data.other.example", "begins with https"),
    ("add source", "address", "http://data.other.example/", "can be read on the way"),
    ("add source", "address", "https://u:p@data.other.example/", "No name or password"),
    ("add source", "address", "https://data.other.example/?token=5", "held a secret"),
    ("add source", "address", "https://data.other.example/" + "x" * 500, "at most 500"),
    ("add source", "form", "", NEEDED),
    ("add source", "form", "csv", "not one of the available choices"),
    ("add source", "asked", "", NEEDED),
    ("add source", "asked", "weekly", "not one of the available choices"),
    ("add source", "credential_variable", "SECRET_KEY", "begins with TELEMATICS_KEY_"),
    ("add source", "credential_variable", "s3cret", "is not the secret"),
    ("add source", "credential_variable", "X" * 61, "at most 60 characters"),
    ("withdraw source", "reason", "", NEEDED),
    ("withdraw source", "reason", "x" * 301, "at most 300 characters"),
    ("match", "machine", "", "Choose the machine"),
    ("match", "machine", "999999", "Choose one of the machines"),
    ("match", "counts", "", NEEDED),
    ("match", "counts", "hydraulics", "has no meter of hydraulics hours"),
    ("match", "counts", "km", "not one of the available choices"),
    ("match aside", "reason", "", NEEDED),
    ("match aside", "reason", "x" * 301, "at most 300 characters"),
    ("take back", "wrong", "", NEEDED),
    ("take back", "wrong", "perhaps", "not one of the available choices"),
    ("take back", "reason", "", NEEDED),
    ("take back", "reason", "x" * 301, "at most 300 characters"),
]
# Fields that take anything, with the reason why.
ANYTHING: dict[str, set[str]] = {}


@pytest.fixture
def where(client: Client) -> Iterator[HoursYard]:
    with time_machine.travel(NOW, tick=False):
        found = hours_yard()
        client.force_login(found.planner)
        yield found


def _url(where: HoursYard, page: str) -> str:
    if page == "add":
        return reverse("fleet:reading_add", args=[where.machine.pk])
    if page == "decide":
        return reverse("fleet:reading_decide", args=[where.doubtful.pk])
    return where.pages()[page]


def _facts(where: HoursYard, page: str) -> dict[str, str]:
    here = {"site": str(where.site.pk), "machine": str(where.machine.pk)}
    return {k: here[k] if value == "HERE" else value for k, value in RIGHT[page].items()}


def _kept() -> tuple[int, ...]:
    tables = (HourReading, TelematicsMatch, TelematicsSource, TrailEntry)
    return tuple(table._base_manager.count() for table in tables)


@pytest.mark.parametrize(("page", "field", "typed", "words"), CASES)
def test_refuses_in_words_and_changes_nothing(
    client: Client, where: HoursYard, page: str, field: str, typed: str, words: str
) -> None:
    before = _kept()
    answer = client.post(_url(where, page), {**_facts(where, page), field: typed})
    assert answer.status_code == 200, "it was taken"
    form: Any = answer.context["form"]
    sentences = [str(error) for errors in form.errors.values() for error in errors]
    assert any(words in sentence for sentence in sentences), sentences
    assert form.errors.get(field) or form.non_field_errors()
    assert _kept() == before


@pytest.mark.parametrize("page", sorted(RIGHT))
def test_takes_what_is_right(client: Client, where: HoursYard, page: str) -> None:
    assert client.post(_url(where, page), _facts(where, page)).status_code == 302


@pytest.mark.parametrize("page", sorted(FORMS))
def test_every_field_has_its_rows(page: str) -> None:
    told = {field for name, field, _, _ in CASES if name == page}
    assert set(FORMS[page].base_fields) == told | ANYTHING.get(page, set())


YARD_CASES: list[tuple[str, str, str]] = [
    ("read", "", NEEDED),
    ("read", "9/3/2026", "could be two days"),
    ("read", "2026-03-09 08:01", "2026-03-09 08:01 is still to come"),
    ("read", "2026-03-10", "2026-03-10 is still to come"),
    ("read", "soon", "is not a day or a time"),
    ("read", "7:99", "is not a time of day"),
    ("read", "x" * 41, "at most 40 characters"),
]
ROW_CASES: list[tuple[str, str, str]] = [
    ("hours", "twelve", NO_HOURS),
    ("hours", "-5", "below nothing"),
    ("hours", "99999999999", "bigger than anything"),
    ("hours", "9" * 41, "at most 40 characters"),
    ("read", "9/3/2026", "could be two days"),
    ("read", "2026-03-10", "2026-03-10 is still to come"),
    ("read", "23:59", "2026-03-09 23:59 is still to come"),
    ("read", "x" * 41, "at most 40 characters"),
    ("corrects", "many", "whole number"),
    ("corrects", "0", "greater than or equal to 1"),
    ("corrects", "9" * 30, "less than or equal to"),
]


@pytest.mark.parametrize(("field", "typed", "words"), YARD_CASES)
def test_the_list_s_own_moment_is_refused_in_words(
    client: Client, where: HoursYard, field: str, typed: str, words: str
) -> None:
    box = f"{where.machine.meters.get().pk}-hours"
    before = _kept()
    answer = client.post(reverse("fleet:yard"), {field: typed, box: "1300"})
    assert any(words in error for error in answer.context["form"].errors[field])
    assert _kept() == before


@pytest.mark.parametrize(("field", "typed", "words"), ROW_CASES)
def test_a_row_of_the_list_is_refused_in_words(
    client: Client, where: HoursYard, field: str, typed: str, words: str
) -> None:
    meter = where.machine.meters.get().pk
    boxes = {f"{meter}-hours": "1300", f"{meter}-{field}": typed}
    before = _kept()
    answer = client.post(reverse("fleet:yard"), {"read": "2026-03-09 07:30", **boxes})
    row = next(row for row in answer.context["rows"] if row.row.meter_id == meter)
    assert (row.state, words in row.sentence) == ("refused", True), row.sentence
    assert _kept() == before


def test_every_box_of_the_list_has_its_rows() -> None:
    assert set(YardForm.base_fields) == {field for field, _, _ in YARD_CASES}
    assert set(YardRowForm.base_fields) == {field for field, _, _ in ROW_CASES}


@pytest.mark.parametrize("typed", ["", "  ", "%", "x" * 80, "ex-014' OR 1=1", "\u200b", "Ǆ"])
def test_anything_may_be_looked_for(client: Client, where: HoursYard, typed: str) -> None:
    assert set(SearchForm.base_fields) == {"q"}
    assert client.get(where.pages()["match"].partition("?")[0], {"q": typed}).status_code == 200


@pytest.mark.parametrize(
    ("change", "code"),
    [
        ({"machine": "elsewhere"}, "other_site"),
        ({"status": "sold"}, "not_current"),
        ({"withdrawn_at": NOW}, "not_current"),
        ({"counts": "hydraulics"}, "no_meter"),
        ({"matched": True}, "matched_already"),
        ({"other": True}, "machine_matched"),
    ],
)
def test_refuses_a_match_that_can_not_be(
    where: HoursYard, change: dict[str, Any], code: str
) -> None:
    from fleet.actions.refusals import Refused
    from fleet.actions.telematics_matches import match_machine
    from fleet.models import Machine

    boss, seen, machine = make.person("planner"), where.unmatched, where.machine
    if change.get("machine"):
        machine = make.machine()
    elif change.get("matched"):
        seen, machine = where.matched, where.machine
    elif change.get("other"):
        machine = where.changed
    elif "counts" not in change:
        Machine.objects.filter(pk=machine.pk).update(**change)
        machine.refresh_from_db()
    counts = change.get("counts", "engine")
    with pytest.raises(Refused) as refused:
        match_machine(seen=seen, machine=machine, counts=counts, person=boss, at=NOW)
    assert refused.value.code == code
