"""Compiled questions give what their querysets give, for every kind of thing asked for."""

import datetime as dt
from typing import Any

import pytest
from django.db import connection
from django.db.models import Q, QuerySet
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from assemblies.models import Position
from fleet.models import Machine, Person, Site, SiteSpell
from fleet.models.compiled import Compiled, Fixed, compiled
from tests import factories as make

pytestmark = pytest.mark.django_db


@compiled
def machine_with_site(machine_id: int) -> "QuerySet[Machine]":
    return Machine.objects.filter(pk=machine_id).select_related("site", "machine_class")


@compiled
def numbers_among(ids: Any) -> "QuerySet[Machine, str]":
    found = Machine.objects.filter(pk__in=ids).order_by("-number_key")
    return found.values_list("fleet_number", flat=True)


@compiled
def seen(person: Person, status: str) -> "QuerySet[Machine, tuple[int, str]]":
    found = Machine.objects.visible_to(person).filter(status=status).order_by("pk")
    return found.values_list("pk", "status")


@compiled
def at_site_since(site_id: int, day: dt.date) -> "QuerySet[SiteSpell, int]":
    found = SiteSpell.objects.filter(site=site_id, from_on__lte=day).exclude(to_on__lt=day)
    return found.values_list("machine", flat=True)


@compiled
def of_kind(current: bool | None) -> "QuerySet[Site]":  # what a test asks for
    found = Site.objects.order_by("pk")
    return found if current is None else found.filter(withdrawn_at__isnull=current)


@compiled
def with_meters(machine_id: int) -> "QuerySet[Machine]":
    return Machine.objects.filter(pk=machine_id).prefetch_related("meters")


def test_a_row_comes_with_those_it_was_selected_with() -> None:
    machine, other = make.machine(), make.machine()
    for _ in range(2):
        (found,) = machine_with_site(machine.pk)
        with CaptureQueriesContext(connection) as asked:
            assert (found, found.site, found.machine_class) == (
                machine,
                machine.site,
                machine.machine_class,
            )
        assert not asked.captured_queries
        assert found.fleet_number == machine.fleet_number
        assert not found._state.adding
    assert machine_with_site.first(other.pk) == other
    assert machine_with_site.first(other.pk + 999) is None


def test_every_column_is_as_the_orm_reads_it() -> None:
    machine = make.machine()
    plain = Machine.objects.get(pk=machine.pk)
    (found,) = machine_with_site(machine.pk)
    names = [field.attname for field in Machine._meta.concrete_fields]
    assert [getattr(found, name) for name in names] == [getattr(plain, name) for name in names]
    assert [type(getattr(found, name)) for name in names] == [
        type(getattr(plain, name)) for name in names
    ]


@pytest.mark.parametrize("kind", [tuple, list, set, frozenset])
def test_several_are_asked_for_in_any_collection(kind: type) -> None:
    machines = [make.machine() for _ in range(3)]
    ids = [one.pk for one in machines]
    wanted = sorted((one.fleet_number for one in machines), reverse=True)
    assert sorted(numbers_among(kind(ids)), reverse=True) == wanted
    assert numbers_among(kind(ids[:1])) == [machines[0].fleet_number]
    assert numbers_among([*ids[:1], *ids[:1]]) == [machines[0].fleet_number]
    assert numbers_among(kind()) == []


def test_nobody_sees_more_than_their_sites() -> None:
    here, there, third = make.site(), make.site(), make.site()
    machines = [make.machine(at=site) for site in (here, there, third)]
    status = machines[0].status
    rows = [(one.pk, status) for one in machines]
    assert seen(make.person("planner", at=here), status) == rows[:1]
    assert seen(make.person("planner", at=there), status) == rows[1:2]
    assert seen(make.person("planner"), status) == rows
    both = make.person("planner", at=here)
    role = both.postings.get().role
    both.postings.create(role=role, site=third, began_at=timezone.now())
    assert seen(Person.objects.get(pk=both.pk), status) == [rows[0], rows[2]]
    assert seen(make.person(), status) == []
    assert seen(make.person("planner"), "sold") == []


def test_someone_who_has_left_sees_nothing() -> None:
    make.machine()
    person = make.person("planner")
    person.is_active = False
    assert seen(person, "in_service") == []


def test_a_day_is_asked_for_as_its_column_keeps_it() -> None:
    site = make.site()
    machine = make.machine(at=site)
    day = make.TODAY
    assert at_site_since(site.pk, day) == [machine.pk]
    assert at_site_since(site.pk, day + dt.timedelta(days=400)) == [machine.pk]
    assert at_site_since(site.pk, day - dt.timedelta(days=1)) == []
    assert at_site_since(site.pk, dt.date.max) == [machine.pk]


def test_a_flag_belongs_to_the_question() -> None:
    site = make.site()
    assert of_kind(None) == [site]
    assert of_kind(True) == [site]  # likewise
    assert of_kind(False) == []  # likewise


def test_what_is_fixed_belongs_to_the_question() -> None:
    machines = [make.machine() for _ in range(3)]

    @compiled
    def some(order: Fixed[str], most: Fixed[int], least_id: int) -> "QuerySet[Machine]":
        found = Machine.objects.filter(pk__gte=least_id).order_by(order.value)
        return found[: most.value]

    least = machines[0].pk
    for _ in range(2):
        assert some(Fixed("pk"), Fixed(2), least) == machines[:2]
        assert some(Fixed("-pk"), Fixed(2), least) == machines[:0:-1]
        assert some(Fixed("-pk"), Fixed(1), least) == machines[2:]


def test_a_small_column_is_asked_for_like_any_other() -> None:
    """A stand-in must fit the least column, or the ORM holds that no row can fit."""

    @compiled
    def at_walk_order(order: int) -> "QuerySet[Position, int]":
        return Position.objects.filter(place_no=order).values_list("pk", flat=True)

    place = make.position()
    assert at_walk_order(place.place_no) == [place.pk]
    assert at_walk_order(place.place_no + 1) == []


def test_a_constant_is_never_taken_for_what_is_asked() -> None:
    machine = make.machine()

    @compiled
    def some(machine_id: int) -> "QuerySet[Machine, int]":
        near = Q(pk=machine_id) | Q(pk__in=[31_000, 29_000, 31_001])
        return Machine.objects.filter(near).values_list("pk", flat=True)

    with pytest.raises(TypeError, match="must not look at what is asked"):
        some(machine.pk)


def test_what_is_fetched_beside_it_comes_too() -> None:
    machine = make.machine()
    for _ in range(2):
        (found,) = with_meters(machine.pk)
        with CaptureQueriesContext(connection) as asked:
            list(found.meters.all())
        assert not asked.captured_queries


def test_a_number_that_fits_no_column_finds_nothing() -> None:
    make.machine()
    assert machine_with_site(10**25) == []


def test_later_calls_ask_the_database_once_and_the_orm_never(settings: Any) -> None:
    settings.COMPILED_QUESTIONS_CHECKED = False
    asked = []

    @compiled
    def some(machine_id: int) -> "QuerySet[Machine]":
        asked.append(machine_id)
        return Machine.objects.filter(pk=machine_id)

    machines = [make.machine() for _ in range(3)]
    with CaptureQueriesContext(connection) as run:
        assert [some.first(one.pk) for one in machines] == machines
    assert len(asked) == 2  # with both sets of stand-ins
    assert len(run.captured_queries) == 3


def wrong(ask: Any) -> Compiled[Any, Any]:
    return compiled(ask)


def test_a_question_that_looks_at_what_is_asked_is_found_out() -> None:
    def by_value(machine_id: int) -> "QuerySet[Machine]":
        found = Machine.objects.filter(pk=machine_id)
        return found.order_by("pk") if machine_id < 1000 else found

    with pytest.raises(RuntimeError, match="not what the ORM would ask"):
        wrong(by_value)(1)


def test_a_value_that_is_changed_on_its_way_is_refused() -> None:
    with pytest.raises(TypeError, match="not in the SQL"):
        wrong(lambda text: Machine.objects.filter(fleet_number__startswith=text))("a")
    with pytest.raises(TypeError, match="not in the SQL"):
        wrong(lambda _one: Machine.objects.all())(7)
    with pytest.raises(TypeError, match="not in the SQL"):
        wrong(lambda day: Machine.objects.filter(pk__gt=(day - dt.date.min).days))(make.TODAY)


@pytest.mark.parametrize("one", [1.5, b"x", object(), dt.datetime(2026, 1, 1, tzinfo=dt.UTC)])
def test_other_things_can_not_be_asked_for(one: Any) -> None:
    with pytest.raises(TypeError, match="can't be asked for"):
        wrong(lambda one: Machine.objects.filter(pk=one))(one)


def test_a_question_from_a_row_is_refused() -> None:
    machine = make.machine()
    with pytest.raises(TypeError, match="starts at a model's manager"):
        wrong(lambda _none: machine.meters.all())(None)
    with pytest.raises(TypeError, match="model rows or a values list"):
        wrong(lambda one: Machine.objects.filter(pk=one).values("pk"))(machine.pk)
    with pytest.raises(TypeError, match="in order, not named"):
        machine_with_site(machine_id=machine.pk)


def test_more_values_than_are_kept_ready_are_still_found() -> None:
    machine = make.machine()
    assert numbers_among([machine.pk, *range(10**6, 10**6 + 500)]) == [machine.fleet_number]
