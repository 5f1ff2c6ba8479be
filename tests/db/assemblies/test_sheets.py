"""Build sheets from specs: what they say, that they are frozen once, and when they are refused."""

import datetime as dt
import json
from dataclasses import replace
from decimal import Decimal
from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from assemblies.actions.sheets import issue_book_sheets, issue_sheet
from assemblies.actions.specs import Sleeve
from assemblies.calc.sheet import EndHead, EndShape, PinAnswer, SheetContent, SourceKind, to_json
from assemblies.models import ConditionalRelease, FrozenSheet, RecipeRevision, SpecRevision
from assemblies.queries.sheets import MOST_PIECES, SheetOrder, content_of
from fleet.actions.refusals import Refused
from fleet.models import Person, Site, TrailEntry
from fleet.permissions import NotAllowed
from tests import factories as make
from tests.db.assemblies import spec_shop as shop

pytestmark = pytest.mark.django_db
NOW = make.NOW
ADDRESS = "https://hoses.example"
D = Decimal


def issue(spec: SpecRevision, *, site: Site | None = None, **facts: Any) -> FrozenSheet:
    person = facts.pop("person", None)
    at = facts.pop("at", NOW)
    order = SheetOrder(site or make.site(), **facts)
    return issue_sheet(spec=spec, order=order, address=ADDRESS, person=person, at=at)


def issued(spec: SpecRevision, **facts: Any) -> SheetContent:
    return content_of(issue(spec, **facts))


def bent_spec(**facts: Any) -> SpecRevision:
    """An elbow at each end, 90° apart, on a hose with a chart's recipe at both ends."""
    hose = make.hose(
        printed_pressure="275 bar / 4000 psi",
        rating_source="EN 853:2015",
        temperature_low_c=-40,
        temperature_high_c=100,
        bend_radius_mm=D(180),
        outside_diameter_mm=D("23.10"),
    )
    elbow = {"form": "elbow_90", "turns": "swivel_nut", "drop_mm": D("40.0")}
    near = shop.end(**elbow, allowance_mm=D("45.5"), torque_nm=D("60.0"), torque_source="table 3")
    far = shop.end(**elbow, allowance_mm=D("62.0"), working_pressure_bar=D(250))
    for end in (near, far):
        shop.approved_recipe(hose, end, pin_mm=D("9.80"), pin_from="from the nut")
    return shop.approved(hose=hose, near=near, far=far, orientation_deg=90, **facts)


def test_says_lengths_pressures_and_ends_as_the_spec_works_them_out() -> None:
    content = issued(bent_spec())
    assert content.length.cut_length_mm == D("1092.5")
    assert content.length.arithmetic == "1200 − 45.5 − 62 = 1092.5 mm"
    assert (content.length.plus_mm, content.length.minus_mm) == (D(12), D(4))
    assert (content.pressure.working_bar, content.test.pressure_bar) == (D(250), D(500))
    assert content.pressure.binds.endswith("(end B)")
    assert content.orientation.angle_deg == 90
    assert content.orientation.tolerance_deg == 5
    near = content.ends[0]
    assert (near.shape, near.bend_deg, near.head) == (EndShape.BENT, 90, EndHead.NUT)
    assert (near.drop_mm, near.torque) == (D("40.0"), "60 Nm (table 3)")
    assert near.allowance_from == "from the centre line of the connection"


def test_names_a_standards_document_and_asks_to_check_it() -> None:
    source = issued(bent_spec()).hose.rating.source
    assert source.kind is SourceKind.STANDARD
    assert source.words() == "EN 853:2015: check against your copy and the maker's data"


def test_gives_a_charts_figures_and_a_pin_that_must_enter() -> None:
    crimp = issued(bent_spec()).ends[0].crimp
    assert crimp is not None
    assert (crimp.crimp_od_mm, crimp.crimp_od_plus_mm) == (D("24.60"), D("0.10"))
    assert crimp.basis_words == "Harrow crimp chart 7, page 3"
    assert crimp.pin is not None
    assert (crimp.pin.expected, crimp.pin.entry) == (PinAnswer.ENTERS, "from the nut")


def test_gives_no_figure_where_a_recipe_is_missing_or_not_approved() -> None:
    hose, near, far = make.hose(), shop.end(), shop.end()
    shop.recipe(hose, far)
    content = issued(shop.approved(hose=hose, near=near, far=far))
    assert not content.can_be_crimped
    assert content.ends[0].no_crimp_reason == f"There is no recipe for {hose.header} on " + (
        f"{near.header}."
    )
    assert content.ends[1].no_crimp_reason.endswith("is draft, not approved.")
    assert "24.60" not in to_json(content)


def trial_recipe(hose: Any, fitting: Any, **facts: Any) -> RecipeRevision:
    """An approved recipe made by trial; written straight, the way there is not tested here."""
    person = make.person(username=facts.pop("by", f"fitter {fitting.pk}"))
    drafted = shop.recipe(hose, fitting)
    return RecipeRevision.objects.create(
        header=drafted.header,
        number=2,
        basis="trial",
        state="approved",
        insertion_depth_mm=D(34),
        external_skive="length",
        external_skive_mm=D(29),
        internal_skive="unknown",
        crimp_od_mm=D("26.25"),
        pin_mm=D("9.80"),
        working_pressure_bar=D(160),
        rated_by=person,
        made_by=person,
        made_at=NOW,
        approved_by=facts.pop("approved_by", None) or make.person(),
        approved_at=NOW,
        **facts,
    )


def test_says_unmatched_and_tests_every_piece_on_a_trial_recipe() -> None:
    hose, near, far = make.hose(), shop.end(), shop.end()
    shop.approved_recipe(hose, near)
    trial_recipe(hose, far, by="R. Aldous")
    content = issued(
        shop.approved(hose=hose, near=near, far=far), site=make.site(proof_test="none")
    )
    end = content.ends[1]
    assert end.crimp is not None
    assert not end.matched
    assert end.crimp.pin is not None
    assert end.crimp.pin.expected is PinAnswer.REFUSES
    assert (end.crimp.rated_bar, end.crimp.rated_by) == (D(160), "R. Aldous")
    assert end.crimp.cover_left_mm == 5
    assert content.pressure.working_bar == 160
    assert content.alerts[0].startswith("UNMATCHED at end B")
    assert content.test.policy == "Every piece: the parts are unmatched."


def test_says_when_one_person_made_and_approved_a_recipe() -> None:
    hose, near, far = make.hose(), shop.end(), shop.end()
    recipe = trial_recipe(hose, near)
    RecipeRevision.objects.filter(pk=recipe.pk).update(approved_by=recipe.made_by)
    content = issued(shop.approved(hose=hose, near=near, far=far))
    assert "The recipe of end A was made and approved by one person alone." in content.alerts


@pytest.mark.parametrize(
    ("policy", "words"),
    [
        ({"proof_test": "all"}, "Every piece."),
        ({"proof_test": "none"}, "None is asked by the site."),
        ({"proof_test": "one_in_n", "proof_test_one_in": 5}, "One piece in 5, as the site asks."),
    ],
)
def test_says_what_the_site_tests(policy: dict[str, Any], words: str) -> None:
    assert issued(bent_spec(), site=make.site(**policy)).test.policy == words


def test_takes_the_specs_own_test_where_it_has_one() -> None:
    test = issued(bent_spec(test_pressure_bar=D(400), test_hold_s=120)).test
    assert (test.pressure_bar, test.hold_from_s, test.hold_to_s) == (D(400), 120, 120)


def test_shows_the_sleeves_and_one_that_runs_to_the_other_end() -> None:
    sleeves = (Sleeve("spiral guard", D(100), D(900)), Sleeve("textile sleeve"))
    content = issued(bent_spec(sleeves=sleeves))
    assert [(s.name, s.from_mm, s.to_mm) for s in content.sleeves] == [
        ("spiral guard", D(100), D(900)),
        ("textile sleeve", D(0), None),
    ]


def test_carries_the_conditional_releases_of_its_machine() -> None:
    position = make.position()
    other = make.fitted(on=make.position(on=position.machine), owner_mark="old 7")
    ConditionalRelease.objects.create(
        assembly=other,
        authority=make.person(),
        released_at=NOW,
        reason="breakdown at night",
        limits="120 bar, not on steering",
        replace_by_on=dt.date(2026, 3, 12),
    )
    content = issued(bent_spec(), site=position.machine.site, position=position)
    assert content.machine == str(position.machine)
    (alert,) = content.alerts
    assert alert.startswith("CONDITIONAL RELEASE on this machine: old 7 at ")
    assert alert.endswith("replace by 2026-03-12; 120 bar, not on steering")


def test_stamps_mark_pressure_and_the_month_of_the_site() -> None:
    site = make.site(assembler_mark="BQ", time_zone="Pacific/Auckland")
    late = dt.datetime(2026, 3, 31, 20, tzinfo=dt.UTC)
    content = issued(bent_spec(), site=site, at=late)
    assert content.drawn_on == dt.date(2026, 4, 1)
    assert content.stamp_lines[0].replace("\u00a0", " ") == "BQ / 250 bar / 2604"


def test_is_kept_with_its_number_and_checksum_and_on_the_trail() -> None:
    site = make.site(code="BQ")
    sheet = issue(bent_spec(), site=site)
    stored = FrozenSheet.objects.get()
    assert content_of(stored).number == f"BQ {sheet.number}"
    assert content_of(stored).checksum == stored.checksum
    assert json.loads(to_json(content_of(stored))) == stored.content
    assert TrailEntry.objects.get(deed="issued a build sheet").after["checksum"] == sheet.checksum


def test_numbers_run_for_each_site() -> None:
    spec, here, there = bent_spec(), make.site(), make.site()
    numbers = [
        issue(spec, site=s, job=j).number for s, j in ((here, "1"), (here, "2"), (there, ""))
    ]
    assert numbers == [1, 2, 1]


def test_is_issued_once_while_it_says_the_same() -> None:
    spec, site = bent_spec(), make.site()
    first = issue(spec, site=site)
    again = issue(spec, site=site, at=NOW + dt.timedelta(days=1))
    assert again == first
    assert issue(spec, site=site, quantity=2) != first
    assert issue(spec, site=site, at=NOW + dt.timedelta(days=40)) != first, "the stamp's month"


def test_is_issued_anew_when_a_recipe_has_changed() -> None:
    hose, near, far = make.hose(), shop.end(), shop.end()
    for end in (near, far):
        shop.approved_recipe(hose, end)
    spec, site = shop.approved(hose=hose, near=near, far=far), make.site()
    first = issue(spec, site=site)
    RecipeRevision.objects.filter(header__fitting=near.header).update(state="replaced")
    trial_recipe(hose, shop.end())
    changed = content_of(issue(spec, site=site))
    assert changed.ends[0].crimp is None
    assert content_of(first).ends[0].crimp is not None, "what was printed stays"


def test_is_refused_for_a_draft_and_for_a_withdrawn_spec() -> None:
    drafted = shop.draft("S-9")
    with pytest.raises(Refused, match="Revision 1 of S-9 is draft: no sheet is drawn from it"):
        issue(drafted)
    spec = bent_spec()
    SpecRevision.objects.filter(pk=spec.pk).update(state="withdrawn")
    with pytest.raises(Refused, match="is withdrawn: no sheet"):
        issue(SpecRevision.objects.get(pk=spec.pk))


@pytest.mark.parametrize("quantity", [0, -1, MOST_PIECES + 1])
def test_is_refused_for_a_quantity_that_no_sheet_is_for(quantity: int) -> None:
    with pytest.raises(Refused, match="A sheet is for 1 to 200 pieces") as refusal:
        issue(bent_spec(), quantity=quantity)
    assert refusal.value.field == "quantity"
    assert not FrozenSheet.objects.exists()


def test_is_refused_to_a_stranger() -> None:
    site = make.site()
    issue(bent_spec(), site=site, person=make.person("fitter", at=site))
    stranger: Person = make.person("fitter", at=make.site())
    with pytest.raises(NotAllowed):
        issue(bent_spec_again(), site=site, person=stranger)


def bent_spec_again() -> SpecRevision:
    return shop.approved("S-2")


def test_prints_no_code_under_an_address_that_none_can_carry() -> None:
    order = SheetOrder(make.site())
    sheet = issue_sheet(
        spec=bent_spec(), order=order, address="https://hose_shop.example", person=None, at=NOW
    )
    content = content_of(sheet)
    assert (content.spec_link, content.job_link) == ("", "")


def test_has_codes_that_name_the_spec_and_the_sheet() -> None:
    spec, site = bent_spec(), make.site()
    content = issued(spec, site=site)
    assert content.spec_link == f"{ADDRESS}/S/{spec.pk}"
    assert content.job_link == f"{ADDRESS}/B/{site.pk}/1"


def test_gives_a_book_its_sheets_in_a_fixed_number_of_reads_for_the_parts() -> None:
    site = make.site()
    specs = [shop.approved(f"S-{n}") for n in range(4)]
    with CaptureQueriesContext(
        connection,
    ) as few:
        issue_book_sheets(specs=specs[:1], site=site, address=ADDRESS, person=None, at=NOW)
    with CaptureQueriesContext(connection) as many:
        sheets = issue_book_sheets(specs=specs, site=site, address=ADDRESS, person=None, at=NOW)
    assert [sheet.spec for sheet in sheets] == specs
    reads = [
        sum("hoserevision" in q["sql"].lower() for q in run.captured_queries) for run in (few, many)
    ]
    assert reads[0] == reads[1]


def test_never_changes_a_sheet_that_was_issued() -> None:
    from django.db import DatabaseError, transaction

    sheet = issue(bent_spec())
    with pytest.raises(DatabaseError), transaction.atomic():
        FrozenSheet.objects.filter(pk=sheet.pk).update(checksum="0" * 64)
    assert replace(content_of(sheet), notes="x").checksum != sheet.checksum
