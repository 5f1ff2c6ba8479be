"""Two people, or two clients, press at the same moment: one is told that the other was first."""

import threading
from collections.abc import Callable
from decimal import Decimal
from typing import Any

import pytest
from django.db import connection
from django.utils import timezone

from assemblies.actions.releases import Limits, release_conditionally
from assemblies.actions.specs import SPEC, approve_spec
from assemblies.models import Assembly, ConditionalRelease, SpecRevision
from assemblies.queries.trace_subjects import Subject, subject_for
from fleet.actions.refusals import Refused
from fleet.actions.sendings import do_once
from fleet.models import HourReading, Person, Sending, TrailEntry
from scheduling.actions.recalls import recall
from scheduling.models import Finding, Recall
from tests import factories as make
from tests.api_client import Caller
from tests.db.assemblies import spec_shop as shop
from tests.db.assemblies import trace_register

pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.timeout(300)]
ROUNDS = 20


def at_once(first: Callable[[], Any], second: Callable[[], Any]) -> list[Any]:
    """What two calls in two sessions, begun at the same moment, came to."""
    barrier, results = threading.Barrier(2), [None, None]

    def run(which: int, call: Callable[[], Any]) -> None:
        try:
            barrier.wait(20)
            results[which] = call()
        except Refused as refusal:
            results[which] = refusal.code  # type: ignore[call-overload]  # any result fits
        finally:
            connection.close()

    threads = [threading.Thread(target=run, args=one) for one in enumerate((first, second))]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(60)
    return results


def test_of_two_who_approve_one_draft_exactly_one_does() -> None:
    people = [make.person("manager"), make.person("manager")]
    content = shop.content()
    for number in range(ROUNDS):
        draft = shop.draft(f"S-{number}", of=content)
        seen = SPEC.fingerprint(draft)

        def approve(person: Person, draft: SpecRevision = draft, seen: str = seen) -> str:
            now = timezone.now()
            return approve_spec(revision=draft, seen=seen, person=person, at=now).state

        came_to = at_once(lambda: approve(people[0]), lambda: approve(people[1]))
        assert sorted(came_to) == ["approved", "not_a_draft"]
    assert SpecRevision.objects.filter(state="approved").count() == ROUNDS
    assert TrailEntry.objects.filter(deed="approved spec").count() == ROUNDS


def test_of_two_who_recall_one_reel_there_is_one_recall_and_one_finding_a_hose() -> None:
    people = [make.person("safety officer"), make.person("safety officer")]
    site = make.site()
    for number in range(ROUNDS):
        reel = trace_register.reel(site, f"R-{number}")
        for _ in range(3):
            trace_register.built(site, reel=reel)
        subject = subject_for(people[0], "reel", str(reel.pk))
        assert subject is not None

        def call(person: Person, subject: Subject = subject) -> int:
            told: dict[str, Any] = {"today": make.TODAY, "at": make.NOW, "person": person}
            asked: dict[str, Any] = {"verdict": "out_now", "by_on": None, "reason": "bad braid"}
            return int(recall(subject=subject, **asked, **told).pk)

        first, second = at_once(lambda: call(people[0]), lambda: call(people[1]))
        assert first == second
    assert Recall.objects.count() == ROUNDS
    assert Finding.objects.count() == 3 * ROUNDS


def test_of_two_who_release_one_hose_exactly_one_does() -> None:
    people = [make.person("manager"), make.person("manager")]
    site = make.site()
    for number in range(ROUNDS):
        hose = make.stored(at=site, condition="held", owner_mark=f"H-{number}")

        def release(person: Person, hose: Assembly = hose) -> str:
            terms: dict[str, Any] = {"reason": "down", "replace_by_on": make.TODAY}
            limits = Limits(Decimal(90), "here")
            told: dict[str, Any] = {"person": person, "today": make.TODAY, "at": make.NOW}
            release_conditionally(assembly=hose, limits=limits, **terms, **told)
            return "released"

        came_to = at_once(lambda: release(people[0]), lambda: release(people[1]))
        assert sorted(came_to) == ["released", "released_already"]
    assert ConditionalRelease.objects.count() == ROUNDS


def test_of_two_sendings_under_one_id_exactly_one_is_recorded() -> None:
    machine = make.machine()
    person = make.person("fitter", at=machine.site)
    callers = [Caller(person), Caller(person)]
    for number in range(ROUNDS):
        body = {
            "reading_h": number,
            "read_at": f"2026-03-{number + 1:02}T08:00:00Z",
            "client_id": f"loader-link-{number}",
        }
        path = f"machines/{machine.pk}/readings/"

        def send(caller: Caller, path: str = path, body: dict[str, Any] = body) -> Any:
            answer = caller.post(path, body)
            return answer.status, answer.said["id"]

        (one, first), (other, second) = at_once(lambda: send(callers[0]), lambda: send(callers[1]))
        assert (sorted((one, other)), first) == ([200, 201], second)
    assert HourReading.objects.count() == Sending.objects.count() == ROUNDS


def test_of_two_contents_under_one_id_one_is_done_and_both_are_kept() -> None:
    person = make.person("fitter")
    for number in range(ROUNDS):

        def send(content: dict[str, int], number: int = number) -> int:
            done = do_once(
                person=person,
                purpose="test",
                client_id=f"number-{number}",
                content=content,
                at=make.NOW,
                do=lambda: 7,
            )
            return done.result_id

        came_to = at_once(lambda: send({"a": 1}), lambda: send({"a": 2}))
        assert sorted(came_to, key=str) == [7, "sent_otherwise"]
    assert Sending.objects.filter(is_first=True).count() == ROUNDS
    assert Sending.objects.filter(is_first=False).count() == ROUNDS
