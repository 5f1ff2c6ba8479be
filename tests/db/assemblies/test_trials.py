"""The trial recorder: begun with a pin on wire braid, pressed down, undone, closed, sealed."""

from decimal import Decimal
from typing import Any

import pytest
from django.db import IntegrityError

from assemblies.actions.trials import (
    begin_trial,
    close_trial,
    log_press,
    record_trial_proof,
    undo_press,
)
from assemblies.models import CrimpTrial, RecipeRevision, TrialPress
from assemblies.queries.trials import evaluation_of, learnt_dial, trial_for, trials_seen
from fleet.actions.refusals import Refused
from fleet.models import Person, Site, TrailEntry
from fleet.permissions import NotAllowed
from tests import factories as make
from tests.db.assemblies import spec_shop as shop
from tests.db.assemblies import trial_bench as bench

pytestmark = pytest.mark.django_db
NOW = make.NOW


@pytest.fixture
def site() -> Site:
    return make.site()


@pytest.fixture
def fitter(site: Site) -> Person:
    return make.person("fitter", at=site)


def check_refusal(code: str, call: Any, /, **arguments: Any) -> Refused:
    with pytest.raises(Refused) as caught:
        call(**arguments)
    assert caught.value.code == code, caught.value.sentence
    return caught.value


def end(trial: CrimpTrial, by: Person, *ods: str, **facts: Any) -> CrimpTrial:
    readings = [Decimal(od) for od in ods]
    told: dict[str, Any] = {"client_id": bench.drawn(), "od_readings_mm": readings, **facts}
    return close_trial(trial=trial, person=by, at=NOW, **told)


def test_the_trade_s_four_settings_close_at_the_one_that_refuses(
    site: Site, fitter: Person
) -> None:
    trial = bench.closed(site, fitter)
    assert (trial.outcome, trial.outcome_detail["closing_setting_mm"]) == (
        "collapse found",
        "26.250",
    )
    assert trial.outcome_detail["bracket_mm"] == ["26.250", "26.500"]
    assert trial.outcome_detail["closing_od_mm"] == "26.400"
    assert trial.outcome_detail["supports_recipe"] is True


def test_a_trial_begun_twice_by_one_id_is_one_trial(site: Site, fitter: Person) -> None:
    setup = bench.setup(site)
    told: dict[str, Any] = {"setup": setup, "client_id": "one", "person": fitter, "at": NOW}
    assert begin_trial(**told).pk == begin_trial(**told).pk
    assert CrimpTrial.objects.count() == 1


def test_a_new_joint_gets_the_draft_of_its_recipe(site: Site, fitter: Person) -> None:
    trial = bench.begun(site, fitter)
    draft = RecipeRevision.objects.get(header=trial.recipe)
    assert (draft.state, draft.basis, draft.external_skive_mm) == ("draft", "trial", 29)


@pytest.mark.parametrize("kind", ["wire_spiral", "textile_braid", "helix_suction", "other"])
def test_refuses_any_hose_but_wire_braid(site: Site, fitter: Person, kind: str) -> None:
    hose = bench.three_layer(reinforcement=kind).header
    told = check_refusal("reinforcement_refused", bench.begun, at=site, by=fitter, hose=hose,
                   fitting=shop.end().header, shell=None)  # fmt: skip
    assert "wire braid alone" in told.sentence


def test_a_named_authority_overrules_with_a_reason(site: Site) -> None:
    chief = make.person("manager", at=site)
    joint: dict[str, Any] = {
        "hose": bench.three_layer(reinforcement="wire_spiral").header,
        "fitting": shop.end().header,
        "shell": None,
    }
    check_refusal("reinforcement_refused", bench.begun, at=site, by=chief, **joint)
    trial = bench.begun(site, chief, **joint, overruled_reason="asked both makers")
    assert (trial.overruled_by, trial.overruled_reason) == (chief, "asked both makers")
    assert TrailEntry.objects.get(deed="began trial").reason == "asked both makers"


@pytest.mark.parametrize(
    ("code", "facts"),
    [
        ("pin_missing", {"pin_mm": Decimal(0)}),
        ("pin_missing", {"pin_from": " "}),
        ("pin_above_bore", {"tail_bore_mm": Decimal("9.40")}),
    ],
)
def test_refuses_a_trial_without_a_pin_that_enters(
    site: Site, fitter: Person, code: str, facts: dict[str, Any]
) -> None:
    check_refusal(code, bench.begun, at=site, by=fitter, **facts)


def test_a_press_told_twice_is_written_once(site: Site, fitter: Person) -> None:
    trial = bench.begun(site, fitter)
    told: dict[str, Any] = {
        "trial": trial,
        "client_id": "p1",
        "setting_mm": Decimal(27),
        "pin": "enters",
    }
    first = log_press(**told, person=fitter, at=NOW)
    assert log_press(**told, person=fitter, at=NOW).pk == first.pk
    assert trial.presses.count() == 1


@pytest.mark.parametrize(
    ("code", "setting", "pin", "ods"),
    [
        ("setting_not_below", "27.00", "enters", ()),
        ("setting_not_below", "27.25", "enters", ()),
        ("setting_far", "2.67", "enters", ()),
        ("setting_not_a_size", "0", "enters", ()),
        ("setting_not_a_size", "26.755", "enters", ()),
        ("setting_not_a_size", "NaN", "enters", ()),
        ("pin_unknown", "26.75", "perhaps", ()),
        ("reading_not_a_size", "26.75", "enters", ("-1",)),
        ("readings_apart", "26.75", "enters", ("26.80", "28.60")),
    ],
)
def test_refuses_a_press_that_no_trial_makes(
    site: Site, fitter: Person, code: str, setting: str, pin: str, ods: tuple[str, ...]
) -> None:
    trial = bench.begun(site, fitter)
    bench.press(trial, fitter, "27.00", "enters")
    with pytest.raises(Refused) as caught:
        bench.press(trial, fitter, setting, pin, *ods)
    assert caught.value.code == code
    assert trial.presses.count() == 1


def test_the_last_press_is_undone_and_leaves_its_trace(site: Site, fitter: Person) -> None:
    trial = bench.begun(site, fitter)
    bench.press(trial, fitter, "27.00", "enters")
    wrong = bench.press(trial, fitter, "26.75", "refuses")
    for _ in range(2):
        undo_press(trial=trial, client_id=wrong.client_id, person=fitter, at=NOW)
    assert bench.press(trial, fitter, "26.75", "enters").number == 3
    assert evaluation_of(trial).outcome.value == "goes on"
    entry = TrailEntry.objects.get(deed="undid press")
    assert (entry.before["press"], entry.before["pin"]) == (2, "refuses")
    assert TrialPress.objects.get(number=2).undone_by == fitter


def test_refuses_to_undo_a_press_that_others_followed(site: Site, fitter: Person) -> None:
    trial = bench.begun(site, fitter)
    first = bench.press(trial, fitter, "27.00", "enters")
    bench.press(trial, fitter, "26.75", "enters")
    told: dict[str, Any] = {"trial": trial, "person": fitter, "at": NOW}
    check_refusal("not_the_last", undo_press, client_id=first.client_id, **told)
    check_refusal("no_such_press", undo_press, client_id="none", **told)


def test_refuses_to_close_without_three_readings(site: Site, fitter: Person) -> None:
    trial = bench.begun(site, fitter)
    for setting, pin in bench.STEPS:
        bench.press(trial, fitter, setting, pin)
    with pytest.raises(Refused) as caught:
        end(trial, fitter, "26.40", "26.42")
    assert (caught.value.code, caught.value.field) == ("too_few_readings", "readings")
    assert end(trial, fitter, "26.40", "26.42", "26.38").closed_by == fitter


def test_a_trial_without_a_collapse_is_closed_only_with_a_word_why(
    site: Site, fitter: Person
) -> None:
    trial = bench.begun(site, fitter)
    check_refusal("no_press", end, trial=trial, by=fitter)
    bench.press(trial, fitter, "27.00", "enters")
    check_refusal("note_missing", end, trial=trial, by=fitter)
    done = end(trial, fitter, note="the shell split")
    assert (done.outcome, done.outcome_detail["supports_recipe"]) == ("goes on", False)


def test_readings_after_a_press_too_many_are_not_the_closing_press_s(
    site: Site, fitter: Person
) -> None:
    trial = bench.begun(site, fitter)
    for setting, pin in (*bench.STEPS, ("26.00", "refuses")):
        bench.press(trial, fitter, setting, pin)
    done = end(trial, fitter, "26.10", "26.11", "26.12", note="pressed once too often")
    assert (done.outcome, done.outcome_detail["closing_od_mm"]) == ("past closing", None)
    assert done.outcome_detail["supports_recipe"] is False


def test_a_closed_trial_is_sealed(site: Site, fitter: Person) -> None:
    trial = bench.closed(site, fitter)
    check_refusal("trial_closed", end, trial=trial, by=fitter)
    told: dict[str, Any] = {"client_id": "x", "setting_mm": Decimal(26), "pin": "refuses"}
    check_refusal("trial_closed", log_press, trial=trial, person=fitter, at=NOW, **told)
    with pytest.raises(IntegrityError, match="sealed"):
        CrimpTrial.objects.filter(pk=trial.pk).update(outcome="goes on")


def test_closing_told_twice_by_one_id_is_no_refusal(site: Site, fitter: Person) -> None:
    trial = bench.closed(site, fitter)
    again = close_trial(trial=trial, client_id=trial.closing_client_id, person=fitter, at=NOW)
    assert again.closed_at == trial.closed_at


def test_the_dial_is_learnt_from_the_crimper_s_own_presses(site: Site, fitter: Person) -> None:
    tool = bench.crimper(site)
    assert learnt_dial(tool, "D 26") is None
    trial = bench.begun(site, fitter, crimper=tool)
    bench.press(trial, fitter, "27.00", "enters", "27.10")
    bench.press(trial, fitter, "26.75", "tight", "26.95")
    bench.press(trial, fitter, "26.50", "refuses")
    end(trial, fitter, "26.70", "26.70", "26.70")
    learnt = learnt_dial(tool, "D 26")
    assert learnt is not None
    assert (learnt.difference_mm, learnt.presses) == (Decimal("0.20"), 3)
    assert learnt_dial(tool, "another die") is None


def test_the_first_setting_comes_from_geometry_and_the_learnt_dial(
    site: Site, fitter: Person
) -> None:
    tool = bench.crimper(site)
    hose = bench.three_layer(bore_mm=Decimal("12.7"), reinforcement_diameter_mm=Decimal("19.8"))
    shell = shop.shell(outside_diameter_mm=Decimal(27), inside_diameter_mm=Decimal(21))
    joint: dict[str, Any] = {
        "hose": hose.header,
        "fitting": make.fitting(tail_od_mm=Decimal("12.9")).header,
        "shell": shell.header,
        "crimper": tool,
    }
    first = bench.begun(site, fitter, **joint)
    assert first.first_setting_mm == Decimal("26.25")
    bench.press(first, fitter, "26.25", "enters", "26.60")
    assert bench.begun(site, fitter, **joint).first_setting_mm == Decimal("26.00")


def test_nothing_is_proposed_where_a_size_is_not_known(site: Site, fitter: Person) -> None:
    assert bench.begun(site, fitter).first_setting_mm is None


def test_a_piece_is_proof_tested_after_the_trial(site: Site, fitter: Person) -> None:
    told: dict[str, Any] = {"pressure_bar": Decimal(400), "hold_s": 60, "passed": True}
    who: dict[str, Any] = {"person": fitter, "at": NOW}
    check_refusal("trial_open", record_trial_proof, trial=bench.begun(site, fitter), **told, **who)
    trial = bench.closed(site, fitter)
    check_refusal("hold_wrong", record_trial_proof, trial=trial, **{**told, "hold_s": 0}, **who)
    check_refusal(
        "pressure_missing", record_trial_proof, trial=trial, **{**told, "pressure_bar": 0}, **who
    )
    assert record_trial_proof(trial=trial, **told, **who).passed


def test_another_site_s_fitter_may_neither_see_nor_press(site: Site, fitter: Person) -> None:
    trial = bench.begun(site, fitter)
    stranger = make.person("fitter", at=make.site())
    assert trial_for(stranger, trial.pk) is None
    assert trials_seen(stranger) == []
    with pytest.raises(NotAllowed):
        bench.press(trial, stranger, "27.00", "enters")


def test_who_may_not_edit_recipes_begins_no_trial(site: Site) -> None:
    with pytest.raises(NotAllowed):
        bench.begun(site, make.person("storeman", at=site))
