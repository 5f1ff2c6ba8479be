from typing import Any

import pytest
from django.core.management import CommandError, call_command
from django.db import DatabaseError

from fleet.actions.errands import run_errand
from fleet.models import Errand
from scheduling.actions import stale
from scheduling.actions.nudges import see_to_marks
from scheduling.actions.stale import mark_stale, refresh_everything, work_off_marks, work_off_now
from scheduling.models import Due, StaleMark
from tests import factories as make

pytestmark = pytest.mark.django_db
NOW = make.NOW
ASSEMBLY, MACHINE = StaleMark.Subject.ASSEMBLY, StaleMark.Subject.MACHINE


def _raised() -> list[tuple[str, int]]:
    marks = [m for m in StaleMark.objects.order_by("id") if m.generation > m.done_generation]
    return [(mark.subject, mark.subject_id) for mark in marks]


def test_a_mark_stays_until_the_work_is_done() -> None:
    hose = make.fitted()
    mark_stale(subject=ASSEMBLY, ids=[hose.pk], at=NOW)
    mark_stale(subject=ASSEMBLY, ids=[hose.pk], at=NOW)
    assert StaleMark.objects.get().generation == 2
    assert work_off_marks() == 1
    assert _raised() == []
    assert Due.objects.get().assembly_id == hose.pk


@pytest.mark.parametrize("subject", StaleMark.Subject.values)
def test_every_kind_of_mark_is_worked_off(subject: str) -> None:
    place = make.position()
    hose = make.fitted(on=place)
    ids = {"machine": place.machine_id, "assembly": hose.pk, "site": hose.site_id, "everything": 0}
    mark_stale(subject=subject, ids=[ids[subject]], at=NOW)
    assert work_off_marks() == 1
    assert Due.objects.filter(assembly=hose).exists()


def test_a_change_during_the_work_keeps_its_mark_up(monkeypatch: Any) -> None:
    hose = make.fitted()
    mark_stale(subject=ASSEMBLY, ids=[hose.pk], at=NOW)
    again: list[list[int]] = []

    def changed_meanwhile(subject: str, ids: list[int]) -> None:
        if not again:
            mark_stale(subject=subject, ids=ids, at=NOW)
        again.append(ids)

    monkeypatch.setattr(stale, "_refresh", changed_meanwhile)
    work_off_marks()
    mark = StaleMark.objects.get()
    assert (mark.generation, mark.done_generation) == (2, 2)
    assert again == [[hose.pk], [hose.pk]]


def test_work_that_fails_leaves_the_change_and_the_mark(monkeypatch: Any) -> None:
    def fail(subject: str, ids: list[int]) -> None:
        raise DatabaseError("no room")

    monkeypatch.setattr(stale, "_refresh", fail)
    assert not work_off_now(subject=ASSEMBLY, ids=[5], at=NOW)
    assert _raised() == [("assembly", 5)]


def test_many_subjects_are_left_to_the_sweep() -> None:
    hoses = [make.fitted().pk for _ in range(5)]
    assert not work_off_now(subject=ASSEMBLY, ids=hoses, at=NOW)
    assert len(_raised()) == 5
    assert work_off_marks() == 5


def test_very_many_subjects_are_one_mark_on_everything() -> None:
    mark_stale(subject=MACHINE, ids=range(stale.TOO_MANY + 1), at=NOW)
    assert _raised() == [("everything", 0)]


def test_a_whole_run_lowers_the_marks_that_stood_before() -> None:
    hose = make.fitted()
    mark_stale(subject=ASSEMBLY, ids=[hose.pk], at=NOW)
    mark_stale(subject="everything", ids=[0], at=NOW)
    refresh_everything()
    assert _raised() == []


def test_the_command_says_what_it_did_and_what_has_drifted(capsys: Any) -> None:
    hose = make.fitted()
    with pytest.raises(CommandError, match=rf"1 are missing.*Assemblies no. {hose.pk}\."):
        call_command("refresh_dues", "--check")
    call_command("refresh_dues")
    assert "1 hoses: 0 dues changed, 1 new, 0 taken out" in capsys.readouterr().out
    call_command("refresh_dues", "--check")
    Due.objects.update(flags=0)
    with pytest.raises(CommandError, match="1 differ"):
        call_command("refresh_dues", "--check")
    assert Due.objects.get().flags == 0


def test_the_command_works_out_the_hours_a_day_too(capsys: Any) -> None:
    machine = make.machine()
    call_command("refresh_dues", "--usage")
    assert "1 counters changed" in capsys.readouterr().out
    assert machine.usages.get().basis.startswith("class default")


def test_the_sweep_has_marks_worked_off_by_one_errand() -> None:
    assert not see_to_marks(at=NOW)
    mark_stale(subject=ASSEMBLY, ids=[make.fitted().pk], at=NOW)
    assert see_to_marks(at=NOW)
    assert not see_to_marks(at=NOW)
    errand = Errand.objects.get()
    run_errand(errand_id=errand.pk, clock=lambda: NOW)
    errand.refresh_from_db()
    assert (errand.state, errand.result, _raised()) == ("done", {"lowered": 1}, [])


def test_a_change_and_its_work_are_one_mark_that_is_down() -> None:
    place = make.position()
    make.fitted(on=place)
    assert work_off_now(subject=MACHINE, ids=[place.machine_id], at=NOW)
    assert work_off_now(subject=MACHINE, ids=[place.machine_id], at=NOW)
    mark = StaleMark.objects.get()
    assert (mark.generation, mark.done_generation) == (2, 2)
    assert Due.objects.count() == 1


def test_a_quick_run_settles_a_mark_that_was_left_up() -> None:
    place = make.position()
    mark_stale(subject=MACHINE, ids=[place.machine_id], at=NOW)
    assert work_off_now(subject=MACHINE, ids=[place.machine_id], at=NOW)
    assert _raised() == []
