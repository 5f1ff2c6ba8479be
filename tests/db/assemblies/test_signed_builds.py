"""A signed build as the hose's page shows it, and as a certificate reads it."""

from decimal import Decimal

import pytest
from django.urls import reverse

from assemblies.models import BuildRecord
from assemblies.queries.signed_builds import build_of, signed
from fleet.models import Person
from tests import factories as make
from tests.db.assemblies import build_bench as bb
from tests.db.assemblies.test_bench_pages import at, client
from tests.db.assemblies.test_build_scrapping import scrapped

pytestmark = pytest.mark.django_db


def hose_page(person: Person, build: BuildRecord) -> str:
    url = reverse("scheduling:hose", args=[build.assembly_id])
    return client(person).get(url).content.decode()


def test_the_hose_s_page_shows_the_build_with_readings_lines_people_and_amendments() -> None:
    bench = bb.bench()
    build = bb.signed(bench, a_od_readings=["24.58", "24.61", "24.60"], note="Quiet day.")
    told = {"text": "Reading 2 was 24.59.", "reason": "Typed wrongly."}
    client(bench.fitter).post(at("build_amend", build.pk), told)
    page = hose_page(bench.fitter, build)
    for words in (
        "read 24.58, 24.61, 24.60",
        "wanted Ø 24.60 ±0.10 mm",
        "held 550 bar for 60 s",
        f"Signed by</dt><dd>{bench.fitter}",
        "Quiet day.",
        "Reading 2 was 24.59.",
        "Add something beside it",
        str(bench.reel),
    ):
        assert words in page, words
    planner = make.person("planner", at=bench.site)
    assert "Add something beside it" not in hose_page(planner, build)


def test_the_hose_s_page_leads_to_a_build_that_is_still_open() -> None:
    bench = bb.bench()
    build = bb.piece(bench)
    assert at("build", build.pk) in hose_page(bench.fitter, build)


def test_a_scrapped_piece_s_page_says_why() -> None:
    bench = bb.bench()
    build = bb.made(bench)
    scrapped(bench, build)
    assert "Scrapped at the bench: Undersize at end A." in hose_page(bench.fitter, build)


def test_a_signed_build_is_read_by_who_sees_the_hose_alone() -> None:
    bench = bb.bench()
    build = bb.signed(bench)
    own = build_of(bench.fitter, build.assembly_id)
    assert own is not None
    found = signed(own)
    assert (found.tag, found.reel, found.gauge) == (
        build.assembly.tag_id,
        str(bench.reel),
        str(bench.gauge),
    )
    assert [end.crimp_od_mm for end in found.ends] == [Decimal("24.60")] * 2
    assert all(line.verdict == "good" for line in found.lines)
    assert build_of(make.person("fitter", at=make.site()), build.assembly_id) is None
    begun = build_of(bench.fitter, bb.piece(bench).assembly_id)
    assert begun is not None
    assert begun.signed_at is None
