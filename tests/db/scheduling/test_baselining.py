import datetime as dt
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from assemblies.actions.found_hoses import FoundHose, settle_reading
from assemblies.actions.tags import draw_lot
from assemblies.calc.found_hose import Said
from assemblies.models import Assembly, Position, Stay
from assemblies.queries.found_hoses import open_questions
from fleet.actions.refusals import Refused
from fleet.models import Person
from fleet.permissions import NotAllowed
from scheduling.actions.baselining import HoseTold, Place, register_here, tell_empty
from scheduling.actions.inspections import Found, Look
from scheduling.actions.rounds import begin_round, finish_round
from scheduling.calc.inputs import Flag
from scheduling.models import Due, Finding, Inspection, Round
from tests import factories as make
from tests.db.scheduling.yard import Yard, yard

pytestmark = pytest.mark.django_db
NOW, TODAY = make.NOW, make.TODAY
LINE = "HARROW/EN 853/2SN/DN 12/2Q16"


@pytest.fixture
def where() -> Yard:
    return yard()


@pytest.fixture
def fitter(where: Yard) -> Person:
    return make.person("fitter", at=where.site)


@pytest.fixture
def held(where: Yard, fitter: Person) -> Round:
    return begin_round(
        machine=where.machine, purpose="register", person=fitter, today=TODAY, at=NOW
    )


def found(
    held: Round, person: Person, place: Position | str, *things: Found, **hose: Any
) -> Inspection:
    not_seen, client_id = hose.pop("not_seen", False), hose.pop("client_id", "")
    at = Place(place) if isinstance(place, Position) else Place(facts={"place": place})
    look = Look(TODAY, not_seen=not_seen, client_id=client_id)
    told = HoseTold(FoundHose(**hose), look, things)
    return register_here(round_=held, place=at, told=told, person=person, today=TODAY, at=NOW)


def test_a_hose_found_is_known_from_today_with_an_unknown_age(
    where: Yard, held: Round, fitter: Person
) -> None:
    place = make.position(on=where.machine)
    hose = found(held, fitter, place).assembly
    assert (hose.origin, hose.known_from_on) == ("unknown", TODAY)
    stay = hose.stays.get()
    assert (stay.position, stay.from_earliest_on) == (place, None)
    due = Due.objects.get(assembly=hose)
    assert Flag.UNKNOWN_AGE in Flag(due.flags)
    assert due.inspect_on == dt.date(2027, 3, 9)  # looked at today: 12 months, common practice


def test_one_that_could_not_be_seen_stays_due(where: Yard, held: Round, fitter: Person) -> None:
    hose = found(held, fitter, make.position(on=where.machine), not_seen=True).assembly
    assert Due.objects.get(assembly=hose).inspect_on == TODAY


def test_takes_what_can_be_read_and_keeps_it_as_it_was_read(
    where: Yard, held: Round, fitter: Person
) -> None:
    place = make.position(on=where.machine)
    hose = found(held, fitter, place, layline=LINE, stamp="1606", owner_mark="BQ 99").assembly
    assert (hose.layline, hose.built_typed) == (LINE, "1606")
    assert (hose.hose_type, hose.size_dn, hose.owner_mark) == ("2SN", 12, "BQ 99")
    assert (hose.made_earliest_on, hose.made_precision) == (dt.date(2016, 4, 1), "quarter")
    assert hose.built_latest_on == dt.date(2016, 6, 30)
    assert hose.made_confirmed_by is None


def test_an_ambiguous_code_is_asked_never_guessed(where: Yard, held: Round, fitter: Person) -> None:
    hose = found(held, fitter, make.position(on=where.machine), stamp="1206").assembly
    assert hose.built_earliest_on is None
    (question,) = open_questions(hose, TODAY)
    assert [name for name, _ in question.choices] == ["year-month", "month-year"]
    with pytest.raises(Refused, match="none of the readings"):
        settle_reading(assembly=hose, said=Said(built="week"), person=fitter, today=TODAY, at=NOW)
    said = Said(built="month-year")
    done = settle_reading(assembly=hose, said=said, person=fitter, today=TODAY, at=NOW)
    assert (done.built_earliest_on, done.built_confirmed_by) == (dt.date(2006, 12, 1), fitter)
    assert open_questions(done, TODAY) == ()
    assert Due.objects.get(assembly=hose).flags & Flag.UNKNOWN_AGE == 0
    with pytest.raises(Refused, match="Nothing of this hose is asked"):
        settle_reading(assembly=hose, said=said, person=fitter, today=TODAY, at=NOW)


def test_binds_a_tag_of_a_printed_lot_however_it_is_given(
    where: Yard, held: Round, fitter: Person
) -> None:
    tags = list(draw_lot(site=where.site, size=3, person=fitter, at=NOW).tags.order_by("code"))
    typed = (tags[0].code.lower(), f"https://h/t/{tags[1].code}", f"HTTPS://H/T/{tags[2].code}")
    for tag, text in zip(tags, typed, strict=True):
        hose = found(held, fitter, make.position(on=where.machine), tag=text).assembly
        hose.refresh_from_db()
        assert hose.tag == tag


def test_told_twice_is_kept_once(where: Yard, held: Round, fitter: Person) -> None:
    one = found(held, fitter, "Slew motor", client_id="a" * 20)
    again = found(held, fitter, "Slew motor", client_id="a" * 20)
    assert one == again
    assert (Position.objects.count(), Assembly.objects.count()) == (2, 2)


def test_a_refused_one_leaves_nothing_half_done(where: Yard, held: Round, fitter: Person) -> None:
    with pytest.raises(Refused):
        found(held, fitter, "Slew motor", tag="ZZZZZZZZ")
    with pytest.raises(Refused):
        found(held, fitter, "Slew motor", Found("twisted", "keep"))
    assert (Position.objects.count(), Assembly.objects.count()) == (1, 1)


def test_a_hose_that_is_known_gets_what_was_missing(
    where: Yard, held: Round, fitter: Person
) -> None:
    tag = draw_lot(site=where.site, size=1, person=fitter, at=NOW).tags.get()
    told = {"tag": tag.code, "layline": "HARROW/EN 853/1SN/DN 16/2Q16"}
    hose = found(held, fitter, where.position, Found("twisted", "out_now"), **told).assembly
    hose.refresh_from_db()
    assert hose == where.hose
    assert hose.tag == tag
    assert (hose.hose_type, hose.size_dn) == ("2SN", 12)  # what was known is never written over
    assert hose.layline == told["layline"]
    assert Finding.objects.get().verdict == "out_now"
    assert Stay.objects.count() == 1
    again = found(held, fitter, where.position, tag=tag.code, client_id="b" * 20)
    assert again.assembly == hose


def test_a_place_without_a_hose_is_told_and_not_asked_again(
    where: Yard, held: Round, fitter: Person
) -> None:
    bare = make.position(on=where.machine, place="Auxiliary")
    other = make.position(on=where.machine, place="Slew")
    for _ in range(2):
        tell_empty(round_=held, position=bare, person=fitter, at=NOW)
    held.refresh_from_db()
    assert held.told_empty == [bare.pk]
    with pytest.raises(Refused, match="take it off"):
        tell_empty(round_=held, position=where.position, person=fitter, at=NOW)
    done = finish_round(round_=held, person=fitter, at=NOW)
    assert done.left_out == ["1. Boom lift, rod side: not looked at", f"3. {other}: nothing told"]


def test_refuses_a_place_of_another_machine(where: Yard, held: Round, fitter: Person) -> None:
    far = make.position(on=make.machine(at=where.site))
    with pytest.raises(Refused, match="is not on EX-014"):
        found(held, fitter, far)
    with pytest.raises(Refused, match="is not on EX-014"):
        tell_empty(round_=held, position=far, person=fitter, at=NOW)
    with pytest.raises(Refused, match="Say where"):
        found(held, fitter, " ")


def test_needs_the_right_at_the_site(where: Yard, held: Round) -> None:
    for who in (make.person("inspector", at=where.site), make.person("fitter", at=make.site())):
        with pytest.raises(NotAllowed):
            found(held, who, "Slew motor")
        with pytest.raises(NotAllowed):
            tell_empty(round_=held, position=where.position, person=who, at=NOW)
        with pytest.raises(NotAllowed):
            settle_reading(
                assembly=where.hose, said=Said(size="12"), person=who, today=TODAY, at=NOW
            )


def test_another_sites_registration_is_not_there(
    client: Client, where: Yard, held: Round, fitter: Person
) -> None:
    gets = [
        reverse("scheduling:register_begin", args=[where.machine.pk]),
        reverse("scheduling:register_place", args=[held.pk]),
    ]
    posts = [reverse(f"scheduling:register_{n}", args=[held.pk]) for n in ("told", "empty")]
    posts.append(reverse("scheduling:reading_meant", args=[where.hose.pk]))
    client.force_login(make.person("fitter", at=make.site()))
    assert {client.get(url).status_code for url in gets} == {404}
    assert {client.post(url).status_code for url in posts} == {404}
    client.force_login(make.person("inspector", at=where.site))
    assert {client.get(url).status_code for url in gets} == {403}
    client.force_login(fitter)
    assert {client.get(url).status_code for url in gets} == {200}
    begun = client.post(gets[0])
    assert begun.headers["Location"] == reverse("scheduling:round", args=[held.pk])
    client.logout()
    assert {client.get(url).status_code for url in gets} == {302}
