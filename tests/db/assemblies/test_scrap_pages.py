"""A hose in store or on the bench is scrapped by its page, for good, by who may."""

import datetime as dt
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from assemblies.forms.scrapping import ScrapForm
from assemblies.models import Assembly
from tests import factories as make
from tests.db.assemblies import build_bench as bb

pytestmark = pytest.mark.django_db
TODAY = dt.datetime.now(dt.UTC).date()


def address(hose: Assembly) -> str:
    return reverse("assemblies:scrap", args=[hose.pk])


def desk(hose: Assembly, role: str = "fitter") -> Client:
    client = Client()
    client.force_login(make.person(role, at=hose.site))
    return client


def sent(hose: Assembly, **typed: Any) -> Any:
    whole = {"reason": "Burst, examined.", "on": TODAY.isoformat()}
    return desk(hose).post(address(hose), {**whole, **typed})


def test_it_is_scrapped_with_its_reason_and_offered_no_more() -> None:
    hose = make.stored()
    hose_page = reverse("scheduling:hose", args=[hose.pk])
    assert address(hose) in desk(hose).get(hose_page).content.decode()
    assert sent(hose).url == hose_page
    hose.refresh_from_db()
    assert (hose.condition, hose.withdrawal_reason) == ("scrap", "Burst, examined.")
    assert address(hose) not in desk(hose).get(hose_page).content.decode()


CASES = [
    ("reason", "", "This field is required"),
    ("reason", "x" * 501, "at most 500 characters"),
    ("reason", " ", "This field is required"),
    ("on", "", "This field is required"),
    ("on", "9/3/2026", "could be two days"),
    ("on", "soon", "is not a day"),
    ("on", "2199-01-01", "still to come"),
]


@pytest.mark.parametrize(("field", "typed", "sentence"), CASES)
def test_the_form_refuses_in_words(field: str, typed: str, sentence: str) -> None:
    hose = make.stored()
    answer = sent(hose, **{field: typed})
    assert sentence in " ".join(answer.context["form"].errors[field])
    hose.refresh_from_db()
    assert hose.withdrawn_at is None


def test_every_box_has_a_case() -> None:
    assert {field for field, _, _ in CASES} == set(ScrapForm.base_fields)


def test_a_hose_on_a_machine_or_scrapped_before_is_refused() -> None:
    for hose, sentence in ((make.fitted(), "take it off there"), (make.stored(), "is scrapped")):
        if "scrapped" in sentence:
            sent(hose)
        assert sentence in sent(hose).content.decode()


def test_a_piece_that_is_being_built_is_scrapped_at_its_bench() -> None:
    build = bb.made(bb.bench())
    assert "still being built" in sent(build.assembly).content.decode()
    hose_page = reverse("scheduling:hose", args=[build.assembly_id])
    assert address(build.assembly) not in desk(build.assembly).get(hose_page).content.decode()


def test_who_may_scrap() -> None:
    hose = make.stored()
    assert Client().get(address(hose)).status_code == 302
    assert desk(hose).get(address(hose)).status_code == 200
    assert desk(hose, "manager").get(address(hose)).status_code == 403
    assert desk(make.stored()).get(address(hose)).status_code == 404
