"""The recorder's pages: begun by a form, told by page or script, closed, made a recipe."""

from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from assemblies.models import CrimpTrial, RecipeRevision
from fleet.models import Person, Site
from tests import factories as make
from tests.db.assemblies import spec_shop as shop
from tests.db.assemblies import trial_bench as bench

pytestmark = pytest.mark.django_db
AS_SCRIPT: dict[str, Any] = {"headers": {"accept": "application/json"}}


@pytest.fixture
def site() -> Site:
    return make.site()


@pytest.fixture
def fitter(site: Site) -> Person:
    return make.person("fitter", at=site)


def client(person: Person) -> Client:
    made = Client()
    made.force_login(person)
    return made


def at(name: str, *args: Any) -> str:
    return reverse(f"assemblies:{name}", args=args)


def typed(site: Site, **facts: str) -> dict[str, str]:
    """What a fitter types to begin."""
    parts = {
        "hose": bench.three_layer().header.code,
        "fitting": make.fitting().header.code,
        "shell": shop.shell().header.code,
    }
    tools = {"crimper": str(bench.crimper(site).pk), "die_set": "D 26"}
    made = {
        "pin_mm": "9,5",
        "pin_from": "nut end",
        "insertion_depth_mm": "34",
        "external_skive": "length",
        "external_skive_mm": "29",
        "internal_skive": "none",
        "client_id": "begin-1",
    }
    return {**parts, **tools, **made, **facts}


def test_a_trial_is_begun_once_by_one_form(site: Site, fitter: Person) -> None:
    who, form = client(fitter), typed(site)
    for _ in range(2):
        response = who.post(at("trial_begin"), form)
        assert response.status_code == 302, response.context["form"].errors
    trial = CrimpTrial.objects.get()
    assert (str(trial.pin_mm), trial.site) == ("9.50", site)
    page = who.get(at("trial", trial.pk)).content.decode()
    assert "Nothing is pressed yet" in page
    assert "The pin is out of the bore before every press" in page


def test_the_shell_s_depth_gives_the_marks_to_begin_with(site: Site, fitter: Person) -> None:
    shell = shop.shell(internal_depth_mm=34)
    page = client(fitter).get(at("trial_begin"), {"shell": shell.header.code}).content.decode()
    assert 'name="insertion_depth_mm" value="34"' in page
    assert 'name="external_skive_mm" value="29"' in page


@pytest.mark.parametrize(
    ("field", "text", "sentence"),
    [
        ("hose", "nothing", "The catalogue has no hose with the code"),
        ("pin_mm", "thin", "is not a plain figure"),
        ("pin_from", "", "This field is required"),
        ("tail_bore_mm", "9.4", "does not enter a bore of 9.4"),
        ("crimper", "0", "not one of the available choices"),
    ],
)
def test_what_is_wrong_is_said_at_its_field(
    site: Site, fitter: Person, field: str, text: str, sentence: str
) -> None:
    response = client(fitter).post(at("trial_begin"), typed(site, **{field: text}))
    errors = response.context["form"].errors
    shown_at = "pin_mm" if field == "tail_bore_mm" else field
    assert any(sentence in error for error in errors[shown_at])


def test_a_script_is_answered_with_the_id_and_told_twice_with_it_again(
    site: Site, fitter: Person
) -> None:
    trial, who = bench.begun(site, fitter), client(fitter)
    told = {"client_id": "p-1", "setting_mm": "27,00", "pin": "enters"}
    for _ in range(2):
        response = who.post(at("trial_press", trial.pk), told, **AS_SCRIPT)
        assert (response.status_code, response.json()) == (200, {"told": "p-1"})
    assert trial.presses.count() == 1


@pytest.mark.parametrize(
    ("told", "sentence"),
    [
        ({"setting_mm": "28", "pin": "enters"}, "settings only go down"),
        ({"setting_mm": "much", "pin": "enters"}, "not a plain figure"),
        ({"setting_mm": "26.5", "pin": "maybe"}, "Select a valid choice"),
        ({"setting_mm": "26.5", "pin": "tight", "readings": "x"}, "not a plain figure"),
    ],
)
def test_a_script_is_refused_with_a_sentence(
    site: Site, fitter: Person, told: dict[str, str], sentence: str
) -> None:
    trial, who = bench.begun(site, fitter), client(fitter)
    bench.press(trial, fitter, "27.00", "enters")
    response = who.post(at("trial_press", trial.pk), {"client_id": "p-2", **told}, **AS_SCRIPT)
    assert response.status_code == 422
    assert sentence in response.json()["refused"]


def test_without_a_script_it_is_pressed_undone_and_closed(site: Site, fitter: Person) -> None:
    trial, who = bench.begun(site, fitter), client(fitter)
    for n, (setting, pin) in enumerate((("27", "enters"), *bench.STEPS)):
        told = {"client_id": f"p-{n}", "setting_mm": setting, "pin": pin}
        who.post(at("trial_press", trial.pk), told)
        if n == 0:
            who.post(at("trial_undo", trial.pk), {"client_id": "p-0"})
    page = who.get(at("trial", trial.pk)).content.decode()
    assert "Collapse begins between the settings 26.25 and 26.50 mm" in page
    assert "undone by" in page
    too_few = {"client_id": "c-1", "readings": ["26.40", "26.42", ""]}
    assert "three places or more" in who.post(at("trial_close", trial.pk), too_few).content.decode()
    who.post(at("trial_close", trial.pk), {"client_id": "c-2", "readings": bench.CLOSING})
    assert CrimpTrial.objects.get().outcome == "collapse found"


def test_a_trial_is_proven_made_a_recipe_and_approved_on_pages(site: Site, fitter: Person) -> None:
    first = bench.closed(site, fitter)
    joint = first.recipe
    parts: dict[str, Any] = {"hose": joint.hose, "fitting": joint.fitting, "shell": joint.shell}
    second = bench.closed(site, fitter, **parts)
    who, chief = client(fitter), client(make.person("manager", at=site))
    for trial in (first, second):
        held = {"pressure_bar": "40 MPa", "hold_s": "60", "passed": "yes"}
        assert who.post(at("trial_proof", trial.pk), held).status_code == 302
    assert who.post(at("trial_recipe", first.pk)).status_code == 302
    page = chief.get(at("recipe_trials", joint.pk))
    seen = page.context["form"]["seen"].value()
    told = {"second": second.pk, "working_pressure_bar": "200", "seen": seen}
    refused = chief.post(at("recipe_trials", joint.pk), {**told, "working_pressure_bar": "280"})
    assert "275" in str(refused.context["form"].errors)
    assert chief.post(at("recipe_trials", joint.pk), told).status_code == 302
    done = RecipeRevision.objects.get(state="approved")
    assert (done.number, str(done.crimp_od_mm)) == (2, "26.40")


def test_a_failed_proof_test_is_shown_as_failed(site: Site, fitter: Person) -> None:
    trial = bench.proven(bench.closed(site, fitter), fitter, passed=False)
    assert "failed" in client(fitter).get(at("trial", trial.pk)).content.decode()


def test_another_site_s_trial_is_not_there(site: Site, fitter: Person) -> None:
    trial = bench.begun(site, fitter)
    stranger = client(make.person("fitter", at=make.site()))
    assert stranger.get(at("trial", trial.pk)).status_code == 404
    told = {"client_id": "p", "setting_mm": "27", "pin": "enters"}
    assert stranger.post(at("trial_press", trial.pk), told).status_code == 404
    assert "None" not in stranger.get(at("trials")).content.decode()


def test_the_list_shows_the_open_trial_first(site: Site, fitter: Person) -> None:
    bench.closed(site, fitter)
    still = bench.begun(site, fitter)
    page = client(fitter).get(at("trials"))
    assert [line.open for line in page.context["lines"]] == [True, False]
    assert page.context["lines"][0].trial_id == still.pk
