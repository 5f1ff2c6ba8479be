"""Recalls: a finding on every hose of a source at every site, once; progress; the end."""

import datetime as dt
from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from assemblies.actions.installations import Moment, fit_assembly, scrap_assembly
from assemblies.models import Assembly, BuildRecord, Reel
from assemblies.queries.trace_subjects import Subject, subject_for
from fleet.actions.refusals import Refused
from fleet.models import Person, Site, TrailEntry
from fleet.navigation import alarms_for
from fleet.permissions import NotAllowed
from scheduling.actions.inspections import deal_with_finding
from scheduling.actions.recalls import end_recall, recall
from scheduling.actions.stale import work_off_marks
from scheduling.forms.recalls import EndRecallForm, RecallForm
from scheduling.models import Due, Finding, Recall, StaleMark
from scheduling.queries.findings import finding_for
from scheduling.queries.recalls import recall_for, recall_list, recalled, told_elsewhere
from scheduling.queries.traced import spread
from tests import factories as make
from tests.db.assemblies import spec_shop as shop
from tests.db.assemblies.trace_register import built, reel

pytestmark = pytest.mark.django_db
NOW, TODAY = make.NOW, make.TODAY
BY = TODAY + dt.timedelta(days=10)


@pytest.fixture
def site() -> Site:
    return make.site(name="Blackmere Quarry")


@pytest.fixture
def officer(site: Site) -> Person:
    return make.person("safety officer", at=site, display_name="O. Fficer")


@pytest.fixture
def bad(site: Site) -> Reel:
    return reel(site, "R-13")


def subject_of(bad: Reel, person: Person) -> Subject:
    found = subject_for(person, "reel", str(bad.pk))
    assert found is not None
    return found


def call(bad: Reel, person: Person, **facts: Any) -> Recall:
    told: dict[str, Any] = {"verdict": "out_now", "by_on": None, "reason": "soft wire"}
    day: dict[str, Any] = {"today": TODAY, "at": NOW}
    return recall(subject=subject_of(bad, person), person=person, **day, **{**told, **facts})


def test_every_hose_that_is_not_scrapped_gets_its_finding_at_every_site(
    site: Site, officer: Person, bad: Reel
) -> None:
    far = make.site()
    near, other = built(site, reel=bad), built(far, reel=bad)
    gone = built(site, reel=bad)
    Assembly.objects.filter(pk=gone.pk).update(withdrawn_at=NOW)
    built(site, reel=reel(site, "R-14"))
    made = call(bad, officer)
    assert set(Finding.objects.values_list("assembly", "site", "verdict", "note")) == {
        (near.pk, site.pk, "out_now", "soft wire"),
        (other.pk, far.pk, "out_now", "soft wire"),
    }
    assert made.places == {site.code: 1, far.code: 1}
    assert TrailEntry.objects.filter(deed="recalled").count() == 3


def test_the_dues_and_the_machine_s_pages_follow(site: Site, officer: Person, bad: Reel) -> None:
    hose = built(site, reel=bad)
    spot = make.position(on=make.machine(at=site))
    fit_assembly(assembly=hose, position=spot, when=Moment(TODAY, NOW), person=None, now=NOW)
    call(bad, officer)
    assert Due.objects.get(assembly=hose).replace_on == TODAY
    assert [alarm.hose_id for alarm in alarms_for(spot.machine_id)] == [hose.pk]


def test_a_recall_of_a_shared_recipe_is_for_who_may_recall_anywhere(
    site: Site, officer: Person
) -> None:
    recipe = shop.approved_recipe(make.hose(), shop.end())
    built(site, ends={"A": {"recipe": recipe}})
    subject = subject_for(officer, "recipe_revision", str(recipe.pk))
    assert subject is not None
    asked: dict[str, Any] = {"verdict": "recheck", "by_on": BY, "reason": "leaks"}
    told: dict[str, Any] = {"subject": subject, **asked, "today": TODAY, "at": NOW}
    with pytest.raises(NotAllowed):
        recall(person=make.person("planner", at=site), **told)
    made = recall(person=officer, **told)
    assert Finding.objects.get().by_on == made.by_on == BY


def test_a_second_recall_of_the_same_gives_no_hose_a_second_finding(
    site: Site, officer: Person, bad: Reel
) -> None:
    built(site, reel=bad)
    made = call(bad, officer)
    late = built(site, reel=bad)
    assert call(bad, officer, reason="said again") == made
    assert Finding.objects.count() == 2
    assert Finding.objects.latest("pk").assembly == late


def test_what_was_dealt_with_is_not_opened_again(site: Site, officer: Person, bad: Reel) -> None:
    built(site, reel=bad)
    call(bad, officer)
    deal_with_finding(finding=Finding.objects.get(), how="replaced", person=officer, at=NOW)
    call(bad, officer)
    assert Finding.objects.filter(dealt_with_at=None).count() == 0


def test_a_scrapped_hose_is_dealt_with(site: Site, officer: Person, bad: Reel) -> None:
    hose, fitter = built(site, reel=bad), make.person("fitter", at=site)
    made = call(bad, officer)
    scrap_assembly(
        assembly=hose, when=Moment(TODAY, NOW), person=fitter, now=NOW, reason="recalled"
    )
    finding = Finding.objects.get()
    assert (finding.dealt_with_by, finding.dealt_with_how) == (fitter, "scrapped: recalled")
    line = recall_for(officer, made.pk)
    assert line is not None
    assert line.own.open == 0


def test_two_recalls_of_one_thing_that_ask_for_different_things_do_not_stand_together(
    site: Site, officer: Person, bad: Reel
) -> None:
    built(site, reel=bad)
    call(bad, officer, verdict="recheck", by_on=BY)
    with pytest.raises(Refused, match="says “recheck within 2026-03-19”") as refusal:
        call(bad, officer)
    assert refusal.value.code == "recalled_otherwise"


def test_an_ended_recall_settles_what_is_open_and_may_be_followed_by_another(
    site: Site, officer: Person, bad: Reel
) -> None:
    hose = built(site, reel=bad)
    ended = end_recall(recall=call(bad, officer), how="wrong reel", person=officer, at=NOW)
    assert ended.ended_by == officer
    assert Finding.objects.get().dealt_with_how == "recall ended: wrong reel"
    assert Due.objects.get(assembly=hose).replace_on is None
    assert call(bad, officer) != ended


def test_a_failed_recall_leaves_nothing_behind(
    site: Site, officer: Person, bad: Reel, monkeypatch: pytest.MonkeyPatch
) -> None:
    built(site, reel=bad)

    def broken(*_: Any, **__: Any) -> None:
        raise RuntimeError

    monkeypatch.setattr("scheduling.actions.recalls.hoses_changed", broken)
    with pytest.raises(RuntimeError):
        call(bad, officer)
    counted = (Recall.objects.count(), Finding.objects.count(), TrailEntry.objects.count())
    assert counted[:2] == (0, 0)
    assert not TrailEntry.objects.filter(deed="recalled").exists()


def test_ten_thousand_hoses_are_recalled_in_batches(site: Site, officer: Person, bad: Reel) -> None:
    spec = shop.draft()
    hoses = Assembly.objects.bulk_create(
        Assembly(site=site, known_from_on=TODAY) for _ in range(10_000)
    )
    BuildRecord.objects.bulk_create(
        BuildRecord(assembly=hose, site=site, spec=spec, reel=bad, built_on=TODAY) for hose in hoses
    )
    with CaptureQueriesContext(connection) as asked:
        call(bad, officer)
    assert Finding.objects.count() == 10_000
    assert StaleMark.objects.filter(subject="everything").exists()
    assert len(asked) < 400, "in batches, as wide as the database takes them"
    work_off_marks()
    days = Due.objects.values_list("replace_on", flat=True)
    assert list(days) == [TODAY] * 10_000


# What is refused, by the field that it is said at: what is wrong, the code, words of the sentence.
CASES: list[tuple[str, dict[str, Any], str, str]] = [
    ("reason", {"reason": " "}, "reason_missing", "Say what is wrong with it."),
    ("verdict", {"verdict": "keep", "by_on": BY}, "verdict_unknown", "what is to be done"),
    ("verdict", {"verdict": "", "by_on": BY}, "verdict_unknown", "what is to be done"),
    ("by_on", {"verdict": "recheck"}, "day_missing", "Say by which day."),
    ("by_on", {"verdict": "replace"}, "day_missing", "Say by which day."),
    (
        "by_on",
        {"verdict": "replace", "by_on": TODAY - dt.timedelta(1)},
        "day_past",
        "2026-03-08 is past already.",
    ),
    ("", {}, "nothing_traced", "No hose that isn't scrapped comes from R-13."),
]


@pytest.mark.parametrize(("field", "wrong", "code", "words"), CASES)
def test_refuses_a_recall_that_says_the_wrong_thing(
    site: Site, officer: Person, bad: Reel, field: str, wrong: dict[str, Any], code: str, words: str
) -> None:
    if code != "nothing_traced":
        built(site, reel=bad)
    with pytest.raises(Refused) as refusal:
        call(bad, officer, **wrong)
    assert (refusal.value.code, refusal.value.field) == (code, field)
    assert words in refusal.value.sentence
    assert not Recall.objects.exists()


END_CASES = [("how", "", "how_missing", "Say why it ends."), ("how", " ", "how_missing", "Say why")]


@pytest.mark.parametrize(("field", "typed", "code", "words"), END_CASES)
def test_refuses_an_end_without_a_word(
    site: Site, officer: Person, bad: Reel, field: str, typed: str, code: str, words: str
) -> None:
    built(site, reel=bad)
    with pytest.raises(Refused, match=words) as refusal:
        end_recall(recall=call(bad, officer), how=typed, person=officer, at=NOW)
    assert (refusal.value.code, refusal.value.field) == (code, field)


def test_refuses_to_end_what_is_ended(site: Site, officer: Person, bad: Reel) -> None:
    built(site, reel=bad)
    made = call(bad, officer)
    end_recall(recall=made, how="done", person=officer, at=NOW)
    with pytest.raises(Refused, match="ended before"):
        end_recall(recall=made, how="done", person=officer, at=NOW)


def test_every_field_has_a_case() -> None:
    assert set(RecallForm.base_fields) == {field for field, *_ in CASES} - {""}
    assert set(EndRecallForm.base_fields) == {field for field, *_ in END_CASES}


@pytest.mark.parametrize("role", ["planner", "fitter", "inspector", "storeman", "manager"])
def test_only_who_holds_the_right_may_recall_or_end(
    site: Site, officer: Person, bad: Reel, role: str
) -> None:
    built(site, reel=bad)
    someone = make.person(role, at=site)
    with pytest.raises(NotAllowed):
        call(bad, someone)
    made = call(bad, officer)
    with pytest.raises(NotAllowed):
        end_recall(recall=made, how="no", person=someone, at=NOW)


def test_an_officer_of_another_site_ends_no_recall_of_this_sites_reel(
    site: Site, officer: Person, bad: Reel
) -> None:
    built(site, reel=bad)
    stranger, made = make.person("safety officer", at=make.site()), call(bad, officer)
    with pytest.raises(NotAllowed):
        end_recall(recall=made, how="no", person=stranger, at=NOW)


# What is read


def test_other_sites_hoses_are_a_number_with_whom_to_tell(
    site: Site, officer: Person, bad: Reel
) -> None:
    far = make.site(name="Blackmere Wharf")
    make.person("safety officer", at=far, display_name="W. Harf")
    for at in (site, far, far):
        built(at, reel=bad)
    found = spread(officer, subject_of(bad, officer))
    assert (found.own, found.all_hoses, found.other_sites_hoses) == (1, 3, 2)
    (one,) = found.elsewhere or ()
    assert (one.site, one.hoses, one.tell) == ("Blackmere Wharf", 2, ("W. Harf",))


def test_who_may_not_recall_learns_nothing_of_other_sites(
    site: Site, officer: Person, bad: Reel
) -> None:
    built(make.site(), reel=bad)
    fitter = make.person("fitter", at=site)
    found = spread(fitter, subject_of(bad, fitter))
    assert (found.own, found.elsewhere, found.places) == (0, None, ())


def test_hoses_are_counted_up_to_a_bound(site: Site, officer: Person, bad: Reel) -> None:
    for _ in range(4):
        built(site, reel=bad)
    subject = subject_of(bad, officer)
    assert [spread(officer, subject, most=n).more for n in (3, 4, 5)] == [True, False, False]


def test_progress_counts_own_sites_and_others_apart(site: Site, officer: Person, bad: Reel) -> None:
    far = make.site()
    for at in (site, site, far):
        built(at, reel=bad)
    made = call(bad, officer)
    first = Finding.objects.filter(site=site).first()
    assert first is not None
    deal_with_finding(finding=first, how="replaced", person=officer, at=NOW)
    line = recall_for(officer, made.pk)
    assert line is not None
    assert line.others is not None
    assert (line.own.open, line.own.dealt_with, line.others.open) == (1, 1, 1)
    (told,) = told_elsewhere(officer, made.pk) or ()
    assert told.hoses == 1
    planner = recall_for(make.person("planner", at=far), made.pk)
    assert planner is not None
    assert (planner.own.open, planner.others) == (1, None)
    assert recall_for(make.person("planner", at=make.site()), made.pk) is None


def test_a_hose_that_moved_since_is_seen_where_it_is_now(
    site: Site, officer: Person, bad: Reel
) -> None:
    far = make.site()
    hose = built(site, reel=bad)
    made = call(bad, officer)
    Assembly.objects.filter(pk=hose.pk).update(site=far)
    args: dict[str, Any] = {"still_open": True, "after": None, "size": 9, "today": TODAY}
    assert recalled(officer, made.pk, **args).rows == ()
    assert len(recalled(make.person("planner", at=far), made.pk, **args).rows) == 1


def test_the_queries_of_the_lists_do_not_grow(site: Site, officer: Person) -> None:
    def asked() -> int:
        with CaptureQueriesContext(connection) as found:
            page = recall_list(officer, after=None, size=50)
            recalled(
                officer, page.rows[0].recall_id, still_open=True, after=None, size=9, today=TODAY
            )
        return len(found)

    def one_more(code: str) -> None:
        bad = reel(site, code)
        for _ in range(3):
            built(site, reel=bad)
        call(bad, officer)

    one_more("R-1")
    few = asked()
    for code in ("R-2", "R-3"):
        one_more(code)
    assert asked() == few


def test_a_finding_goes_with_its_hose_to_another_site_and_is_settled_there(
    site: Site, officer: Person, bad: Reel
) -> None:
    hose, far = built(site, reel=bad), make.site()
    call(bad, officer)
    Assembly.objects.filter(pk=hose.pk).update(site=far)
    finding = Finding.objects.get()
    with pytest.raises(NotAllowed):
        deal_with_finding(finding=finding, how="replaced", person=officer, at=NOW)
    assert finding_for(officer, finding.pk) is None
    there = make.person("inspector", at=far)
    assert finding_for(there, finding.pk) == finding
    deal_with_finding(finding=finding, how="replaced", person=there, at=NOW)
