"""Two fitters at one piece at the same moment: it is begun once, saved in turn, signed once."""

from collections.abc import Callable
from decimal import Decimal
from typing import Any

import pytest

from assemblies.actions.build_scrapping import Scrap, scrap_piece
from assemblies.actions.build_signing import Signing, sign_build
from assemblies.actions.build_writing import Typed, record_build
from assemblies.actions.builds import begin_builds
from assemblies.models import Assembly, BuildBatch, BuildRecord, StockItem, StockMovement, Tag
from fleet.models import Person, TrailEntry
from tests import factories as make
from tests.db.assemblies import build_bench as bb
from tests.faults.test_two_at_a_desk import at_once

pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.timeout(600)]
ROUNDS = 12


@pytest.fixture
def at() -> bb.Bench:
    return bb.bench(metres="500")


@pytest.fixture
def two(at: bb.Bench) -> tuple[Person, Person]:
    return at.fitter, make.person("fitter", at=at.site)


def signing(build: BuildRecord, by: Person) -> Callable[[], Any]:
    def sign() -> str:
        done = sign_build(build=build, seen=build.version, signing=Signing(), person=by, at=bb.NOW)
        return f"signed {done.pk}"

    return sign


def test_of_two_who_sign_one_piece_exactly_one_does(
    at: bb.Bench, two: tuple[Person, Person]
) -> None:
    for _ in range(ROUNDS):
        build = bb.made(at)
        came_to = at_once(*(signing(build, person) for person in two))
        assert sorted(came_to) == ["build_signed", f"signed {build.pk}"]
    assert StockMovement.objects.filter(kind="used").count() == 2 * ROUNDS
    assert StockItem.objects.get(reel=at.reel).balance == 500 - ROUNDS * Decimal("1.2")
    assert Tag.objects.count() == Assembly.objects.exclude(tag=None).count() == ROUNDS
    assert TrailEntry.objects.filter(deed="signed a build").count() == ROUNDS


def test_a_piece_is_signed_or_scrapped_never_both(at: bb.Bench, two: tuple[Person, Person]) -> None:
    for _ in range(ROUNDS):
        build = bb.made(at)

        def scrap(build: BuildRecord = build) -> str:
            gone = Scrap("Wrong.", build.hose_used_m)
            scrap_piece(build=build, scrap=gone, seen=build.version, person=two[1], at=bb.NOW)
            return "scrapped"

        came_to = at_once(signing(build, two[0]), scrap)
        assert came_to.count("build_signed") == 1
        fresh = BuildRecord.objects.get(pk=build.pk)
        assert bool(fresh.scrapped_reason) is ("scrapped" in came_to)
    taken = StockMovement.objects.filter(item__reel=at.reel).exclude(kind="received")
    assert taken.count() == ROUNDS


def test_of_two_who_save_over_one_another_one_is_told(
    at: bb.Bench, two: tuple[Person, Person]
) -> None:
    for _ in range(ROUNDS):
        build = bb.piece(at)

        def save(person: Person, words: str, build: BuildRecord = build) -> str:
            typed = Typed({"bore_cleaned_with": words})
            record_build(build=build, typed=typed, seen=1, person=person, at=bb.NOW)
            return "saved"

        def first(save: Callable[..., str] = save) -> str:
            return save(two[0], "air")

        def second(save: Callable[..., str] = save) -> str:
            return save(two[1], "foam")

        assert sorted(at_once(first, second)) == ["changed_meanwhile", "saved"]
        assert BuildRecord.objects.get(pk=build.pk).version == 2


def test_told_twice_at_once_a_batch_is_begun_once(at: bb.Bench) -> None:
    for number in range(ROUNDS):

        def begin(number: int = number) -> int:
            batch = begin_builds(
                sheet=at.sheet,
                quantity=2,
                client_id=f"once-{number}",
                person=at.fitter,
                at=bb.NOW,
            )
            return batch.pk

        first, second = at_once(begin, begin)
        assert first == second
    assert (BuildBatch.objects.count(), BuildRecord.objects.count()) == (ROUNDS, 2 * ROUNDS)
