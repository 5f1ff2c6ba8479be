"""Old hoses measured and copied: kept once, to a spec once, by whom, seen by whom."""

from collections.abc import Callable
from typing import Any

import pytest
from django.db import IntegrityError, connection, transaction
from django.test.utils import CaptureQueriesContext

from assemblies.actions.copies import (
    OldHose,
    add_copy_photos,
    copy_hose,
    keep_measured,
    set_aside,
    spec_from_measured,
)
from assemblies.models import AssemblySpec, CopyPhoto, SpecCopy
from assemblies.queries.copies import copy_page, measured_of, waiting_copies
from fleet.actions.refusals import Refused
from fleet.models import Person, Site, TrailEntry
from fleet.permissions import NotAllowed
from tests import factories as make
from tests.db.assemblies import old_hoses as old
from tests.db.assemblies import spec_shop as shop
from tests.db.fleet import photo_files

pytestmark = pytest.mark.django_db
NOW = make.NOW


@pytest.fixture
def site() -> Site:
    return make.site()


@pytest.fixture
def fitter(site: Site) -> Person:
    return make.person("fitter", at=site)


@pytest.fixture
def planner(site: Site) -> Person:
    return make.person("planner", at=site)


def drafted(copy: SpecCopy, by: Person, **facts: Any) -> Any:
    given = {"code": "SP-9", "title": "Boom lift", "content": shop.content(), **facts}
    return spec_from_measured(copy=copy, **given, person=by, at=NOW)


def test_what_was_typed_is_kept_word_for_word(site: Site, fitter: Person) -> None:
    copy = old.kept(site, fitter, a_diameter_mm="29,9", marks="BQ 0416 ⌀")
    again = SpecCopy.objects.get(pk=copy.pk)
    assert again.measured["typed"]["a-diameter_mm"] == "29,9"
    assert again.measured["typed"]["marks"] == "BQ 0416 ⌀"
    read = measured_of(again)
    assert read is not None
    assert (read.hose_type, read.size_dn, str(read.near.diameter_mm)) == ("2SN", 12, "29.90")
    assert (read.near.end, read.near.size) == ("24° cone L", "22")
    with pytest.raises(IntegrityError), transaction.atomic():
        SpecCopy.objects.filter(pk=copy.pk).update(measured={})


def test_told_twice_it_is_kept_once(site: Site, fitter: Person) -> None:
    first, second = (old.kept(site, fitter, client_id="once") for _ in range(2))
    assert first.pk == second.pk
    assert TrailEntry.objects.filter(deed="measured an old hose").count() == 1


def test_an_end_that_could_be_several_stays_open_and_is_named(site: Site, fitter: Person) -> None:
    page = copy_page(old.kept(site, fitter, a_is_key="", a_tube_mm="", a_turns=""))
    assert page.open == (
        "End A: which connection it is: it could be 24° cone L, 22, M30x2; "
        "or 24° cone S, 20, M30x2.",
        "End A: what it turns about.",
    )


def test_the_catalogue_is_searched_for_connection_size_form_and_tail(
    site: Site, fitter: Person
) -> None:
    fits = shop.end(connection="DKOL", connection_size="L22 M30×2")
    shop.end(connection="DKOS", connection_size="S20 M30×2")
    shop.end(connection="DKOL", connection_size="L22 M30×2", form="elbow_90")
    shop.end(connection="DKOL", connection_size="L22 M30×2", tail_dn=16)
    shop.end(connection="DKOL", connection_size="L22 M30×2", turns="fixed")
    hose = make.hose()
    make.hose(size_dn=16)
    make.hose(standard_type="1SN")
    page = copy_page(old.kept(site, fitter))
    assert [[item.code for item in match.fittings] for match in page.ends] == [
        [fits.header.code]
    ] * 2
    assert [item.code for item in page.hoses] == [hose.header.code]


def test_an_open_end_matches_nothing(site: Site, fitter: Person) -> None:
    shop.end(connection="DKOL", connection_size="L22 M30×2")
    page = copy_page(old.kept(site, fitter, a_is_key=""))
    assert [len(match.fittings) for match in page.ends] == [0, 1]


def test_a_page_costs_as_many_queries_with_many_fittings(site: Site, fitter: Person) -> None:
    copy, counts = old.kept(site, fitter), []
    for _ in range(2):
        for _ in range(4):
            shop.end(connection="DKOL", connection_size="L22 M30×2")
            make.hose()
        with CaptureQueriesContext(connection) as found:
            copy_page(copy)
        counts.append(len(found))
    assert counts[0] == counts[1]


def test_a_planner_drafts_the_spec_of_what_a_fitter_measured(
    site: Site, fitter: Person, planner: Person
) -> None:
    copy = old.kept(site, fitter)
    with pytest.raises(NotAllowed):
        drafted(copy, fitter)
    draft = drafted(copy, planner)
    assert draft.state == "draft"
    assert SpecCopy.objects.get(pk=copy.pk).spec == draft
    assert draft.copied_from == copy


def test_a_spec_is_drafted_once(site: Site, planner: Person) -> None:
    copy = old.kept(site, planner)
    drafted(copy, planner)
    with pytest.raises(Refused) as refused:
        drafted(copy, planner, code="SP-10")
    assert refused.value.code == "made_already"
    assert AssemblySpec.objects.filter(code="SP-10").count() == 0


def test_what_add_spec_refuses_leaves_the_copy_waiting(site: Site, planner: Person) -> None:
    copy = old.kept(site, planner)
    with pytest.raises(Refused) as refused:
        drafted(copy, planner, code=" ")
    assert refused.value.code == "code_missing"
    assert SpecCopy.objects.get(pk=copy.pk).spec is None


def test_a_hose_with_a_spec_is_copied_by_it(site: Site, planner: Person) -> None:
    spec = shop.approved("S-1")
    hose = make.stored(at=site, spec=spec)
    draft = copy_hose(assembly=hose, code="S-2", title="The same", person=planner, at=NOW)
    assert (draft.state, draft.hose, draft.length_mm) == ("draft", spec.hose, spec.length_mm)
    kept = SpecCopy.objects.get(spec=draft)
    assert (kept.assembly, kept.measured) == (hose, {"spec": str(spec)})


def test_a_hose_without_a_spec_is_not_copied_but_measured(site: Site, planner: Person) -> None:
    with pytest.raises(Refused) as refused:
        copy_hose(assembly=make.stored(at=site), code="S", title="T", person=planner, at=NOW)
    assert "measure it" in refused.value.sentence


@pytest.mark.parametrize(
    ("role", "allowed"),
    [("fitter", True), ("planner", True), ("storeman", False), ("inspector", False)],
)
def test_who_builds_or_keeps_the_catalogue_measures(site: Site, role: str, allowed: bool) -> None:
    person = make.person(role, at=site)
    if allowed:
        assert old.kept(site, person).pk
        return
    with pytest.raises(NotAllowed, match="build"):
        old.kept(site, person)


def test_nobody_measures_at_another_site(site: Site, fitter: Person) -> None:
    with pytest.raises(NotAllowed):
        old.kept(make.site(), fitter)


KEEP_CASES: list[tuple[dict[str, Any], str, str]] = [
    ({"title": " "}, "title_missing", "Say what the hose is for."),
    ({"assembly": "elsewhere"}, "hose_elsewhere", "belongs to another site."),
    ({"position": "elsewhere"}, "position_elsewhere", "is at another site."),
]


@pytest.mark.parametrize(("facts", "code", "sentence"), KEEP_CASES)
def test_keeping_is_refused(
    site: Site, fitter: Person, facts: dict[str, Any], code: str, sentence: str
) -> None:
    there: dict[str, Callable[[], Any]] = {"assembly": make.stored, "position": make.position}
    made = {k: there[k]() if v == "elsewhere" else v for k, v in facts.items()}
    given: dict[str, Any] = {"site": site, "title": "Lift", "measured": {}, **made}
    with pytest.raises(Refused) as refused:
        keep_measured(old=OldHose(**given), person=fitter, at=NOW)
    assert (refused.value.code, sentence in refused.value.sentence) == (code, True)


def test_it_is_set_aside_for_a_reason_and_then_nothing_comes_of_it(
    site: Site, fitter: Person, planner: Person
) -> None:
    copy = old.kept(site, fitter)
    with pytest.raises(Refused, match="Say why"):
        set_aside(copy=copy, reason=" ", person=fitter, at=NOW)
    set_aside(copy=copy, reason="the wrong hose", person=fitter, at=NOW)
    deeds: list[Callable[[], object]] = [
        lambda: drafted(copy, planner),
        lambda: set_aside(copy=copy, reason="again", person=planner, at=NOW),
        lambda: add_copy_photos(
            copy=copy, sent=[photo_files.sent(photo_files.picture())], person=fitter, at=NOW
        ),
    ]
    for deed in deeds:
        with pytest.raises(Refused) as refused:
            deed()
        assert refused.value.code == "set_aside"


def test_only_who_measured_it_or_keeps_the_catalogue_sets_it_aside(
    site: Site, fitter: Person
) -> None:
    copy = old.kept(site, fitter)
    with pytest.raises(NotAllowed):
        set_aside(copy=copy, reason="no", person=make.person("fitter", at=site), at=NOW)


def test_photos_are_kept_once_and_with_their_hose(site: Site, fitter: Person) -> None:
    copy = old.kept(site, fitter)
    for _ in range(2):
        add_copy_photos(
            copy=copy,
            sent=[photo_files.sent(photo_files.picture())],
            client_id="p",
            person=fitter,
            at=NOW,
        )
    assert CopyPhoto.objects.filter(copy=copy).count() == 1
    with pytest.raises(Refused) as refused:
        add_copy_photos(copy=copy, sent=[], person=fitter, at=NOW)
    assert refused.value.code == "photos_missing"


def test_the_list_has_what_waits_at_one_s_sites(site: Site, fitter: Person) -> None:
    waits = old.kept(site, fitter)
    set_aside(copy=old.kept(site, fitter), reason="no", person=fitter, at=NOW)
    there = make.site()
    old.kept(there, make.person("fitter", at=there))
    page = waiting_copies(fitter, after=None, size=10)
    assert [line.copy_id for line in page.rows] == [waits.pk]
    assert page.rows[0].words == '2SN, DN12 (-8, 1/2"), 1200 mm'
