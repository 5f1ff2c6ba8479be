import datetime as dt
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from assemblies.models import Assembly, Stay
from fleet.actions.people import post_person
from fleet.actions.refusals import Refused
from fleet.models import Mount, Person, Photo, TrailEntry
from fleet.permissions import NotAllowed
from scheduling.actions.inspections import Found, Look
from scheduling.actions.rounds import (
    begin_round,
    finish_round,
    look_at_the_rest,
    look_in_round,
    looked_on,
)
from scheduling.actions.taking_back import take_back_look
from scheduling.models import Due, Finding, Inspection, Round
from scheduling.queries.rounds import round_page
from tests import factories as make
from tests.db.fleet.photo_files import picture, sent
from tests.db.scheduling.yard import Yard, more_hoses, yard

pytestmark = pytest.mark.django_db
NOW, TODAY = make.NOW, make.TODAY
LATER = NOW + dt.timedelta(hours=2)


@pytest.fixture
def where() -> Yard:
    return yard()


@pytest.fixture
def walker(where: Yard) -> Person:
    return make.person("inspector", at=where.site)


def begun(where: Yard, walker: Person, **facts: Any) -> Round:
    return begin_round(
        machine=where.machine, person=walker, today=TODAY, at=facts.pop("at", NOW), **facts
    )


def look(held: Round, hose: Assembly, walker: Person, *found: Found, **facts: Any) -> Inspection:
    photos = facts.pop("photos", ())
    at = facts.pop("at", NOW)
    given = {"on": TODAY, "client_id": "a" * 20, **facts}
    return look_in_round(
        round_=held,
        assembly=hose,
        look=Look(**given),
        found=found,
        photos=photos,
        person=walker,
        today=TODAY,
        at=at,
    )


def test_a_round_goes_on_where_it_was_left_whoever_begins_it(where: Yard, walker: Person) -> None:
    first = begun(where, walker)
    assert begun(where, where.planner) == first
    finish_round(round_=first, person=where.planner, at=NOW)
    assert begun(where, walker) != first


def test_a_look_told_twice_is_one_look(where: Yard, walker: Person) -> None:
    held = begun(where, walker)
    photos = [sent(picture())]
    first = look(held, where.hose, walker, Found("twisted", "out_now"), photos=photos)
    again = look(held, where.hose, walker, Found("twisted", "out_now"), photos=[sent(picture())])
    assert first == again
    assert (Finding.objects.count(), Photo.objects.count()) == (1, 1)
    assert first.photos.count() == 1


def test_the_rest_are_told_hose_by_hose_and_those_answered_are_left(
    where: Yard, walker: Person
) -> None:
    others = more_hoses(where, 5)
    held = begun(where, walker)
    look(held, others[0], walker, not_seen=True)
    ids = [where.hose.pk, *(hose.pk for hose in others)]
    told: dict[str, Any] = {
        "round_": held,
        "assembly_ids": ids,
        "look": Look(TODAY, client_id="b" * 20),
    }
    for _ in range(2):
        assert look_at_the_rest(**told, person=walker, today=TODAY, at=NOW) == 5
    assert Inspection.objects.count() == 6
    assert Inspection.objects.get(assembly=others[0]).not_seen
    assert Inspection.objects.filter(note="ticked with the rest of the round").count() == 5


def test_an_event_makes_every_hose_due_until_a_look_has_seen_it(
    where: Yard, walker: Person
) -> None:
    hose = more_hoses(where, 1)[0]
    held = begun(where, walker, occasion="overheating")
    assert Due.objects.get(assembly=hose).inspect_on == TODAY
    look(held, hose, walker, not_seen=True)
    assert Finding.objects.filter(assembly=hose, dealt_with_at=None).exists()
    look(held, hose, walker, client_id="c" * 20)
    assert not Finding.objects.filter(assembly=hose, dealt_with_at=None).exists()
    assert Finding.objects.filter(assembly=where.hose, dealt_with_at=None).count() == 1
    assert Inspection.objects.filter(occasion="after overheating").count() == 2


def test_an_event_waits_for_the_open_round(where: Yard, walker: Person) -> None:
    begun(where, walker)
    with pytest.raises(Refused, match="finish it, then begin") as refused:
        begun(where, walker, occasion="an accident")
    assert (refused.value.code, refused.value.field) == ("round_open", "occasion")


def test_takes_in_what_rides_on_the_machine(where: Yard, walker: Person) -> None:
    breaker = make.machine(at=where.site, kind="attachment")
    Mount.objects.create(part=breaker, carrier=where.machine, from_on=TODAY)
    hose = make.fitted(on=make.position(on=breaker))
    held = begun(where, walker, occasion="a pressure shock")
    page = round_page(walker, held, today=TODAY)
    assert [line.hose_id for line in page.lines] == [where.hose.pk, hose.pk]
    assert page.lines[1].on_part == str(breaker)
    assert Finding.objects.filter(assembly=hose).exists()


def test_finishing_says_what_was_not_seen(where: Yard, walker: Person) -> None:
    others = more_hoses(where, 2)
    held = begun(where, walker)
    look(held, where.hose, walker)
    look(held, others[0], walker, client_id="d" * 20, not_seen=True, note="guard bolted on")
    done = finish_round(round_=held, person=walker, at=LATER)
    assert [words.split(": ")[1] for words in done.left_out] == [
        "could not be seen (guard bolted on)",
        "not looked at",
    ]
    assert finish_round(round_=held, person=walker, at=LATER) == done
    assert TrailEntry.objects.filter(deed="finished a round").count() == 1


def test_what_comes_in_after_the_finish_still_counts(where: Yard, walker: Person) -> None:
    held = finish_round(round_=begun(where, walker), person=walker, at=NOW)
    look(held, where.hose, walker, at=LATER)
    page = round_page(walker, held, today=TODAY)
    assert (page.answered, page.late) == (1, 1)


def test_a_look_taken_back_counts_for_nothing_and_asks_again(where: Yard, walker: Person) -> None:
    held = begun(where, walker, occasion="an accident")
    told = look(held, where.hose, walker, Found("twisted", "out_now"), at=LATER)
    before = Due.objects.get(assembly=where.hose)
    assert before.replace_on == TODAY
    for _ in range(2):
        take_back_look(inspection=told, person=walker, at=LATER)
    due = Due.objects.get(assembly=where.hose)
    assert (due.replace_on, due.inspect_on) == (None, TODAY)
    assert Finding.objects.get(verdict="out_now").dealt_with_how == "told wrongly"
    assert Finding.objects.get(verdict="recheck").dealt_with_at is None


def test_only_who_told_it_takes_it_back_and_only_while_the_round_is_open(
    where: Yard, walker: Person
) -> None:
    held = begun(where, walker)
    told = look(held, where.hose, walker)
    with pytest.raises(Refused, match="look again instead"):
        take_back_look(inspection=told, person=where.planner, at=NOW)
    finish_round(round_=held, person=walker, at=NOW)
    with pytest.raises(Refused, match="by a later look"):
        take_back_look(inspection=told, person=walker, at=NOW)


def test_names_the_competent_person_by_mark_or_as_it_is_said(where: Yard, walker: Person) -> None:
    held = begun(where, walker, inspector="R. Harrow")
    told = look(held, where.hose, walker)
    assert (told.inspector_name, told.competent_person) == ("R. Harrow", False)
    assert round_page(walker, held, today=TODAY).competent == f"R. Harrow, named by {walker}"
    finish_round(round_=held, person=walker, at=NOW)
    marked = Person.objects.create(username="marked")
    post_person(person=marked, role="inspector", site=where.site, by=None, at=NOW)
    marked.postings.update(competent_person=True)
    marked = Person.objects.get(pk=marked.pk)
    again = begun(where, marked)
    assert look(again, where.hose, marked).competent_person
    assert round_page(marked, again, today=TODAY).competent == "marked"


@pytest.mark.parametrize(
    ("told_at", "on"),
    [
        (None, TODAY),
        (LATER + dt.timedelta(days=9), TODAY),  # a clock that runs ahead
        (NOW - dt.timedelta(days=9), TODAY - dt.timedelta(days=1)),  # before the round began
    ],
)
def test_believes_the_phones_clock_only_as_far_as_it_can_be_right(
    where: Yard, walker: Person, told_at: dt.datetime | None, on: dt.date
) -> None:
    held = begun(where, walker, at=NOW - dt.timedelta(days=1))
    assert looked_on(held, told_at, LATER) == on


def test_refuses_a_hose_that_never_was_on_the_machine(where: Yard, walker: Person) -> None:
    held = begun(where, walker)
    stranger = make.fitted(on=make.position(on=make.machine(at=where.site)))
    with pytest.raises(Refused, match="is not on EX-014") as refused:
        look(held, stranger, walker)
    assert refused.value.code == "not_of_this_round"


def test_a_hose_taken_off_meanwhile_keeps_the_look_that_waited(where: Yard, walker: Person) -> None:
    held = begun(where, walker)
    Stay.objects.filter(assembly=where.hose).update(is_open=False, to_on=TODAY)
    Stay.objects.create(assembly=where.hose, site=where.site, place="bench", recorded_at=NOW)
    assert look(held, where.hose, walker).round == held


def test_refuses_a_machine_that_is_gone(where: Yard, walker: Person) -> None:
    sold = make.machine(at=where.site, status="sold")
    with pytest.raises(Refused, match="sold or withdrawn"):
        begin_round(machine=sold, person=walker, today=TODAY, at=NOW)


def test_refuses_too_many_at_once(where: Yard, walker: Person) -> None:
    with pytest.raises(Refused, match="At most 300"):
        look_at_the_rest(
            round_=begun(where, walker),
            assembly_ids=range(301),
            look=Look(TODAY, client_id="b" * 20),
            person=walker,
            today=TODAY,
            at=NOW,
        )


def test_needs_the_right_at_the_site(where: Yard, walker: Person) -> None:
    held = begun(where, walker)
    told = look(held, where.hose, walker)
    for who in (make.person("storeman", at=where.site), make.person("inspector", at=make.site())):
        with pytest.raises(NotAllowed):
            begun(where, who)
        with pytest.raises(NotAllowed):
            look(held, where.hose, who)
        with pytest.raises(NotAllowed):
            take_back_look(inspection=told, person=who, at=NOW)
        with pytest.raises(NotAllowed):
            finish_round(round_=held, person=who, at=NOW)


def test_the_page_asks_as_much_for_forty_hoses_as_for_one(
    client: Client, where: Yard, walker: Person, django_assert_max_num_queries: Any
) -> None:
    more_hoses(where, 39)
    held = begun(where, walker)
    client.force_login(walker)
    with django_assert_max_num_queries(22):
        page = client.get(reverse("scheduling:round", args=[held.pk])).content.decode()
    assert "0 of 40" in page


def test_another_sites_round_is_not_there(client: Client, where: Yard, walker: Person) -> None:
    held = begun(where, walker)
    told = look(held, where.hose, walker)
    own = [held.pk]
    gets = [
        reverse("scheduling:round", args=own),
        reverse("scheduling:round_finish", args=own),
        reverse("scheduling:round_hose", args=[held.pk, where.hose.pk]),
        reverse("scheduling:round_begin", args=[where.machine.pk]),
    ]
    posts = [reverse(f"scheduling:round_{n}", args=own) for n in ("look", "rest", "back", "finish")]
    client.force_login(make.person("inspector", at=make.site()))
    assert {client.get(url).status_code for url in gets} == {404}
    assert {client.post(url, {"look": told.pk}).status_code for url in posts} == {404}
    client.force_login(make.person("storeman", at=where.site))
    assert [client.get(url).status_code for url in gets] == [200, 403, 403, 403]
    given = {"client_id": "e" * 20, "hose": where.hose.pk, "answer": "fine", "look": told.pk}
    assert {client.post(url, {**given, "hoses": "1"}).status_code for url in posts[:1]} == {403}
    client.logout()
    assert {client.get(url).status_code for url in gets} == {302}
    assert Inspection.objects.filter(taken_back_at=None).count() == 1
