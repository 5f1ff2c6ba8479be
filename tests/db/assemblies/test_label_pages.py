"""Labels: blank tags in lots, those of hoses, their stock; what each says and leaves out."""

import datetime as dt
import re
from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from assemblies.actions.tags import bind_tag, draw_lot
from assemblies.models import ConditionalRelease, Tag, TagLot
from assemblies.queries.labels import hose_labels, tagged_on
from tests import factories as make
from tests.db.assemblies import spec_shop as shop
from tests.db.assemblies.test_paper_pages import address, client, fitter, pdf_text
from tests.db.assemblies.test_sheets import trial_recipe

pytestmark = pytest.mark.django_db


def test_a_lot_of_blank_tags_is_drawn_and_printed() -> None:
    site = make.site(assembler_mark="BQ")
    who = fitter(site)
    answer = who.post(address("labels"), {"site": site.pk, "size": "3"}, follow=True)
    assert "3 labels" in answer.content.decode()
    lot = TagLot.objects.get()
    printed = who.get(
        address("lot_labels", lot.pk), {"stock": "70 × 37, 24 a page, A4", "page": "a4"}
    )
    text = re.sub(r"\s", "", pdf_text(printed))
    for code in lot.tags.values_list("code", flat=True):
        assert code[:4] in text
        assert code[4:] in text


def test_a_lot_is_not_drawn_by_someone_who_may_only_read() -> None:
    site = make.site()
    reader = client(make.person("inspector", at=site))
    assert "Draw a lot" not in reader.get(address("labels")).content.decode()
    assert reader.post(address("labels"), {"site": site.pk, "size": "3"}).status_code == 403
    assert not Tag.objects.exists()


OWN = {
    "stock": "own", "page": "a4", "form": "plain", "width": "60", "height": "30",
    "columns": "3", "rows": "8", "left": "5", "top": "5", "pitch_x": "62", "pitch_y": "32",
}  # fmt: skip


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({}, ""),
        ({"form": "wrap", "printed": "25"}, ""),
        ({"form": "wrap"}, "A wrap label has a white part"),
        ({"width": ""}, "Say this measure"),
        ({"width": "12", "height": "6"}, "is too small for the tag"),
        ({"columns": "5"}, "more than A4 has"),
        ({"width": "nan"}, "“nan” is not a length"),
        ({"skipped": "30"}, "a page has 24; say 0 to 23"),
        ({"stock": "none of these"}, "not one of the available choices"),
    ],
)
def test_own_label_measures_are_taken_or_refused_in_words(
    change: dict[str, str], words: str
) -> None:
    site = make.site()
    lot = draw_lot(site=site, size=2, person=make.person("fitter", at=site), at=make.NOW)
    answer = fitter(site).get(address("lot_labels", lot.pk), {**OWN, **change})
    assert answer.status_code == 200
    if words:
        assert words in answer.content.decode()
    else:
        assert answer["Content-Type"] == "application/pdf"


def test_a_label_says_tag_mark_pressure_month_and_length() -> None:
    site = make.site(assembler_mark="BQ")
    hose = make.assembly(
        at=site,
        working_pressure_bar=275,
        length_mm=1200,
        built_earliest_on=dt.date(2026, 11, 2),
        built_latest_on=dt.date(2026, 11, 8),
        built_precision="week",
    )
    bind_tag(assembly=hose, typed="", person=None, at=make.NOW)
    hose.refresh_from_db()
    (label,) = hose_labels([hose], address="https://hoses.example")
    said = [words.replace("\u00a0", " ") for words in label.lines]
    assert said == ["BQ", "275 bar", "2611", "1200 mm"]
    assert label.link == f"https://hoses.example/T/{hose.tag_id}"


def test_a_label_says_that_its_hose_is_unmatched_and_by_when_it_must_go() -> None:
    item, near, far = make.hose(), shop.end(), shop.end()
    shop.approved_recipe(item, near)
    trial_recipe(item, far)
    spec = shop.approved("S-9", hose=item, near=near, far=far)
    hose = make.fitted(on=make.position(), owner_mark="BQ 17", spec=spec)
    bind_tag(assembly=hose, typed="", person=None, at=make.NOW)
    ConditionalRelease.objects.create(
        assembly=hose,
        authority=make.person(),
        released_at=make.NOW,
        reason="breakdown",
        limits="120 bar",
        replace_by_on=dt.date(2026, 3, 12),
    )
    hose.refresh_from_db()
    (label,) = hose_labels([hose], address="")
    assert label.warnings == ("UNMATCHED", "REPLACE BY", "2026-03-12")


@pytest.mark.parametrize(
    ("first", "last", "precision"),
    [
        (dt.date(2026, 4, 1), dt.date(2026, 6, 30), "quarter"),
        (dt.date(2026, 3, 30), dt.date(2026, 4, 5), "week"),
        (None, None, ""),
    ],
)
def test_a_label_leaves_out_a_month_that_is_not_sure(first: Any, last: Any, precision: str) -> None:
    hose = make.assembly(built_earliest_on=first, built_latest_on=last, built_precision=precision)
    bind_tag(assembly=hose, typed="", person=None, at=make.NOW)
    hose.refresh_from_db()
    (label,) = hose_labels([hose], address="")
    assert label.built == ""


def test_labels_of_many_hoses_take_no_more_queries_than_of_one() -> None:
    machine = make.machine()
    counts = []
    for _ in range(2):
        for _ in range(3):
            hose = make.fitted(on=make.position(on=machine))
            bind_tag(assembly=hose, typed="", person=None, at=make.NOW)
        with CaptureQueriesContext(connection) as run:
            hose_labels(tagged_on(machine), address="")
        counts.append(len(run))
    assert counts[0] == counts[1]


def test_a_hose_without_a_tag_has_no_label_and_the_page_says_so() -> None:
    hose = make.fitted()
    answer = fitter(hose.site).get(address("hose_label", hose.pk), follow=True)
    assert "This hose has no tag yet" in answer.content.decode()
