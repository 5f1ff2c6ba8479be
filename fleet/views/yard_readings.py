"""A whole yard's readings on one page."""

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone

from fleet.actions.readings import ReadingGiven
from fleet.actions.yard_readings import YardLine, YardOutcome, record_yard
from fleet.calc.usual_run import remark
from fleet.forms.yard_readings import ShownRow, YardForm, YardSheet
from fleet.models import Person, Site
from fleet.permissions import NotAllowed
from fleet.queries.reach import readings_for, sites_where
from fleet.queries.telematics import sources_of
from fleet.queries.yard_readings import machines_of, yard_page, yard_rows
from fleet.views.gate import person_of, politely
from fleet.views.paging import place_of, shown


@dataclass
class Sending:
    """One sending of the list: who, where, when, and what stands on it."""

    person: Person
    site: Site
    now: dt.datetime
    sheet: YardSheet


@politely
def yard(request: HttpRequest) -> HttpResponse:
    """The list of a site's counters, filled in at one go. Sent twice, it is recorded once."""
    person, now = person_of(request), timezone.now()
    site, sites = _site(request, person)
    form = YardForm(request.POST or None, zone=site.time_zone, now=now)
    sending = Sending(person, site, now, YardSheet(form, request.POST.dict()))
    after = place_of(request, str, int)
    done: dict[int, ShownRow] = {}
    if request.method == "POST" and form.is_valid():
        done = _record(sending)
        if done and all(row.state == "new" and not row.sentence for row in done.values()):
            messages.success(request, f"{_counted(len(done))} recorded.")
            return redirect(request.get_full_path())
    page = yard_page(person, site, at=now, after=after)
    rows = _rows(sending, page.rows, done)
    context = {
        "form": form,
        "rows": rows,
        "page": shown(request, page),
        "site": site,
        "sites": sites,
        "lost": _lost(sending, rows, done),
        "counts": _counts(done) if done else None,
        "troubled": [line for line in sources_of(person, at=now) if line.in_trouble],
    }
    return render(request, "fleet/readings/yard.html", context)


def _site(request: HttpRequest, person: Person) -> tuple[Site, Sequence[Site]]:
    """The site that is asked for among those where the person records; the first otherwise."""
    sites = list(sites_where(person, "record_reading"))
    if not sites:
        raise NotAllowed("This needs the right “record reading” at a site.")
    asked = request.GET.get("site", "")
    return next((site for site in sites if str(site.pk) == asked), sites[0]), sites


def _record(sending: Sending) -> dict[int, ShownRow]:
    """Record what was typed; each typed row with what became of it, by its meter."""
    sheet, person = sending.sheet, sending.person
    known = yard_rows(person, sending.site, sheet.typed_ids(), at=sending.now)
    typed = sheet.rows(list(known.values()))
    whole = list(sheet.read_rows(typed))
    machines = machines_of(person, [one.row.machine_id for one, *_ in whole])
    wrong = readings_for(person, [corrects for *_, corrects in whole if corrects])
    lines = [
        YardLine(
            ReadingGiven(machines[one.row.machine_id], one.row.counts, hours, at, typed=one.hours),
            next((r for r in wrong if (r.pk, r.meter_id) == (corrects, one.row.meter_id)), None),
        )
        for one, hours, at, corrects in whole
    ]
    outcomes = record_yard(lines=lines, person=person, at=sending.now)
    for (one, *_), line, outcome in zip(whole, lines, outcomes, strict=True):
        _say(one, line, outcome)
    return {one.row.meter_id: one for one in typed}


def _say(one: ShownRow, line: YardLine, outcome: YardOutcome) -> None:
    """What became of a row: recorded and its box empty, or what is to be looked at again."""
    reading = outcome.reading
    if reading is None:
        one.state, one.sentence = "refused", outcome.refusal
        return
    one.reading_id = reading.pk
    if reading.doubt and reading.accepted_at is None:
        one.state, one.sentence, one.corrects = "doubt", reading.doubt, str(reading.pk)
        return
    one.state, one.hours, one.read, one.corrects = "new", "", "", ""
    row, given = one.row, line.given
    if row.usual is not None and row.last_h is not None and row.last_at is not None:
        days = (given.read_at - row.last_at) / dt.timedelta(days=1)
        one.sentence = remark(int((reading.reading_h - row.last_h) * 10), row.usual, days=days)


def _rows(sending: Sending, page: Sequence[object], done: dict[int, ShownRow]) -> list[ShownRow]:
    """The rows of the page with what is said of them; first those that left it meanwhile."""
    rows = sending.sheet.rows(page)  # type: ignore[arg-type]  # they are its rows
    here = {one.row.meter_id for one in rows}
    fresh = [_with(one, done.get(one.row.meter_id)) for one in rows]
    return [*(one for pk, one in done.items() if pk not in here and one.state != "new"), *fresh]


def _with(one: ShownRow, became: ShownRow | None) -> ShownRow:
    if became is not None:
        one.hours, one.read, one.corrects = became.hours, became.read, became.corrects
        one.state, one.sentence, one.reading_id = became.state, became.sentence, became.reading_id
    return one


def _lost(sending: Sending, rows: list[ShownRow], done: dict[int, ShownRow]) -> list[str]:
    """Figures whose machine is not at the site any more: said, so that none is lost."""
    here = {one.row.meter_id for one in rows} | set(done)
    sent = sending.sheet.sent
    return [sent[f"{pk}-hours"] for pk in sending.sheet.typed_ids() if pk not in here]


def _counts(done: dict[int, ShownRow]) -> dict[str, str]:
    """How many came in, and how many wait for a hand."""
    states = [one.state for one in done.values()]
    waits = sum(state != "new" for state in states)
    return {"in": _counted(states.count("new")), "waits": _counted(waits) if waits else ""}


def _counted(number: int) -> str:
    return f"{number} reading{'s' * (number != 1)}"
