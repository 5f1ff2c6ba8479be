"""The pages of trace, recall and withdrawal: for the right person, a colleague, a stranger."""

import datetime as dt
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from assemblies.models import Assembly, BuildRecord, Reel, StockItem
from fleet.models import Person, Site
from scheduling.forms.recalls import WithdrawForm
from scheduling.models import Finding, Recall
from tests import factories as make
from tests.db.assemblies import spec_shop as shop
from tests.db.assemblies.trace_register import built, reel
from tests.db.scheduling.trace_pages import at, client, shown_at, streamed, words

pytestmark = pytest.mark.django_db
BY = (timezone.now() + dt.timedelta(days=9)).date().isoformat()


@pytest.fixture
def site() -> Site:
    return make.site(name="Blackmere Quarry")


@pytest.fixture
def officer(site: Site) -> Person:
    return make.person("safety officer", at=site)


@pytest.fixture
def bad(site: Site) -> Reel:
    return reel(site, "R-13")


def marked(at_site: Site, mark: str, **facts: Any) -> Assembly:
    hose = built(at_site, **facts)
    Assembly.objects.filter(pk=hose.pk).update(owner_mark=mark, owner_mark_key=mark.casefold())
    return hose


def test_a_source_is_found_by_its_code_and_leads_to_its_hoses(
    site: Site, officer: Person, bad: Reel
) -> None:
    marked(site, "NEAR 1", reel=bad)
    who = client(officer)
    page = words(who, at("trace"), q="r-13")
    assert at("trace_source", "reel", bad.pk) in page
    assert "Nothing fits" in words(who, at("trace"), q="no such thing")
    assert "What is suspect?" in words(who, at("trace"))
    assert "NEAR 1" in words(who, at("trace_reel", bad.pk))


def test_a_hose_s_page_lists_what_it_was_made_of(site: Site, officer: Person, bad: Reel) -> None:
    theirs = reel(make.site(), "R-1")
    ends = {"A": {"die_set": "D 26/1", "recipe": shop.approved_recipe(make.hose(), shop.end())}}
    hose = built(site, reel=theirs, ends=ends)
    page = words(client(officer), at("hose", hose.pk))
    assert at("trace_source", "die_set", f"{site.pk}:d 26/1") in page
    assert "of another site" in page
    assert at("trace_source", "reel", theirs.pk) not in page


def test_another_sites_hoses_are_never_named_but_counted_for_who_may_recall(
    site: Site, officer: Person, bad: Reel
) -> None:
    far = make.site(name="Blackmere Wharf")
    hose = marked(far, "FAR 77", reel=bad)
    spot = make.position(on=make.machine(at=far, fleet_number="SECRET-9"))
    hose.stays.update(place="position", position=spot)
    marked(site, "NEAR 1", reel=bad)
    who, colleague = client(officer), client(make.person("planner", at=site))
    urls = [at("trace_reel", bad.pk), at("recall_begin", "reel", bad.pk)]
    for url in urls:
        page = words(who, url)
        assert "At other sites: 1" in page
        assert "Blackmere Wharf: <strong>1</strong>" in page
        assert not {"FAR 77", "SECRET-9"} & {
            mark for mark in ("FAR 77", "SECRET-9") if mark in page
        }
    assert "Blackmere Wharf" not in words(colleague, urls[0])
    file = streamed(who.get(at("trace_csv", "reel", bad.pk)))
    assert "NEAR 1" in file
    assert "FAR 77" not in file


def asked(bad: Reel, **facts: str) -> dict[str, str]:
    return {"verdict": "out_now", "by_on": "", "reason": "soft wire", "seen": seen(bad), **facts}


def seen(source: Reel | StockItem, kind: str = "reel") -> str:
    """What the page sends back of the hoses that it showed."""
    who = client(make.person("safety officer", at=source.site))
    return shown_at(who, at(f"withdraw_{kind}", source.pk))


def test_a_recall_is_begun_followed_settled_and_ended_on_its_pages(
    site: Site, officer: Person, bad: Reel
) -> None:
    first, second = marked(site, "NEAR 1", reel=bad), marked(site, "NEAR 2", reel=bad)
    who = client(officer)
    page = who.post(at("recall_begin", "reel", bad.pk), asked(bad), follow=True).content.decode()
    assert "NEAR 1" in page
    assert "soft wire" in page
    made = Recall.objects.get()
    assert "Recalled" in words(who, at("trace_reel", bad.pk))
    finding = Finding.objects.get(assembly=first)
    who.post(at("deal_with", finding.pk), {"how": "scrapped it"})
    assert "NEAR 1" not in words(who, at("recall", made.pk))
    assert "scrapped it" in words(who, at("recall", made.pk), show="settled")
    assert "1 of 2" in words(who, at("recalls"))
    file = streamed(who.get(at("recall_csv", made.pk)))
    assert file.count("\n") == 3
    assert "scrapped it" in file
    who.post(at("recall_end", made.pk), {"how": "wrong reel"})
    assert Finding.objects.get(assembly=second).dealt_with_how == "recall ended: wrong reel"


def test_a_recall_that_would_reach_another_number_is_asked_about(
    site: Site, officer: Person, bad: Reel
) -> None:
    built(site, reel=bad)
    sent = asked(bad)
    built(site, reel=bad)
    answer = client(officer).post(at("recall_begin", "reel", bad.pk), sent)
    assert "there are 2. Look again" in answer.content.decode()
    assert not Recall.objects.exists()


def test_a_cell_that_looks_like_a_formula_is_none_in_the_file(
    site: Site, officer: Person, bad: Reel
) -> None:
    marked(site, "=1+1", reel=bad)
    answer = client(officer).get(at("trace_csv", "reel", bad.pk))
    assert "'=1+1" in streamed(answer)


def test_people_without_the_right_and_strangers_are_turned_away(
    site: Site, officer: Person, bad: Reel
) -> None:
    built(site, reel=bad)
    client(officer).post(at("recall_begin", "reel", bad.pk), asked(bad))
    made = Recall.objects.get()
    deeds = [
        at("recall_begin", "reel", bad.pk),
        at("recall_end", made.pk),
        at("withdraw_reel", bad.pk),
    ]
    reads = [at("trace_reel", bad.pk), at("trace_csv", "reel", bad.pk), at("recall", made.pk)]
    for url in deeds:
        assert client(make.person("fitter", at=site)).post(url, asked(bad)).status_code == 403, url
    stranger = client(make.person("planner", at=make.site()))
    for url in [*deeds, *reads, at("recall_csv", made.pk)]:
        assert stranger.get(url).status_code == 404, url
        assert Client().get(url).status_code == 302, url
    for url in reads:
        assert client(make.person("fitter", at=site)).get(url).status_code == 200, url


@pytest.mark.parametrize(
    "path", ["trace/none/1/", "trace/reel/x/", "trace/reel/99999999999999999999/", "recalls/9/"]
)
def test_what_is_no_source_is_not_found(officer: Person, path: str) -> None:
    assert client(officer).get(f"/{path}").status_code == 404


def test_the_queries_of_a_trace_do_not_grow_with_its_hoses(
    site: Site, officer: Person, bad: Reel
) -> None:
    def queries() -> int:
        with CaptureQueriesContext(connection) as found:
            words(client(officer), at("trace_reel", bad.pk))
        return len(found)

    built(site, reel=bad)
    few = queries()
    for _ in range(12):
        built(site, reel=bad)
    assert queries() == few


def test_the_hoses_of_a_source_go_on_page_by_page(
    site: Site, officer: Person, bad: Reel, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("scheduling.views.trace.SIZE", 2)
    hoses = [built(site, reel=bad).pk for _ in range(5)]
    seen, query = [], "x=1"
    while query:
        page = client(officer).get(f"{at('trace_reel', bad.pk)}?{query}").context["page"]
        seen += [line.hose_id for line in page.rows]
        query = page.next_query
    assert seen == hoses


# Withdrawing


def test_a_recipe_s_revision_is_withdrawn_after_its_hoses_were_seen_and_marked(
    site: Site, officer: Person
) -> None:
    recipe = shop.approved_recipe(make.hose(), shop.end())
    marked(site, "NEAR 1", ends={"A": {"recipe": recipe}})
    who = client(make.person("manager", at=site))
    page = words(who, reverse("assemblies:recipe", args=[recipe.header_id]))
    url = at("withdraw_recipe_revision", recipe.pk)
    assert url in page
    assert "NEAR 1" in words(who, url)
    sent = {"verdict": "replace", "by_on": BY, "reason": "three leaks", "seen": shown_at(who, url)}
    assert "NEAR 1" in who.post(url, sent, follow=True).content.decode()
    recipe.refresh_from_db()
    assert (recipe.state, recipe.withdrawal_reason) == ("withdrawn", "three leaks")
    assert Finding.objects.get().by_on == dt.date.fromisoformat(BY)


def lots(site: Site) -> dict[str, StockItem]:
    """A lot of fittings and one of shells, each with a hose that was made of it."""
    fittings = StockItem.objects.create(site=site, fitting=make.fitting().header, lot="L 9")
    shells = StockItem.objects.create(site=site, shell=shop.shell().header, lot="L 8")
    built(site, ends={"A": {"fitting_lot": fittings}, "B": {"shell_lot": shells}})
    return {"fitting_lot": fittings, "shell_lot": shells}


@pytest.mark.parametrize("sent", [{}, {"seen": ""}, {"seen": "1"}])
@pytest.mark.parametrize("kind", ["reel", "fitting_lot", "shell_lot"])
def test_nothing_is_withdrawn_by_who_has_not_seen_its_hoses(
    site: Site, officer: Person, bad: Reel, kind: str, sent: dict[str, str]
) -> None:
    built(site, reel=bad)
    source = {"reel": bad, **lots(site)}[kind]
    url = at(f"withdraw_{kind}", source.pk)
    by_key = at("source_withdraw", kind, source.pk)
    for one in (url, by_key):
        answer = client(officer).post(one, {"verdict": "", "reason": "wet", **sent})
        assert "have to be looked at first" in answer.content.decode()
    source.refresh_from_db()
    assert source.withdrawn_at is None


def begun(site: Site, of: Reel) -> BuildRecord:
    """A build that is on the bench still, so that its reel may be told otherwise."""
    hose, spec = make.stored(at=site, origin="built"), make.spec().revisions.get()
    day = make.TODAY
    return BuildRecord.objects.create(assembly=hose, site=site, spec=spec, reel=of, built_on=day)


def test_as_many_hoses_but_others_are_shown_again(site: Site, officer: Person, bad: Reel) -> None:
    other = reel(site, "R-14")
    left, came = begun(site, bad), begun(site, other)
    sent = {"verdict": "", "reason": "wet", "seen": seen(bad)}
    BuildRecord.objects.filter(pk=left.pk).update(reel=other)
    BuildRecord.objects.filter(pk=came.pk).update(reel=bad)
    answer = client(officer).post(at("withdraw_reel", bad.pk), sent)
    assert "have to be looked at first" in answer.content.decode()
    bad.refresh_from_db()
    assert bad.withdrawn_at is None
    again = {**sent, "seen": answer.context["spread"].mark}
    client(officer).post(at("withdraw_reel", bad.pk), again)
    bad.refresh_from_db()
    assert bad.withdrawn_at is not None


def test_the_shelf_s_own_address_leads_to_the_page_that_shows_the_hoses(
    site: Site, officer: Person, bad: Reel
) -> None:
    of_reel = StockItem.objects.create(site=site, reel=bad)
    lines = {"reel": of_reel, **lots(site)}
    for kind, line in lines.items():
        url = reverse("assemblies:stock_withdraw", args=[line.pk])
        answer = client(officer).post(url, {"reason": "wet", "seen": seen(bad)})
        source = bad if kind == "reel" else line
        assert answer["Location"] == at(f"withdraw_{kind}", source.pk)
        source.refresh_from_db()
        assert source.withdrawn_at is None
    gone = f"/reels/{bad.pk}/withdraw/"
    assert client(officer).post(gone, {"reason": "wet"}).status_code == 404


def test_hoses_may_be_left_as_they_are(site: Site, officer: Person, bad: Reel) -> None:
    built(site, reel=bad)
    sent = {"verdict": "", "reason": "wet", "seen": seen(bad)}
    client(officer).post(at("withdraw_reel", bad.pk), sent)
    bad.refresh_from_db()
    assert bad.withdrawal_reason == "wet"
    assert not Finding.objects.exists()


def test_a_lot_is_withdrawn_and_its_hoses_are_marked(site: Site, officer: Person) -> None:
    lot = StockItem.objects.create(site=site, fitting=make.fitting().header, lot="L 9")
    built(site, ends={"B": {"fitting_lot": lot}})
    kind = "fitting_lot"
    sent = {"verdict": "out_now", "reason": "cracked nuts", "seen": seen(lot, kind)}
    client(officer).post(at("withdraw_fitting_lot", lot.pk), sent)
    lot.refresh_from_db()
    assert lot.withdrawn_at is not None
    assert Finding.objects.get().verdict == "out_now"


def test_a_withdrawal_that_can_t_mark_its_hoses_is_not_done_at_all(
    site: Site, officer: Person, bad: Reel
) -> None:
    built(site, reel=bad)
    sent = {"verdict": "replace", "by_on": "", "reason": "wet", "seen": seen(bad)}
    page = client(officer).post(at("withdraw_reel", bad.pk), sent).content.decode()
    assert "Say by which day." in page
    bad.refresh_from_db()
    assert bad.withdrawn_at is None


def test_who_keeps_the_stock_withdraws_a_reel_but_marks_no_hose(site: Site, bad: Reel) -> None:
    built(site, reel=bad)
    who = client(make.person("storeman", at=site))
    url = at("withdraw_reel", bad.pk)
    assert "needs the right to withdraw or to recall" in words(who, url)
    sent = {"verdict": "out_now", "reason": "wet", "seen": seen(bad)}
    assert who.post(url, sent).status_code == 403
    bad.refresh_from_db()
    assert bad.withdrawn_at is None
    assert who.post(url, {**sent, "verdict": ""}).status_code == 302


# What is wrong with what was typed: the field, what is typed, words of the sentence.
TYPED: list[tuple[str, dict[str, str], str]] = [
    ("verdict", {"verdict": "burn"}, "burn is not one of the available choices"),
    ("by_on", {"by_on": "9/3/2026"}, "could be two days"),
    ("by_on", {"verdict": "recheck", "by_on": ""}, "Say by which day."),
    ("by_on", {"verdict": "recheck", "by_on": "2020-01-01"}, "2020-01-01 is past already."),
    ("reason", {"reason": "  "}, "Say why it is withdrawn."),
    ("reason", {"reason": "x" * 501}, "at most 500"),
]


@pytest.mark.parametrize(("field", "typed", "said"), TYPED)
def test_refuses_a_withdrawal_at_its_field(  # the case table's own names
    site: Site, officer: Person, bad: Reel, field: str, typed: dict[str, str], said: str
) -> None:
    built(site, reel=bad)
    sent = {"verdict": "out_now", "by_on": "", "reason": "wet", "seen": seen(bad), **typed}
    answer = client(officer).post(at("withdraw_reel", bad.pk), sent)
    assert said in str(answer.context["form"].errors[field])
    assert not Recall.objects.exists()


def test_every_field_of_a_withdrawal_has_a_case() -> None:
    assert set(WithdrawForm.base_fields) == {field for field, *_ in TYPED}
