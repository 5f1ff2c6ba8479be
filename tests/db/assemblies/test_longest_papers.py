"""Every paper from a register whose every text is as long as its column: nothing lost or covered.

Both ends unmatched, 180°, eight sleeves, in Latin, Cyrillic, ideographs, syllables, a picture
sign and two writings from right to left.
"""

import datetime as dt
import io
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import Any

import pytest

from assemblies.actions.papers import issue_certificate, issue_fitting_sheet
from assemblies.actions.sheets import issue_book_sheets, issue_sheet
from assemblies.actions.specs import EndChoice, Sleeve
from assemblies.calc.sheet import CrimpFigures, SheetContent
from assemblies.models import (
    Amendment,
    Assembly,
    BuildRecord,
    ConditionalRelease,
    Position,
    RecipeRevision,
    SpecRevision,
)
from assemblies.pdf.build_sheet import draw_build_sheet
from assemblies.pdf.certificate import draw_certificate
from assemblies.pdf.fitting_sheet import draw_fitting_sheet
from assemblies.pdf.hose_book import draw_hose_book
from assemblies.queries.fitting_sheets import FittingOrder
from assemblies.queries.hose_books import book_plan
from assemblies.queries.papers import certificate_content_of, fitting_content_of
from assemblies.queries.sheets import SheetOrder, content_of
from fleet.models import Person, Site
from fleet.models.seals import install_seals, remove_seals
from fleet.pdf.frame import A4, LETTER, SIZES, PageSize
from fleet.pdf.pen import Placed
from tests import factories as make
from tests.conftest import ON_POSTGRES
from tests.db.assemblies import build_bench as bb
from tests.db.assemblies import spec_shop as shop
from tests.db.assemblies.longest import longest, put, put_revision
from tests.paper_reading import PageRead, read_pages
from tests.unit.assemblies.fitting_samples import said
from tests.unit.assemblies.paper_checks import astray, covered, cut_off, not_printed

pytestmark = pytest.mark.django_db
D = Decimal
ADDRESS = "https://hoses.example"
# A page's size knows nothing of the database: on the second one a single size is enough.
_DRAWN = {"A4": A4} if ON_POSTGRES else SIZES
every_size = pytest.mark.parametrize("size", list(_DRAWN.values()), ids=list(_DRAWN))


@dataclass
class Yard:
    """A site, a machine with one place, and a hose that was built for it, signed and tested."""

    site: Site
    place: Position
    spec: SpecRevision
    hose: Assembly


def trial(hose: Any, end: Any, shell: Any, rated_by: Person) -> RecipeRevision:
    drafted = shop.recipe(hose, end, shell)
    return RecipeRevision.objects.create(
        header=drafted.header,
        **{"number": 2, "basis": "trial", "state": "approved", "insertion_depth_mm": D(34)},
        **{"external_skive": "length", "external_skive_mm": D(29), "internal_skive": "none"},
        **{"crimp_od_mm": D("26.25"), "pin_mm": D("9.80"), "must_pass_pin_mm": D("9.50")},
        **{"working_pressure_bar": D(160), "rated_by": rated_by, "made_by": rated_by},
        **{"made_at": make.NOW, "approved_by": rated_by, "approved_at": make.NOW},
    )


def spec_at_its_longest(person: Person) -> SpecRevision:
    hose = make.hose(bend_radius_mm=D(180), temperature_low_c=-40, temperature_high_c=100)
    elbow: Any = {"form": "elbow_90", "one_piece": False, "torque_nm": D("60.0")}
    near, far = make.fitting(**elbow), make.fitting(**elbow, drop_mm=D(40))
    shell = shop.shell()
    for end in (near, far):
        trial(hose, end, shell, person)
    sleeves = tuple(Sleeve(said(f"S{n}", 80), D(50 * n), D(50 * n + 300)) for n in range(8))
    content = shop.content(hose=hose, near=near, far=far, orientation_deg=180, sleeves=sleeves)
    ends = [EndChoice(end.header, shell.header) for end in (near, far)]
    spec = shop.approve(shop.draft(of=replace(content, near=ends[0], far=ends[1])))
    for row in (hose, near, far, shell, spec):
        put_revision(row)
    for recipe in RecipeRevision.objects.filter(state="approved"):
        put(recipe, "withdrawal_reason")
    return SpecRevision.objects.select_related("header", "hose").get(pk=spec.pk)


@pytest.fixture
def yard() -> Yard:
    remove_seals(using="default")
    site = make.site(proof_test="all")
    put(site, "time_zone")
    site.refresh_from_db()
    person = make.person("fitter", at=site, display_name=said("person", 120))
    spec = spec_at_its_longest(person)
    place = make.position(on=make.machine(at=site), required_spec=spec.header, place_no=12)
    put(place, access_group=said("group", 40), lifting_needed=said("crane", 160))
    put(place.machine)
    put(place.machine.machine_class)
    build = built(site, spec, person)
    old = make.fitted(on=place, **longest(Assembly, "owner_mark"), owner_mark=said("old", 60))
    ConditionalRelease.objects.create(
        **{"assembly": old, "authority": person, "released_at": make.NOW},
        **{"replace_by_on": dt.date(2026, 3, 12), **longest(ConditionalRelease)},
    )
    install_seals(using="default")
    return Yard(site, Position.objects.get(pk=place.pk), spec, build.assembly)


def built(site: Site, spec: SpecRevision, person: Person) -> BuildRecord:
    at = bb.bench(spec, site=site)
    for tool in (at.crimper, at.micrometer, at.gauge):
        put(tool, "withdrawal_reason")
    for lot in {*at.lots.values(), *at.shells.values()}:
        put(lot, "withdrawal_reason", "name")
    put(at.reel, "withdrawal_reason")
    build = bb.signed(at, note="Asked.", cleanliness=said("reached", 40))
    BuildRecord.objects.filter(pk=build.pk).update(
        **longest(BuildRecord, "scrapped_reason"), made_by=person, signed_by=person
    )
    texts = longest(Amendment)
    for _ in range(3):
        Amendment.objects.create(build=build, made_at=make.NOW, made_by=person, **texts)
    return BuildRecord.objects.get(pk=build.pk)


def check(content: object, log: list[Placed], pages: list[PageRead]) -> None:
    told = [placed for placed in log if not placed.text.startswith("Layline · ")]
    assert not_printed(content, told, pages) == []
    assert astray(log, pages) == []
    assert cut_off(told, pages) == []
    assert covered(pages) == []


def twelve_readings(content: SheetContent) -> SheetContent:
    near, far = (replace(end, crimp=_twelve(end.crimp)) for end in content.ends)
    return replace(content, ends=(near, far))


def _twelve(crimp: CrimpFigures | None) -> CrimpFigures | None:
    return replace(crimp, readings=12) if crimp else None


@pytest.mark.parametrize(("size", "quantity"), [(A4, 1), (LETTER, 3)])
def test_a_build_sheet_prints_all_of_it(yard: Yard, size: PageSize, quantity: int) -> None:
    order = SheetOrder(yard.site, quantity, yard.place, job=said("job", 40))
    sheet = issue_sheet(spec=yard.spec, order=order, address=ADDRESS, person=None, at=make.NOW)
    content, log = twelve_readings(content_of(sheet)), list[Placed]()
    assert len(content.sleeves) == 8
    assert content.orientation.angle_deg == 180
    assert {end.matched for end in content.ends} == {False}
    pages = read_pages(draw_build_sheet(content, page=size, log=log))
    check(content, log, pages)


@every_size
def test_a_fitting_up_sheet_prints_all_of_it(yard: Yard, size: PageSize) -> None:
    order = FittingOrder(yard.place, yard.hose, said("job", 40))
    paper = issue_fitting_sheet(order=order, address=ADDRESS, person=None, at=make.NOW)
    content, log = fitting_content_of(paper), list[Placed]()
    assert any(alert.startswith("UNMATCHED") for alert in content.alerts)
    pages = read_pages(draw_fitting_sheet(content, page=size, log=log))
    check(content, log, pages)
    steps = {step for phase in content.phases for step in phase.steps}
    assert steps <= {placed.text for placed in log if placed.page == 1 and placed.whole}


@every_size
def test_a_certificate_prints_all_of_it(yard: Yard, size: PageSize) -> None:
    paper = issue_certificate(hose=yard.hose, address=ADDRESS, person=None, at=make.NOW)
    content, log = certificate_content_of(paper), list[Placed]()
    assert len(content.amendments) == 3
    pages = read_pages(draw_certificate(content, page=size, log=log))
    check(content, log, pages)


@every_size
def test_a_hose_book_prints_all_of_it(yard: Yard, size: PageSize) -> None:
    plan = book_plan(yard.place.machine)
    sheets = issue_book_sheets(
        specs=list(plan.specs),
        site=yard.site,
        machine=yard.place.machine,
        address=ADDRESS,
        person=None,
        at=make.NOW,
    )
    head, out, log = plan.head(as_of_on=make.TODAY), io.BytesIO(), list[Placed]()
    draw_hose_book(head, [content_of(one) for one in sheets], out, page=size, log=log)
    pages = read_pages(out.getvalue())
    assert len(pages) > len(sheets)
    check(head, log, pages)
