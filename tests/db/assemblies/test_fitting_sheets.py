"""Fitting-up sheets: what they gather, that they are frozen once, when they are refused, pages."""

import datetime as dt
from decimal import Decimal
from html import unescape
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from assemblies.actions.papers import issue_fitting_sheet
from assemblies.calc.fitting_sheet import FittingContent
from assemblies.calc.fitting_words import PHASES, seal_words, torque_words
from assemblies.models import Assembly, ConditionalRelease, FrozenPaper, Position
from assemblies.queries.fitting_sheets import FittingOrder
from assemblies.queries.papers import fitting_content_of
from fleet.actions.refusals import Refused
from fleet.models import Person, TrailEntry
from fleet.permissions import NotAllowed
from tests import factories as make
from tests.db.assemblies import build_bench as bb
from tests.db.assemblies import spec_shop as shop
from tests.db.assemblies.test_paper_pages import pdf_text

pytestmark = pytest.mark.django_db
D = Decimal
NOW = make.NOW
ADDRESS = "https://hoses.example"


def issue(position: Position, new: Assembly | None = None, **facts: Any) -> FrozenPaper:
    at, person = facts.pop("at", NOW), facts.pop("person", None)
    order = FittingOrder(Position.objects.get(pk=position.pk), new, **facts)
    return issue_fitting_sheet(order=order, address=ADDRESS, person=person, at=at)


def issued(position: Position, new: Assembly | None = None, **facts: Any) -> FittingContent:
    return fitting_content_of(issue(position, new, **facts))


def place(**facts: Any) -> Position:
    """A position with its duty and access, its required spec approved."""
    hose = make.hose(bend_radius_mm=D(180))
    near = shop.end(
        torque_nm=D("60.0"), torque_source="the maker's table 3", small_parts="O-ring 16×2"
    )
    far = shop.end()
    for end in (near, far):
        shop.approved_recipe(hose, end)
    spec = shop.approved("S-1", hose=hose, near=near, far=far)
    return make.position(
        **{
            **{"required_spec": spec.header, "pressure_bar": D(210), "surge_bar": D(250)},
            **{"fluid": "HVLP 46", "oil_temperature_c": 80, "bend_radius_mm": D(260)},
            **{"labour_h": D("1.50"), "people": 2, "lifting_needed": "boom stand"},
            **{"note": "hot pipe beside it", "port_a": "cylinder", "port_b": "valve"},
            **facts,
        }
    )


def test_says_what_the_place_asks_and_what_the_work_needs() -> None:
    content = issued(place(circuit="steering"))
    assert (content.place.circuit, content.place.fluid) == ("steering", "HVLP 46")
    assert (content.place.pressure_bar, content.place.surge_bar) == (D(210), D(250))
    assert (content.access.labour_h, content.access.people) == (D("1.50"), 2)
    assert content.access.lifting == "boom stand"
    assert content.place.routing_radius_mm == 260
    assert content.bend_radius_mm == 180
    assert content.phases == PHASES


def test_gives_each_end_the_torque_and_seal_of_its_own_maker_or_says_ask() -> None:
    near, far = issued(place()).ends
    assert (near.port, torque_words(near)) == ("cylinder", "60\u00a0Nm (the maker's table 3)")
    assert seal_words(near) == "O-ring 16×2"
    assert (far.port, torque_words(far), seal_words(far)) == (
        "valve",
        "ASK THE MAKER",
        "ASK THE MAKER",
    )


def test_takes_the_torque_of_the_new_hoses_own_ends_not_of_the_required_spec() -> None:
    at = bb.bench()
    new = bb.signed(at).assembly
    position = place(on=make.machine(at=at.site))
    content = issued(position, new)
    assert [torque_words(end) for end in content.ends] == ["ASK THE MAKER"] * 2
    assert any(words.startswith("NOT THE REQUIRED SPEC") for words in content.alerts)


def test_shows_the_old_hose_and_the_new_one_with_tag_pressure_and_basis() -> None:
    at = bb.bench()
    new = Assembly.objects.get(pk=bb.signed(at).assembly_id)
    position = make.position(on=make.machine(at=at.site), required_spec=at.spec.header)
    make.fitted(on=position, owner_mark="BQ 17", working_pressure_bar=D(200), hose_type="2SN")
    content = issued(position, new)
    assert (content.old.tag, content.old.working_bar) == ("BQ 17", D(200))
    assert content.old.pressure_from == "as the register states it"
    assert content.new.tag.replace(" ", "") == new.tag_id
    assert content.new.spec == f"{at.spec.header.code} rev 1"
    assert content.new.basis == "by published charts at both ends"
    assert content.new.where.startswith("in store")
    assert content.alerts == ()


def test_leaves_empty_what_nobody_knows() -> None:
    content = issued(make.position())
    assert content.old == content.new
    assert content.old.tag == content.place.fluid == content.old.hose == ""
    assert [torque_words(end) for end in content.ends] == ["ASK THE MAKER"] * 2


def test_names_the_fluid_of_the_machines_other_positions_and_says_to_ask() -> None:
    position = place(fluid="")
    make.position(on=position.machine, fluid="HLP 46")
    assert issued(position).place.fluid == "HLP 46 (elsewhere on this machine: ask)"


def test_names_the_neighbours_that_are_changed_together() -> None:
    position = place(access_group="boom foot")
    make.position(on=position.machine, access_group="boom foot", place="Boom, bore side")
    assert issued(position).access.together == "boom foot: Boom, bore side"


def test_says_that_a_hose_is_too_weak_or_of_unknown_pressure() -> None:
    position = place()
    weak = make.stored(at=position.machine.site, owner_mark="W", working_pressure_bar=D(160))
    unknown = make.stored(at=position.machine.site, owner_mark="U")
    assert any(
        words.replace("\u00a0", " ")
        == "TOO WEAK: W bears 160 bar, the position asks 250 bar (90 bar more). Do not fit it."
        for words in issued(position, weak).alerts
    )
    assert any("Nobody has stated the working pressure of U" in one for one in
               issued(position, unknown).alerts)  # fmt: skip


def test_carries_the_releases_of_its_machine() -> None:
    position = place()
    other = make.fitted(on=make.position(on=position.machine), owner_mark="old 7")
    ConditionalRelease.objects.create(
        assembly=other,
        authority=make.person(),
        released_at=NOW,
        reason="breakdown at night",
        limits="120 bar",
        replace_by_on=dt.date(2026, 3, 12),
    )
    (alert,) = issued(position).alerts
    assert alert.startswith("CONDITIONAL RELEASE on this machine: old 7")


def test_says_unmatched_of_a_hose_crimped_by_trial() -> None:
    at = bb.bench()
    hose, near, far = make.hose(), shop.end(), shop.end()
    shop.approved_recipe(hose, near)
    from tests.db.assemblies.test_sheets import trial_recipe

    trial_recipe(hose, far)
    new = make.stored(at=at.site, owner_mark="T", spec=shop.approved("S-2", hose=hose, near=near,
                      far=far))  # fmt: skip
    content = issued(make.position(on=make.machine(at=at.site)), new)
    assert content.new.basis.startswith("UNMATCHED: end B crimped by trial")
    assert any(words.startswith("UNMATCHED: no published chart") for words in content.alerts)


def test_is_numbered_for_its_site_and_kept_with_its_checksum_on_the_trail() -> None:
    position = place()
    paper = issue(position)
    content = fitting_content_of(paper)
    assert (
        content.number == f"{position.machine.site.code} {paper.number}" == f"{paper.site.code} 1"
    )
    assert content.link == f"{ADDRESS}/F/{paper.site_id}/1"
    assert content.checksum == paper.checksum
    entry = TrailEntry.objects.get(deed="issued a fitting-up sheet")
    assert entry.after["checksum"] == paper.checksum


def test_is_issued_once_while_it_says_the_same_and_anew_when_anything_changed() -> None:
    position = place()
    first = issue(position)
    assert issue(position, at=NOW + dt.timedelta(days=1)) == first
    assert issue(position, job="J-7") != first
    Position.objects.filter(pk=position.pk).update(fluid="HLP 68")
    assert issue(position).number == 3
    assert fitting_content_of(first).place.fluid == "HVLP 46", "what was printed stays"


def test_refuses_a_hose_that_is_on_the_position_already() -> None:
    position = place()
    held = make.fitted(on=position)
    with pytest.raises(Refused, match=r"is on .* already") as refusal:
        issue(position, held)
    assert (refusal.value.code, refusal.value.field) == ("already_there", "named")


@pytest.mark.parametrize(
    ("condition", "words"),
    [("held", "is held for a decision: it can't go on"), ("scrap", "is scrap: it can't go on")],
)
def test_refuses_a_hose_that_may_not_be_fitted(condition: str, words: str) -> None:
    position = place()
    hose = make.stored(at=position.machine.site, owner_mark="X", condition=condition)
    with pytest.raises(Refused, match=words):
        issue(position, hose)
    assert not FrozenPaper.objects.exists()


def test_is_refused_to_a_stranger() -> None:
    with pytest.raises(NotAllowed):
        issue(place(), person=make.person("fitter", at=make.site()))


def test_prints_no_code_under_an_address_that_none_can_carry() -> None:
    order = FittingOrder(place())
    paper = issue_fitting_sheet(order=order, address="https://a_b.example", person=None, at=NOW)
    assert fitting_content_of(paper).link == ""


def client(person: Person) -> Client:
    made = Client()
    made.force_login(person)
    return made


def ask(position: Position) -> str:
    return reverse("assemblies:position_fitting_sheet", args=[position.pk])


def test_is_asked_for_at_its_position_shown_and_printed_on_both_papers() -> None:
    position = place()
    who = client(make.person("fitter", at=position.machine.site))
    assert "Not known yet: leave boxes for the pen" in who.get(ask(position)).content.decode()
    page = unescape(who.post(ask(position), {"job": "J-7"}, follow=True).content.decode())
    assert "60\u00a0Nm (the maker's table 3)" in page
    assert "VERIFY ZERO on a gauge" in page
    assert "FLUID UNDER THE SKIN IS AN EMERGENCY" in page
    paper = FrozenPaper.objects.get()
    for size in ("a4", "letter"):
        where = reverse("assemblies:fitting_sheet_pdf", args=[paper.pk]) + f"?page={size}"
        text = pdf_text(who.get(where))
        assert f"FITTING-UP SHEET {paper.site.code} 1" in text
        assert who.get(where).content == who.get(where).content
    again = who.get(ask(position)).content.decode()
    assert f"fitting-up sheet {paper.site.code} 1" in again


def test_takes_the_new_hose_by_its_mark_or_from_the_store() -> None:
    position = place()
    hose = make.stored(at=position.machine.site, owner_mark="BQ 9")
    who = client(make.person("fitter", at=position.machine.site))
    for typed in ({"named": "bq 9"}, {"picked": str(hose.pk)}):
        answer = who.post(ask(position), typed)
        assert answer.status_code == 302
    assert FrozenPaper.objects.get().assembly == hose


def test_leads_from_a_stored_hose_to_the_places_that_require_its_spec() -> None:
    position = place()
    spec = position.required_spec
    assert spec is not None
    hose = make.stored(at=position.machine.site, spec=spec.revisions.get(state="approved"))
    who = client(make.person("fitter", at=position.machine.site))
    page = who.get(reverse("assemblies:hose_fitting_sheet", args=[hose.pk])).content.decode()
    assert f"{ask(position)}?new={hose.pk}" in page
    chosen = who.get(f"{ask(position)}?new={hose.pk}").content.decode()
    assert (
        f'value="{hose.pk}"' in chosen.split("checked")[0][-200:] + chosen.split("checked")[1][:9]
    )


def test_says_where_to_look_when_no_place_requires_a_hoses_spec() -> None:
    hose = make.stored()
    who = client(make.person("fitter", at=hose.site))
    page = who.get(reverse("assemblies:hose_fitting_sheet", args=[hose.pk])).content.decode()
    assert "No position requires its spec" in page


def test_asks_at_the_position_where_the_hose_is_fitted() -> None:
    position = place()
    hose = make.fitted(on=position)
    who = client(make.person("fitter", at=position.machine.site))
    where = reverse("assemblies:hose_fitting_sheet", args=[hose.pk])
    assert "A fitting-up sheet" in who.get(where).content.decode()
    assert who.post(where, {}).status_code == 302
    assert FrozenPaper.objects.get().position == position


def test_leads_who_may_fit_hoses_on_to_recording_it() -> None:
    position = place()
    paper = issue(position)
    where = reverse("assemblies:fitting_sheet", args=[paper.pk])
    fit = reverse("assemblies:fit", args=[position.pk])
    fitter = client(make.person("fitter", at=paper.site))
    assert f'href="{fit}"' in fitter.get(where).content.decode()
    reader = client(make.person("inspector", at=paper.site))
    assert f'href="{fit}"' not in reader.get(where).content.decode()
    make.fitted(on=position)
    swap = reverse("assemblies:swap", args=[position.pk])
    assert f'href="{swap}"' in fitter.get(where).content.decode()


def test_numbers_the_steps_of_its_page_as_on_its_paper() -> None:
    paper = issue(place())
    page = client(make.person("fitter", at=paper.site))
    where = reverse("assemblies:fitting_sheet", args=[paper.pk])
    told = page.get(where).content.decode()
    starts = [1]
    for phase in PHASES[:-1]:
        starts.append(starts[-1] + len(phase.steps))
    assert [f'start="{first}"' in told for first in starts] == [True] * len(PHASES)


def test_its_code_opens_its_page_in_capitals() -> None:
    paper = issue(place())
    who = client(make.person("fitter", at=paper.site))
    answer = who.get(f"/F/{paper.site_id}/{paper.number}")
    assert answer["Location"] == reverse("assemblies:fitting_sheet", args=[paper.pk])


def test_is_shown_to_a_colleague_and_kept_from_a_stranger_and_from_nobody() -> None:
    position = place()
    hose, paper = make.fitted(on=position), issue(position)
    kept = [
        ask(position),
        reverse("assemblies:hose_fitting_sheet", args=[hose.pk]),
        reverse("assemblies:fitting_sheet", args=[paper.pk]),
        reverse("assemblies:fitting_sheet_pdf", args=[paper.pk]),
        f"/F/{paper.site_id}/{paper.number}",
    ]
    colleague = client(make.person("storeman", at=paper.site))
    assert {colleague.get(where).status_code for where in kept} == {200, 302}
    stranger = client(make.person("fitter", at=make.site()))
    assert {stranger.get(where).status_code for where in kept} == {404}
    assert all("/login/" in Client().get(where)["Location"] for where in kept)
    certificate = reverse("assemblies:certificate", args=[paper.pk])
    assert colleague.get(certificate).status_code == 404, "a sheet is no certificate"
