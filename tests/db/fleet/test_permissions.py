import pytest

from fleet.actions.people import end_posting, post_person
from fleet.actions.refusals import Refused
from fleet.models import Person
from fleet.permissions import ROLES, NotAllowed, may, may_anywhere
from tests import factories as make

pytestmark = pytest.mark.django_db
EVERY_RIGHT = [codename for codename, _ in Person._meta.permissions]


@pytest.mark.parametrize("role", sorted(ROLES))
@pytest.mark.parametrize("right", EVERY_RIGHT)
def test_each_role_has_its_rights_at_its_site_only(role: str, right: str) -> None:
    here, there = make.site(), make.site()
    person = make.person(role, at=here)
    assert may(person, right, here) == (right in ROLES[role])
    assert not may(person, right, there)
    assert may_anywhere(person, right) == (right in ROLES[role])


def test_every_right_is_held_by_some_role_or_named_here() -> None:
    held = {right for rights in ROLES.values() for right in rights}
    assert set(EVERY_RIGHT) == held


def test_a_role_at_every_site_goes_for_a_new_site() -> None:
    person = make.person("planner")
    assert may(person, "edit_machines", make.site())


def test_an_ended_posting_gives_nothing() -> None:
    site = make.site()
    person = make.person("planner", at=site)
    end_posting(
        posting=person.posts[0], by=make.person("administrator"), at=make.NOW, reason="left"
    )
    assert not may(Person.objects.get(pk=person.pk), "read_register", site)


def test_a_planner_may_not_post_people() -> None:
    site = make.site()
    with pytest.raises(NotAllowed):
        post_person(
            person=make.person(),
            role="manager",
            site=site,
            by=make.person("planner", at=site),
            at=make.NOW,
        )


def test_refuses_a_role_that_is_none() -> None:
    with pytest.raises(Refused, match="no role"):
        post_person(person=make.person(), role="king", site=None, by=None, at=make.NOW)
