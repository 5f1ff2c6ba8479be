"""A trial's piece released; the pages and forms of releases; unmatched hoses on pages."""

import datetime as dt
from decimal import Decimal
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from assemblies.actions.releases import Piece
from assemblies.forms.releases import PieceReleaseForm
from assemblies.models import ConditionalRelease, Position
from assemblies.queries.unmatched import unmatched_among
from fleet.actions.refusals import Refused
from fleet.models import Person, Site
from tests import factories as make
from tests.db.assemblies import trial_bench as bench
from tests.db.assemblies.release_bench import fit, held, release_piece, unmatched
from tests.db.assemblies.test_releases import CASES

pytestmark = pytest.mark.django_db


@pytest.fixture
def spot() -> Position:
    return make.position(pressure_bar=Decimal(150))


@pytest.fixture
def site(spot: Position) -> Site:
    return spot.machine.site


@pytest.fixture
def manager(site: Site) -> Person:
    return make.person("manager", at=site, display_name="M. Anager")


@pytest.fixture
def fitter(site: Site) -> Person:
    return make.person("fitter", at=site)


def test_a_trial_s_piece_becomes_a_held_hose_that_is_unmatched(
    site: Site, manager: Person, fitter: Person
) -> None:
    made = release_piece(bench.closed(site, fitter), manager)
    hose = made.assembly
    assert (hose.condition, hose.owner_mark, hose.size_dn) == ("held", "T 1", 12)
    assert hose.stays.get().place == "bench"
    assert unmatched_among([hose.pk]) == {hose.pk: "crimped by trial"}


PIECE_CASES: list[tuple[str, dict[str, Any], str, str]] = [
    ("mark", {"piece": Piece(" ", "x")}, "mark_missing", "what is written on the piece"),
    ("mark", {"piece": Piece("h 1", "x")}, "mark_taken", "marked “h 1”"),
    ("other_end", {"piece": Piece("T", "")}, "other_end_missing", "what its other end is"),
    ("length_mm", {"piece": Piece("T", "x", Decimal(-1))}, "field_wrong", ""),
]


@pytest.mark.parametrize(("field", "wrong", "code", "words"), PIECE_CASES)
def test_refuses_a_piece_that_is_wrongly_told(
    site: Site,
    manager: Person,
    fitter: Person,
    field: str,
    wrong: dict[str, Any],
    code: str,
    words: str,
) -> None:
    held(site)
    with pytest.raises(Refused) as refusal:
        release_piece(bench.closed(site, fitter), manager, **wrong)
    assert (refusal.value.code, refusal.value.field) == (code, field)
    assert words in refusal.value.sentence


def test_refuses_the_piece_of_an_open_or_a_useless_trial(
    site: Site, manager: Person, fitter: Person
) -> None:
    going_on = bench.begun(site, fitter)
    with pytest.raises(Refused, match="Close the trial first"):
        release_piece(going_on, manager)
    failed = bench.proven(bench.closed(site, fitter), fitter, passed=False)
    with pytest.raises(Refused, match="failed the proof test"):
        release_piece(failed, manager)


def test_a_trial_s_piece_is_released_once(site: Site, manager: Person, fitter: Person) -> None:
    trial = bench.closed(site, fitter)
    release_piece(trial, manager)
    with pytest.raises(Refused, match="released before"):
        release_piece(trial, manager, piece=Piece("T 2", "x"))


# Pages


def posted(**facts: str) -> dict[str, str]:
    by = timezone.now().date() + dt.timedelta(2)
    typed = {"reason": "Down.", "pressure_bar": "18 MPa", "place": "EX-014, dipper"}
    return {**typed, "replace_by_on": by.isoformat(), **facts}


def test_the_form_has_a_case_for_each_of_its_fields() -> None:
    covered = {field for field, *_ in [*CASES, *PIECE_CASES, *TYPED]}
    ticked = {"where_it_hurts"}  # refused by its place: a test of its own, above
    assert set(PieceReleaseForm.base_fields) - covered == ticked


TYPED: list[tuple[str, str, str]] = [
    ("pressure_bar", "lots", "lots"),
    ("replace_by_on", "9/3/2026", "could be two days"),
    ("replace_by_on", "", "required"),
    ("reason", "x" * 501, "at most 500"),
    ("place", "x" * 121, "at most 120"),
    ("mark", "x" * 61, "at most 60"),
    ("other_end", "x" * 121, "at most 120"),
    ("length_mm", "long", "long"),
]


@pytest.mark.parametrize(("field", "typed", "words"), TYPED)
def test_says_what_was_typed_wrongly_at_its_field(field: str, typed: str, words: str) -> None:
    piece = {"mark": "T", "other_end": "x"}
    form = PieceReleaseForm({**posted(), **piece, field: typed})
    assert words in str(form.errors[field])


def test_the_manager_releases_a_hose_by_its_page(
    client: Client, site: Site, manager: Person
) -> None:
    hose = held(site)
    client.force_login(manager)
    url = reverse("assemblies:release", args=[hose.pk])
    assert url in client.get(reverse("scheduling:hose", args=[hose.pk])).content.decode()
    answer = client.post(url, posted(), follow=True)
    assert "Released conditionally" in answer.content.decode()
    assert ConditionalRelease.objects.get().pressure_bar == Decimal(180)


def test_the_manager_releases_a_trial_s_piece_by_its_page(
    client: Client, site: Site, manager: Person, fitter: Person
) -> None:
    trial = bench.closed(site, fitter)
    client.force_login(manager)
    page = reverse("assemblies:trial", args=[trial.pk])
    url = reverse("assemblies:release_trial", args=[trial.pk])
    assert url in client.get(page).content.decode()
    client.post(url, posted(mark="T 9", other_end="same"))
    assert "Its piece was released conditionally" in client.get(page).content.decode()


def test_a_fitter_is_refused_a_stranger_finds_nothing_and_nobody_logs_in(
    client: Client, site: Site, fitter: Person
) -> None:
    hose, trial = held(site), bench.closed(site, fitter)
    urls = [
        reverse("assemblies:release", args=[hose.pk]),
        reverse("assemblies:release_trial", args=[trial.pk]),
    ]
    for who, code in ((None, 302), (fitter, 403), (make.person("manager", at=make.site()), 404)):
        if who is not None:
            client.force_login(who)
        assert {client.post(url, posted()).status_code for url in urls} == {code}
    assert not ConditionalRelease.objects.exists()


def test_pages_say_that_a_hose_is_unmatched(client: Client, site: Site, spot: Position) -> None:
    hose = unmatched(site)
    fit(hose, spot)
    client.force_login(make.person("planner", at=site))
    urls = [
        reverse("scheduling:hose", args=[hose.pk]),
        reverse("scheduling:position", args=[spot.pk]),
        reverse("scheduling:machine", args=[spot.machine_id]),
    ]
    for url in urls:
        assert "unmatched parts" in client.get(url).content.decode(), url
    Position.objects.filter(pk=spot.pk).update(consequence="hurts")
    assert "Unmatched where a failure hurts someone" in client.get(urls[1]).content.decode()
