"""Certificates: from a signed and tested build only, frozen, anew after an amendment, pages."""

import datetime as dt
from decimal import Decimal
from typing import Any

import pytest
from django.db import DatabaseError, transaction
from django.test import Client
from django.urls import reverse

from assemblies.actions.build_scrapping import amend_build
from assemblies.actions.papers import issue_certificate
from assemblies.calc.certificate import CertificateContent
from assemblies.calc.certificate_words import basis_words, tool_words
from assemblies.models import Assembly, BuildRecord, FrozenPaper, Instrument
from assemblies.queries.papers import certificate_content_of
from fleet.actions.refusals import Refused
from fleet.models import Person, TrailEntry
from fleet.permissions import NotAllowed
from tests import factories as make
from tests.db.assemblies import build_bench as bb
from tests.db.assemblies import spec_shop as shop
from tests.db.assemblies.test_paper_pages import pdf_text
from tests.db.assemblies.test_sheets import trial_recipe

pytestmark = pytest.mark.django_db
D = Decimal
NOW = make.NOW
ADDRESS = "https://hoses.example"


def issue(hose: Assembly, **facts: Any) -> FrozenPaper:
    at, person = facts.pop("at", NOW), facts.pop("person", None)
    fresh = Assembly.objects.get(pk=hose.pk)
    return issue_certificate(hose=fresh, address=ADDRESS, person=person, at=at)


def issued(hose: Assembly, **facts: Any) -> CertificateContent:
    return certificate_content_of(issue(hose, **facts))


def signed(**facts: Any) -> BuildRecord:
    return bb.signed(bb.bench(), **facts)


def test_says_what_was_built_by_which_sheet_from_which_reel_and_by_whom() -> None:
    at = bb.bench()
    build = bb.signed(at)
    content = issued(build.assembly)
    assert content.tag.replace(" ", "") == Assembly.objects.get(pk=build.assembly_id).tag_id
    assert (content.spec_code, content.sheet) == (at.spec.header.code, at.content.number)
    assert content.reel.startswith(f"{at.reel.code}, hose made ")
    assert [(one.deed, one.name, one.on) for one in content.people] == [
        ("Made and tested by", str(at.fitter), bb.TODAY),
        ("Signed by", str(at.fitter), bb.TODAY),
    ]
    assert content.pressure.working_bar == 275
    assert content.pressure.binds == at.content.pressure.binds


def test_says_the_proof_test_with_its_gauge_and_its_calibration() -> None:
    at = bb.bench()
    proof = issued(bb.signed(at).assembly).proof
    assert (proof.asked_bar, proof.held_bar, proof.hold_s) == (D(550), D(550), 60)
    assert proof.medium == "liquid, air bled"
    due = bb.IN_DATE["calibration_due_on"].isoformat()
    assert tool_words(proof.gauge, bb.TODAY).startswith(f"{at.gauge.code}, calibrated ")
    assert tool_words(proof.gauge, bb.TODAY).endswith(f"due {due}")


def test_says_readings_mean_pin_and_lots_of_each_end() -> None:
    at = bb.bench()
    build = bb.signed(at, a_od_readings=["24.55", "24.60", "24.68"])
    near, far = issued(build.assembly).ends
    assert near.readings_mm == (D("24.55"), D("24.60"), D("24.68"))
    assert (near.mean_mm, near.ovality_mm) == (D("24.61"), D("0.13"))
    assert (near.asked_from_mm, near.asked_to_mm) == (D("24.50"), D("24.70"))
    assert near.pin == "Ø 9.8 mm enters, must enter"
    assert str(at.lots["A"]) in near.lots
    assert near.mark == "still shows"
    assert far.readings_mm == (D("24.60"),) * 3


def test_names_the_chart_of_a_matched_pair() -> None:
    end = issued(signed().assembly).ends[0]
    assert basis_words(end) == "published: Harrow crimp chart 7, page 3"


def test_says_an_unmatched_pair_plainly() -> None:
    hose, near, far = make.hose(), shop.end(), shop.end()
    shop.approved_recipe(hose, near)
    trial_recipe(hose, far)
    at = bb.bench(shop.approved("S-2", hose=hose, near=near, far=far))
    build = bb.signed(at, b_internal_skive="none", note="No inside skive is needed here: asked.")
    content = issued(build.assembly)
    assert content.ends[0].matched
    assert not content.ends[1].matched
    assert content.alerts[0].startswith("UNMATCHED at end B: no published chart names these parts")
    assert content.pressure.working_bar == 160


def test_prints_a_note_and_what_was_added_since_with_its_reason() -> None:
    at = bb.bench()
    build = bb.signed(at)
    amend_build(build=build, text="Reel is R-2.", reason="Misread.", person=at.fitter, at=NOW)
    (line,) = issued(build.assembly).amendments
    assert (line.by, line.text, line.reason) == (str(at.fitter), "Reel is R-2.", "Misread.")


def test_says_what_was_in_doubt_when_it_was_signed_and_what_was_decided() -> None:
    at = bb.bench()
    at.reel.made_earliest_on = at.reel.made_latest_on = None
    at.reel.save()
    note = "Layline read with the storeman: taken."
    content = issued(bb.signed(at, note=note).assembly)
    assert any("Nobody knows when the hose of" in words for words in content.doubts)
    assert content.note == note


def test_is_issued_once_while_it_says_the_same() -> None:
    build = signed()
    first = issue(build.assembly)
    assert issue(build.assembly, at=NOW + dt.timedelta(days=3)) == first
    assert FrozenPaper.objects.count() == 1
    assert TrailEntry.objects.filter(deed="issued a test certificate").count() == 1


def test_gets_a_new_number_after_an_amendment_that_names_the_one_before() -> None:
    at = bb.bench()
    build = bb.signed(at)
    first = issue(build.assembly)
    before = dict(first.content)
    amend_build(build=build, text="Reel is R-2.", reason="Misread.", person=at.fitter, at=NOW)
    second = issue(build.assembly)
    content = certificate_content_of(second)
    assert content.number == f"{at.site.code} 2"
    assert content.replaces == f"{at.site.code} 1 of {bb.TODAY.isoformat()}"
    assert FrozenPaper.objects.get(pk=first.pk).content == before, "the old one stays as it was"
    assert issue(build.assembly) == second


def calibrated_again(gauge: Instrument) -> None:
    later = bb.TODAY + dt.timedelta(days=400)
    due = later + dt.timedelta(days=365)
    Instrument.objects.filter(pk=gauge.pk).update(calibrated_on=later, calibration_due_on=due)


def test_is_the_same_when_a_gauge_was_calibrated_since() -> None:
    at = bb.bench()
    build = bb.signed(at)
    first = issue(build.assembly)
    calibrated_again(at.gauge)
    assert issue(build.assembly, at=NOW + dt.timedelta(days=401)) == first
    amend_build(build=build, text="Reel is R-2.", reason="Misread.", person=at.fitter, at=NOW)
    anew = issued(build.assembly, at=NOW + dt.timedelta(days=402))
    assert anew.proof.gauge.calibrated_on == bb.IN_DATE["calibrated_on"]


def test_says_that_the_only_calibration_known_was_made_after_the_work() -> None:
    at = bb.bench()
    build = bb.signed(at)
    calibrated_again(at.gauge)
    content = issued(build.assembly, at=NOW + dt.timedelta(days=401))
    assert "AFTER this work" in tool_words(content.proof.gauge, content.built_on)


def test_is_sealed_by_the_database() -> None:
    paper = issue(signed().assembly)
    with pytest.raises(DatabaseError), transaction.atomic():
        FrozenPaper.objects.filter(pk=paper.pk).update(checksum="0" * 64)
    assert certificate_content_of(paper).checksum == paper.checksum


def no_build() -> Assembly:
    return make.stored(owner_mark="BQ 5")


def unsigned() -> Assembly:
    return bb.made(bb.bench()).assembly


def untested() -> Assembly:
    at = bb.bench(proof_test="none")
    nothing = {"proof_pressure_bar": None, "proof_hold_s": None, "proof_passed": None}
    return bb.signed(at, **nothing, gauge=None).assembly


def scrapped() -> Assembly:
    build = signed()
    return _changed(build, scrapped_reason="cut")


def failed() -> Assembly:
    return _changed(signed(), proof_passed=False)


def too_low() -> Assembly:
    return _changed(signed(), proof_pressure_bar=D(500))


def no_pressure() -> Assembly:
    build = signed()
    sheet = build.sheet
    assert sheet is not None
    content = {**sheet.content, "pressure": {**sheet.content["pressure"], "working_bar": None}}
    return _changed(build, sheet=content)


def _changed(build: BuildRecord, **facts: Any) -> Assembly:
    """A row as no action makes it any more, written past the seals."""
    from fleet.models.seals import install_seals, remove_seals

    remove_seals(using="default")
    sheet = facts.pop("sheet", None)
    if sheet is not None and build.sheet is not None:
        type(build.sheet).objects.filter(pk=build.sheet.pk).update(content=sheet)
    if facts:
        BuildRecord.objects.filter(pk=build.pk).update(**facts)
    install_seals(using="default")
    return build.assembly


REFUSALS = [
    (no_build, "no_build", "was not built here by a sheet of this register"),
    (unsigned, "build_unsigned", "is not signed: a certificate is drawn from a signed build"),
    (untested, "not_tested", "has no passed proof test with its pressure, time and gauge"),
    (scrapped, "scrapped", "was scrapped: cut"),
    (failed, "proof_failed", "failed its proof test: no certificate"),
    (too_low, "proof_too_low", "was tested at 500 bar, its sheet asks 550 bar"),
    (no_pressure, "pressure_unknown", "states no working pressure and no proof pressure"),
]


@pytest.mark.parametrize(("make_hose", "code", "words"), REFUSALS)
def test_refuses_a_hose_that_cannot_be_certified(make_hose: Any, code: str, words: str) -> None:
    hose = make_hose()
    with pytest.raises(Refused, match=words) as refusal:
        issue(hose)
    assert refusal.value.code == code
    assert not FrozenPaper.objects.exists()
    who = client(make.person("fitter", at=hose.site))
    page = who.post(ask(hose)).content.decode()
    assert "No certificate." in page
    assert words in page
    assert not FrozenPaper.objects.exists()


def test_every_refusal_that_the_action_names_has_its_row() -> None:
    told = (issue_certificate.__doc__ or "").split("Refuses:")[1].split(".")[0]
    assert {word.strip() for word in told.split(",")} == {code for _, code, _ in REFUSALS}


def test_is_refused_to_a_stranger() -> None:
    with pytest.raises(NotAllowed):
        issue(signed().assembly, person=make.person("fitter", at=make.site()))


def client(person: Person) -> Client:
    made = Client()
    made.force_login(person)
    return made


def ask(hose: Assembly) -> str:
    return reverse("assemblies:hose_certificate", args=[hose.pk])


def test_is_asked_for_at_the_hose_shown_and_printed_on_both_papers() -> None:
    build = signed()
    who = client(make.person("fitter", at=build.site))
    assert "its proof test was passed" in who.get(ask(build.assembly)).content.decode()
    page = who.post(ask(build.assembly), follow=True).content.decode()
    assert "550\u00a0bar held 60\u00a0s, asked 550\u00a0bar or more: no leak, PASSED" in page
    assert "published: Harrow crimp chart 7, page 3" in page
    paper = FrozenPaper.objects.get()
    for size in ("a4", "letter"):
        where = reverse("assemblies:certificate_pdf", args=[paper.pk]) + f"?page={size}"
        assert "TEST CERTIFICATE OF A HOSE ASSEMBLY" in pdf_text(who.get(where))
        assert who.get(where).content == who.get(where).content
    assert f"test certificate {paper.site.code} 1" in who.get(ask(build.assembly)).content.decode()


def test_its_code_opens_its_page_in_capitals() -> None:
    paper = issue(signed().assembly)
    who = client(make.person("fitter", at=paper.site))
    answer = who.get(f"/C/{paper.site_id}/{paper.number}")
    assert answer["Location"] == reverse("assemblies:certificate", args=[paper.pk])


def test_is_shown_to_a_colleague_and_kept_from_a_stranger_and_from_nobody() -> None:
    build = signed()
    paper = issue(build.assembly)
    kept = [
        ask(build.assembly),
        reverse("assemblies:certificate", args=[paper.pk]),
        reverse("assemblies:certificate_pdf", args=[paper.pk]),
        f"/C/{paper.site_id}/{paper.number}",
    ]
    colleague = client(make.person("safety officer", at=paper.site))
    assert {colleague.get(where).status_code for where in kept} == {200, 302}
    stranger = client(make.person("fitter", at=make.site()))
    assert {stranger.get(where).status_code for where in kept} == {404}
    assert all("/login/" in Client().get(where)["Location"] for where in kept)
    sheet = reverse("assemblies:fitting_sheet", args=[paper.pk])
    assert colleague.get(sheet).status_code == 404, "a certificate is no sheet"
