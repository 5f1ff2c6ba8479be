"""Pages about hours: who sees which, what they show, and what their deeds do."""

import datetime as dt
from collections.abc import Iterator
from decimal import Decimal
from typing import Any

import pytest
import time_machine
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from fleet.actions.errands import ask_daily
from fleet.actions.telematics import ask_sources_daily
from fleet.models import Errand, HourReading, Person, TelematicsMatch, TelematicsSource
from fleet.tasks import do_errand
from tests import factories as make
from tests.db.fleet.hours_yard import NOW, HoursYard, ended_run, hours_yard, read, seen_by

pytestmark = pytest.mark.django_db
OWN_LISTS = {"yard", "stale", "sources", "add source", "unmatched", "matched"}
READERS = {"stale", "history", "sources", "source", "unmatched", "matched"}


@pytest.fixture
def where(client: Client) -> Iterator[HoursYard]:
    with time_machine.travel(NOW, tick=False):
        found = hours_yard()
        client.force_login(found.planner)
        yield found


def post(client: Client, url: str, **facts: Any) -> Any:
    return client.post(url, facts, follow=True)


def test_the_planner_sees_every_page(client: Client, where: HoursYard) -> None:
    ended_run(where.source)
    answers = {name: client.get(url).status_code for name, url in where.pages().items()}
    assert set(answers.values()) == {200}, answers


def test_the_planner_of_every_site_sees_every_page(client: Client, where: HoursYard) -> None:
    client.force_login(make.person("planner"))
    answers = {name: client.get(url).status_code for name, url in where.pages().items()}
    assert set(answers.values()) == {200}, answers


@pytest.mark.parametrize("verb", ["get", "post"])
def test_a_stranger_of_another_site_finds_nothing(
    client: Client, where: HoursYard, verb: str
) -> None:
    client.force_login(make.person("planner", at=make.site()))
    answers = {n: getattr(client, verb)(url) for n, url in where.pages().items()}
    told = {name: answer.status_code for name, answer in answers.items() if name not in OWN_LISTS}
    assert set(told.values()) == {404}, told
    for name in OWN_LISTS:
        page = answers[name].content.decode()
        assert not [text for text in ("EX-014", "North feed", "HAR0002") if text in page], name


def test_deeds_that_are_only_sent_are_refused_to_a_stranger(
    client: Client, where: HoursYard
) -> None:
    client.force_login(make.person("planner", at=make.site()))
    ask = reverse("fleet:source_ask", args=[where.source.pk])
    proposed = reverse("fleet:match_proposed", args=[where.unmatched.pk, where.machine.pk])
    assert [client.post(url).status_code for url in (ask, proposed)] == [404, 404]
    assert [client.get(url).status_code for url in (ask, proposed)] == [405, 405]


def test_a_reader_sees_what_is_read_and_is_refused_the_rest(
    client: Client, where: HoursYard
) -> None:
    client.force_login(make.person("storeman", at=where.site))
    answers = {name: client.get(url).status_code for name, url in where.pages().items()}
    assert {name for name, status in answers.items() if status == 200} == READERS
    assert {status for name, status in answers.items() if name not in READERS} == {403}


def test_a_fitter_reads_and_corrects_and_keeps_no_sources(client: Client, where: HoursYard) -> None:
    client.force_login(make.person("fitter", at=where.site))
    answers = {name: client.get(url).status_code for name, url in where.pages().items()}
    refused = {name for name, status in answers.items() if status == 403}
    assert refused == {"add meter", "add source", "change source", "withdraw source"} | {
        *("match", "match aside", "take back"),
    }


def test_nobody_is_sent_to_the_log_in(client: Client, where: HoursYard) -> None:
    client.logout()
    for url in where.pages().values():
        assert client.get(url).headers["Location"].startswith("/login/")


def test_the_history_shows_what_was_set_aside_with_who_and_why(
    client: Client, where: HoursYard
) -> None:
    url = where.pages()["correct"]
    post(client, url, reading="1244", read="2026-02-27", reason="two figures swapped")
    page = client.get(where.pages()["history"]).content.decode()
    assert "<s>1\u202f240 h</s>" in page
    assert "two figures swapped" in page
    assert "Ines Holloway" in page
    assert "in its place 1\u202f244 h" in page
    assert "in place of 1\u202f240 h" in page


def test_a_correction_of_the_figure_alone_keeps_the_moment(
    client: Client, where: HoursYard
) -> None:
    first = client.get(where.pages()["correct"]).context["form"]["read"].value()
    post(client, where.pages()["correct"], reading="1244", read=first, reason="misread")
    assert HourReading.objects.get(reading_h=1244).read_at == where.reading.read_at


def test_a_reading_is_set_aside_with_its_reason(client: Client, where: HoursYard) -> None:
    post(client, where.pages()["aside"], reason="another machine's")
    where.reading.refresh_from_db()
    assert where.reading.set_aside_reason == "another machine's"


def test_a_meter_is_changed_and_the_change_undone(client: Client, where: HoursYard) -> None:
    facts = {"counts": "engine", "on": "2026-03-05", "old_last": "1280", "new_first": "0"}
    post(client, where.pages()["meter"], **facts)
    assert where.machine.meters.count() == 2
    undo = reverse("fleet:meter_undo", args=[where.machine.pk])
    post(client, undo, counts="engine", reason="wrong machine")
    assert where.machine.meters.get(to_on=None).from_on is None


def test_where_a_meter_begins_again_is_kept(client: Client, where: HoursYard) -> None:
    post(client, where.pages()["rollover"], counts="engine", rollover="10 000")
    assert where.machine.meters.get().rollover_h == Decimal(10_000)
    post(client, where.pages()["rollover"], counts="engine", rollover="")
    assert where.machine.meters.get().rollover_h is None


def test_a_meter_is_added(client: Client, where: HoursYard) -> None:
    post(client, where.pages()["add meter"], counts="hydraulics")
    assert where.machine.meters.filter(counts="hydraulics").exists()


def test_the_pictures_say_what_they_show(client: Client, where: HoursYard) -> None:
    page = client.get(where.pages()["history"]).content.decode()
    assert "Engine hours read" in page
    assert "measured from 3 intervals since" in page
    assert page.count("pic-fan") == 2  # wide and narrow
    assert page.count('class="pic-dot"') == 8


def test_a_machine_that_was_never_read_has_no_picture(client: Client, where: HoursYard) -> None:
    other = make.machine(at=where.site)
    page = client.get(reverse("fleet:readings", args=[other.pk])).content.decode()
    assert "Never read" in page
    assert "pic-fan" not in page


@pytest.mark.parametrize(("days", "stale"), [(30, False), (31, True)])
def test_hours_are_stale_after_the_set_time(
    client: Client, where: HoursYard, days: int, stale: bool
) -> None:
    other = make.machine(at=where.site, fleet_number="ST-1")
    read(other, 10, days)
    page = client.get(where.pages()["stale"]).content.decode()
    assert ("ST-1" in page) is stale


def test_the_set_time_is_a_setting(client: Client, where: HoursYard, settings: Any) -> None:
    settings.HOURS_STALE_AFTER_DAYS = 5
    page = client.get(where.pages()["stale"]).content.decode()
    assert "EX-014" in page
    assert "not read for 5 days" in page
    assert "Not read for 5 days" in client.get(reverse("scheduling:today")).content.decode()


def test_a_standing_machine_is_not_stale(client: Client, where: HoursYard) -> None:
    make.machine(at=where.site, fleet_number="ST-1", status="standing")
    assert "ST-1" not in client.get(where.pages()["stale"]).content.decode()


def test_a_source_is_added_changed_asked_and_withdrawn(client: Client, where: HoursYard) -> None:
    facts = {
        "name": "South feed",
        "site": str(where.site.pk),
        "address": "https://data.other.example/fleet",
        "form": "json",
        "asked": "daily",
        "credential_variable": "TELEMATICS_KEY_SOUTH",
    }
    post(client, where.pages()["add source"], **facts)
    made = TelematicsSource.objects.get(name="South feed")
    change = reverse("fleet:source_change", args=[made.pk])
    post(client, change, **{**facts, "name": "Southern feed"})
    page = post(client, reverse("fleet:source_ask", args=[made.pk])).content.decode()
    assert "Southern feed is being asked" in page
    assert Errand.objects.get(kind="fetch telematics").payload == {"source_id": made.pk}
    post(client, reverse("fleet:source_withdraw", args=[made.pk]), reason="sold")
    assert "Southern feed" not in client.get(where.pages()["sources"]).context["sources"]
    assert post(client, change, **facts).status_code == 200
    made.refresh_from_db()
    assert (made.name, made.withdrawal_reason) == ("Southern feed", "sold")


def test_a_source_of_every_site_is_for_those_of_every_site(
    client: Client, where: HoursYard
) -> None:
    where_to = {"site": "every", "address": "https://a.example/"}
    facts = {"name": "All", **where_to, "form": "xml", "asked": "daily"}
    assert post(client, where.pages()["add source"], **facts).context["form"].errors["site"]
    client.force_login(make.person("planner"))
    post(client, where.pages()["add source"], **facts)
    made = TelematicsSource.objects.get(name="All")
    assert made.site is None
    client.force_login(where.planner)
    assert client.get(reverse("fleet:source", args=[made.pk])).status_code == 404


def test_how_a_source_does_is_said(client: Client, where: HoursYard) -> None:
    assert "not asked yet" in client.get(where.pages()["sources"]).content.decode()
    ended_run(where.source)
    page = client.get(where.pages()["source"]).content.decode()
    assert "data.harrow.example is in trouble (500)." in page
    assert "PIN HAR0007: It told no operating hours." in page


def test_a_source_in_trouble_is_told_where_hours_are_typed(
    client: Client, where: HoursYard
) -> None:
    words = "tells no hours just now: data.harrow.example is in trouble (500)."
    assert words not in client.get(where.pages()["yard"]).content.decode()
    ended_run(where.source)
    assert words in client.get(where.pages()["yard"]).content.decode()


def test_a_reading_sent_twice_within_a_minute_is_one(client: Client, where: HoursYard) -> None:
    url = reverse("fleet:reading_add", args=[where.machine.pk])
    facts = {"counts": "engine", "reading": "1300", "read_on": "2026-03-09"}
    post(client, url, **facts)
    with time_machine.travel(NOW + dt.timedelta(seconds=9), tick=False):
        post(client, url, **facts)
    assert HourReading.objects.filter(reading_h=1300).count() == 1


def test_a_source_that_told_nothing_for_days_is_said_to_be_quiet(
    client: Client, where: HoursYard
) -> None:
    ended_run(where.source, state="done", error="", ended_at=NOW - dt.timedelta(days=3))
    assert "quiet" in client.get(where.pages()["sources"]).content.decode()


def test_a_source_that_is_asked_by_hand_alone_is_called_by_nobody_else(
    client: Client, where: HoursYard
) -> None:
    facts = {"name": where.source.name, "site": str(where.site.pk), "form": "xml"}
    change = reverse("fleet:source_change", args=[where.source.pk])
    post(client, change, **facts, address=where.source.address, asked="by_hand")
    assert client.get(change).context["form"].initial["asked"] == "by_hand"
    assert ask_sources_daily(at=NOW) == 0
    for name in ("source", "sources"):
        page = client.get(where.pages()[name]).content.decode()
        assert "y hand alone" in page
    ended_run(where.source, state="done", error="", ended_at=NOW - dt.timedelta(days=3))
    assert "quiet" not in client.get(where.pages()["sources"]).content.decode()
    waiting = ask_daily(kind="fetch telematics", at=NOW, payload={"source_id": where.source.pk})
    do_errand(waiting.pk)
    waiting.refresh_from_db()
    assert waiting.error == "This source is asked by hand alone."
    post(client, change, **facts, address=where.source.address, asked="daily")
    assert ask_sources_daily(at=NOW) == 1


def test_the_machine_whose_number_agrees_is_one_press_away(
    client: Client, where: HoursYard
) -> None:
    assert "It is EX-014" in client.get(where.pages()["unmatched"]).content.decode()
    post(client, reverse("fleet:match_proposed", args=[where.unmatched.pk, where.machine.pk]))
    where.unmatched.refresh_from_db()
    assert where.unmatched.machine == where.machine
    assert HourReading.objects.get(source="telematics").reading_h == Decimal(1310)
    assert "told by North feed" in client.get(where.pages()["history"]).content.decode()


def test_a_machine_is_looked_for_and_matched(client: Client, where: HoursYard) -> None:
    url = reverse("fleet:match", args=[seen_by(where.source, "ODD1").pk])
    for text in ("ex-01", "9014", "har0002"):
        shown = client.get(url, {"q": text}).context["form"].fields["machine"].choices
        assert [pk for pk, _ in shown] == [where.machine.pk]
    post(client, f"{url}?q=ex-01", machine=where.machine.pk, counts="engine")
    assert TelematicsMatch.objects.get(pin="ODD1").machine == where.machine


def test_a_machine_of_another_site_is_not_to_be_found(client: Client, where: HoursYard) -> None:
    client.force_login(make.person("planner"))
    make.machine(fleet_number="EX-777")
    url = reverse("fleet:match", args=[seen_by(where.source, "ODD1").pk])
    assert client.get(url, {"q": "EX-777"}).context["form"].fields["machine"].choices == []


@pytest.mark.parametrize(("wrong", "kept"), [("yes", 0), ("no", 1)])
def test_a_match_is_taken_back_with_its_hours_or_without(
    client: Client, where: HoursYard, wrong: str, kept: int
) -> None:
    post(client, reverse("fleet:match_proposed", args=[where.unmatched.pk, where.machine.pk]))
    back = reverse("fleet:match_take_back", args=[where.unmatched.pk])
    post(client, back, wrong=wrong, reason="the plate says otherwise")
    where.unmatched.refresh_from_db()
    assert where.unmatched.machine is None
    told = HourReading.objects.filter(source="telematics", set_aside_at=None)
    assert told.count() == kept


def test_a_machine_that_is_none_of_ours_leaves_the_list(client: Client, where: HoursYard) -> None:
    post(client, where.pages()["match aside"], reason="hired out")
    assert "HAR0002" not in client.get(where.pages()["unmatched"]).content.decode()


def test_no_page_shows_a_credential(
    client: Client, where: HoursYard, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("TELEMATICS_KEY_NORTH", "data.harrow.example bearer s3cr3t-of-the-north")
    TelematicsSource.objects.update(credential_variable="TELEMATICS_KEY_NORTH")
    for url in where.pages().values():
        assert "s3cr3t" not in client.get(url).content.decode()


@pytest.mark.parametrize("name", ["history", "stale", "sources", "source", "unmatched", "matched"])
def test_a_longer_list_takes_no_more_queries(client: Client, where: HoursYard, name: str) -> None:
    make.machine(at=where.site)  # never read: the list of stale hours is not empty
    before = _queries(client, where.pages()[name])
    _more(where)
    assert _queries(client, where.pages()[name]) == before


def _queries(client: Client, url: str) -> int:
    client.get(url)
    with CaptureQueriesContext(connection) as asked:
        client.get(url)
    return len(asked)


def _more(where: HoursYard) -> None:
    for n in range(4):
        machine = make.machine(at=where.site, pin=f"MORE{n}")
        read(machine, 10 + n, 50 + n)
        read(where.machine, 1500 + n, 1 - n / 10)
        seen_by(where.source, f"MORE{n}")
        signed = {"machine": machine, "decided_by": where.planner, "decided_at": NOW}
        seen_by(where.source, f"DONE{n}", **signed)
        source = TelematicsSource.objects.create(
            name=f"Feed {n}", site=where.site, address="https://a.example/", added_at=NOW
        )
        ended_run(source)
        ended_run(where.source)


def test_a_person_without_a_post_sees_nothing(client: Client, where: HoursYard) -> None:
    client.force_login(Person.objects.create(username="nobody"))
    answers = {name: client.get(url).status_code for name, url in where.pages().items()}
    assert answers["yard"] == 403
    assert answers["history"] == 404
    assert "North feed" not in client.get(where.pages()["sources"]).content.decode()
