"""Each box of the failure pages, and what it refuses in words."""

from typing import Any

import pytest
from django import forms
from django.core.files.uploadedfile import SimpleUploadedFile
from django.utils.datastructures import MultiValueDict

from scheduling.forms.failures import BackForm, CompleteForm, DownForm, ReportForm
from scheduling.forms.report import CauseForm, ReportScopeForm
from tests import factories as make

pytestmark = pytest.mark.django_db
REPORT = {"mode": "burst", "down": "down", "on": "2026-03-09", "client_id": "one"}
COMPLETE = {"cause": "age", "cause_stated": "supposed", "fire": "none", "version": "1"}
DOWN = {"planned": "no", "reason": "engine", "on": "2026-03-09"}
BACK = {"on": "2026-03-09"}
LONG = "x" * 1001

CASES: list[tuple[type[forms.Form], dict[str, str], str, str, str]] = [
    (ReportForm, REPORT, "mode", "exploded", "Select a valid choice"),
    (ReportForm, REPORT, "mode", "", "required"),
    (ReportForm, REPORT, "down", "", "required"),
    (ReportForm, REPORT, "down", "sideways", "Select a valid choice"),
    (ReportForm, REPORT, "on", "", "required"),
    (ReportForm, REPORT, "on", "9/3/2026", "could be two days"),
    (ReportForm, REPORT, "on", "yesterday", "is not a day"),
    (ReportForm, REPORT, "time", "half past", "is not a time: write 14:30"),
    (ReportForm, REPORT, "time", "25:00", "is not a time: write 14:30"),
    (ReportForm, REPORT, "note", LONG, "at most 1000 characters"),
    (ReportForm, REPORT, "client_id", "", "required"),
    (ReportForm, REPORT, "client_id", "x" * 37, "at most 36 characters"),
    (CompleteForm, COMPLETE, "cause", "gremlins", "Select a valid choice"),
    (CompleteForm, COMPLETE, "cause", "", "required"),
    (CompleteForm, COMPLETE, "cause_stated", "guessed", "Select a valid choice"),
    (CompleteForm, COMPLETE, "machine_h", "many", "hours"),
    (CompleteForm, COMPLETE, "oil_lost_l", "a puddle", "not a plain figure"),
    (CompleteForm, COMPLETE, "oil_lost_l", "-4", "not a plain figure"),
    (CompleteForm, COMPLETE, "oil_cleaned_up", "x" * 301, "at most 300 characters"),
    (CompleteForm, COMPLETE, "fire", "perhaps", "Select a valid choice"),
    (CompleteForm, COMPLETE, "harm", "x" * 301, "at most 300 characters"),
    (CompleteForm, COMPLETE, "cost", "dear", "not a plain figure"),
    (CompleteForm, COMPLETE, "claim_on", "x" * 121, "at most 120 characters"),
    (CompleteForm, COMPLETE, "claim", "x" * 301, "at most 300 characters"),
    (CompleteForm, COMPLETE, "note", LONG, "at most 1000 characters"),
    (CompleteForm, COMPLETE, "version", "", "required"),
    (CompleteForm, COMPLETE, "version", "first", "whole number"),
    (DownForm, DOWN, "planned", "", "required"),
    (DownForm, DOWN, "planned", "maybe", "Select a valid choice"),
    (DownForm, DOWN, "reason", "", "required"),
    (DownForm, DOWN, "reason", "x" * 501, "at most 500 characters"),
    (DownForm, DOWN, "on", "", "required"),
    (DownForm, DOWN, "on", "3/9/26", "could be two days"),
    (DownForm, DOWN, "time", "noonish", "is not a time"),
    (DownForm, DOWN, "to_on", "tomorrow", "is not a day"),
    (DownForm, DOWN, "to_time", "late", "is not a time"),
    (BackForm, BACK, "on", "", "required"),
    (BackForm, BACK, "on", "now", "is not a day"),
    (BackForm, BACK, "time", "soon", "is not a time"),
    (CauseForm, {}, "cause", "gremlins", "Select a valid choice"),
]
SENT = {"photos": "photos are refused by what reads them, tested where they are kept"}


@pytest.mark.parametrize(("form", "whole", "field", "typed", "sentence"), CASES)
def test_a_box_refuses_in_words(
    form: type[forms.Form], whole: dict[str, str], field: str, typed: str, sentence: str
) -> None:
    filled = form({**whole, field: typed})
    assert not filled.is_valid()
    assert sentence in str(filled.errors[field])


@pytest.mark.parametrize("form", [ReportForm, CompleteForm, DownForm, BackForm, CauseForm])
def test_every_box_has_a_case(form: type[forms.Form]) -> None:
    asked = {field for kind, _, field, _, _ in CASES if kind is form}
    assert asked | (set(SENT) & set(form.base_fields)) == set(form.base_fields)


@pytest.mark.parametrize(
    ("form", "whole"),
    [(ReportForm, REPORT), (CompleteForm, COMPLETE), (DownForm, DOWN), (BackForm, BACK)],
)
def test_what_is_asked_for_is_enough(form: type[forms.Form], whole: dict[str, str]) -> None:
    assert form(whole).is_valid()


def test_too_many_photos_at_once_are_refused() -> None:
    files: MultiValueDict[str, Any] = MultiValueDict(
        {"photos": [SimpleUploadedFile(f"{n}.jpg", b"x") for n in range(9)]}
    )
    form = ReportForm(REPORT, files)
    assert "more than 8 at once" in str(form.errors["photos"])


def test_every_box_of_the_report_s_scope_is_asked_elsewhere() -> None:
    """The refusals of period and scope are asked at the page (test_report)."""
    person = make.person("manager", at=make.site())
    form = ReportScopeForm({}, person=person, today=make.TODAY)
    assert set(form.fields) == {"from_on", "to_on", "site", "machine_class"}
