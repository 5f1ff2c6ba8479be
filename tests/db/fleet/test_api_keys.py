"""API keys: what they open, and what they never do."""

import datetime as dt

import pytest
from django.utils import timezone

from fleet.actions.keys import make_key, revoke_key
from fleet.actions.people import end_posting
from fleet.actions.refusals import Refused
from fleet.models import ApiKey, Person, TrailEntry
from fleet.permissions import NotAllowed
from tests import factories as make
from tests.api_client import Caller

pytestmark = pytest.mark.django_db


def key_for(owner: Person, **facts: object) -> tuple[ApiKey, str]:
    usual = {"name": "loader link", "site": None, "may_write": False, "days": 30, "by": owner}
    key, text = make_key(owner=owner, at=timezone.now(), **{**usual, **facts})  # type: ignore[arg-type]  # facts of any name
    return key, str(text)


def test_a_key_sees_what_its_owner_sees() -> None:
    machine = make.machine()
    _, text = key_for(make.person("fitter", at=machine.site))
    assert Caller(key=text).get(f"machines/{machine.pk}/").status == 200


def test_a_key_of_one_site_sees_no_other() -> None:
    here, there = make.machine(), make.machine()
    _, text = key_for(make.person("planner"), site=here.site)
    caller = Caller(key=text)
    assert [item["id"] for item in caller.get("machines/").said["items"]] == [here.pk]
    assert caller.get(f"machines/{there.pk}/").status == 404


def test_a_key_keeps_nothing_that_its_owner_lost() -> None:
    machine = make.machine()
    owner = make.person("planner", at=machine.site)
    _, text = key_for(owner, site=machine.site)
    end_posting(posting=owner.posts[0], by=make.person("administrator"), at=make.NOW, reason="left")
    assert Caller(key=text).get("machines/").said["items"] == []


@pytest.mark.parametrize("fault", ["revoked", "expired", "owner gone", "secret", "prefix", "shape"])
def test_every_bad_key_gets_the_same_answer(fault: str) -> None:
    owner = make.person("planner")
    key, text = key_for(owner)
    if fault == "revoked":
        revoke_key(key=key, by=owner, at=timezone.now())
    elif fault == "expired":
        text = str(make_key(owner=owner, name="old", site=None, may_write=False, days=1, by=owner,
                            at=timezone.now() - dt.timedelta(days=2))[1])  # fmt: skip
    elif fault == "owner gone":
        Person.objects.filter(pk=owner.pk).update(is_active=False)
    elif fault == "secret":
        text = text[:-1] + ("a" if text[-1] != "a" else "b")
    elif fault == "prefix":
        text = text.replace(key.prefix, "aaaaaaaa")
    else:
        text = "layline_short"
    answer = Caller(key=text).get("machines/")
    assert (answer.status, answer.code) == (401, "key_refused")
    assert answer.said["sentence"].startswith("This API key is unknown, has expired")


def test_only_a_digest_of_the_secret_is_kept() -> None:
    key, text = key_for(make.person("planner"))
    secret = text.rsplit("_", 1)[1]
    kept = ApiKey.objects.filter(pk=key.pk).values().get()
    assert not [value for value in kept.values() if secret in str(value)]
    assert secret not in str(list(TrailEntry.objects.values()))
    assert secret not in repr(key)


def test_using_a_key_notes_the_day_once() -> None:
    key, text = key_for(make.person("planner"))
    Caller(key=text).get("machines/")
    key.refresh_from_db()
    assert key.last_used_on == timezone.now().date()


def test_a_demo_persons_key_works_on_this_machine_only() -> None:
    _, text = key_for(make.person("planner", demo=True))
    caller = Caller(key=text)
    assert caller.get("machines/").status == 200
    caller.client.defaults["REMOTE_ADDR"] = "10.0.0.9"
    assert caller.get("machines/").code == "key_refused"
    caller.client.defaults.update(REMOTE_ADDR="127.0.0.1", HTTP_X_FORWARDED_FOR="10.0.0.9")
    assert caller.get("machines/").code == "key_refused"


def test_someone_who_manages_people_may_make_and_revoke_anothers_key() -> None:
    owner, administrator = make.person("planner"), make.person("administrator")
    key, _ = key_for(owner, by=administrator)
    revoke_key(key=key, by=administrator, at=make.NOW, reason="laptop lost")
    key.refresh_from_db()
    assert key.revoked_by == administrator
    assert TrailEntry.objects.filter(deed="revoked an API key", reason="laptop lost").exists()


def test_a_colleague_may_neither_make_nor_revoke_it() -> None:
    owner, colleague = make.person("planner"), make.person("planner")
    key, _ = key_for(owner)
    with pytest.raises(NotAllowed):
        key_for(owner, by=colleague)
    with pytest.raises(NotAllowed):
        revoke_key(key=key, by=colleague, at=make.NOW)


@pytest.mark.parametrize(
    ("facts", "code"),
    [
        ({"name": "  "}, "name_missing"),
        ({"days": 0}, "days"),
        ({"days": 367}, "days"),
    ],
)
def test_refuses_a_key_without_name_or_end(facts: dict[str, object], code: str) -> None:
    with pytest.raises(Refused) as refusal:
        key_for(make.person("planner"), **facts)
    assert refusal.value.code == code


def test_refuses_a_key_for_a_site_that_is_not_the_owners() -> None:
    with pytest.raises(Refused) as refusal:
        key_for(make.person("planner", at=make.site()), site=make.site())
    assert refusal.value.code == "site_not_yours"
