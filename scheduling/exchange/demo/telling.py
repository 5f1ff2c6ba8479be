"""A source of telematics in the demo: a recorded page, taken as one that was fetched is taken.

Nothing is fetched: the page stands in fixtures/demo and its source is asked by hand alone.
"""

import datetime as dt
from collections.abc import Iterator
from dataclasses import replace
from decimal import Decimal
from pathlib import Path
from typing import Final

from django.conf import settings

from fleet.actions.telematics import SourceFacts, add_source
from fleet.actions.telematics_matches import match_machine
from fleet.actions.telematics_runs import end_run, open_run, take_page
from fleet.calc.snapshots import Snapshot, Told
from fleet.models import Machine, Person, Site, TelematicsMatch, TelematicsSource
from fleet.telematics.parse import parse_snapshot
from scheduling.exchange.demo.days import Days, moment
from scheduling.exchange.demo.fleet import FleetPlan
from scheduling.exchange.demo.hours import hours

PROVIDER: Final = "Wrenlow Fleet Data"
ADDRESS: Final = "https://data.wrenlow.example/fleet/1"
PAGE: Final = "fixtures/demo/wrenlow_page.xml"
SITE: Final = "BQ"
ASKED_AT_HOUR: Final = 19.0
_FIRST_DAYS_AGO, _LAST_DAYS_AGO = 3, 1


def tell_hours(days: Days, fleet: FleetPlan) -> None:
    """Add the source, take its page of two evenings, and match what is ours in between.

    Call once the register and the people's roles are written, inside the transaction.
    """
    planner = Person.objects.get(username="planner")
    facts = SourceFacts(
        PROVIDER, Site.objects.get(code=SITE), ADDRESS, TelematicsSource.Form.XML, asked_daily=False
    )
    first_on = days.ago(_FIRST_DAYS_AGO)
    source = add_source(facts=facts, person=planner, at=moment(first_on, ASKED_AT_HOUR - 1))
    page = parse_snapshot((Path(settings.BASE_DIR) / PAGE).read_bytes(), form=source.form)
    _ask(source, page, first_on, fleet, planner)
    _match(source, fleet, planner, at=moment(days.ago(_FIRST_DAYS_AGO - 1), 9.2))
    _ask(source, page, days.ago(_LAST_DAYS_AGO), fleet, planner)


def _ask(
    source: TelematicsSource, page: Snapshot, on: dt.date, fleet: FleetPlan, planner: Person
) -> None:
    """One run over the page, as it would have come that evening."""
    at = moment(on, ASKED_AT_HOUR)
    run = open_run(source=source, asked_by=planner, at=at)
    take_page(
        run=run,
        address=source.address,
        machines=tuple(_that_evening(page, on, fleet)),
        taken=at.isoformat(),
        next_address="",
        at=at,
    )
    end_run(run=run, at=at + dt.timedelta(seconds=4))


def _that_evening(page: Snapshot, on: dt.date, fleet: FleetPlan) -> Iterator[Told]:
    """What the page tells, its times moved to a day, the hours of our machines their meters'."""
    for told in page.machines:
        if told.identity is None or told.read_at is None or told.hours is None:
            yield told
            continue
        read_at = moment(on, told.read_at.hour + told.read_at.minute / 60)
        shown = told.hours
        if told.identity.equipment_ref in fleet.machines:
            shown = _shown(fleet, told.identity.equipment_ref, on)
        yield replace(told, hours=shown, typed=f"{shown:f}", read_at=read_at)


def _shown(fleet: FleetPlan, number: str, on: dt.date) -> Decimal:
    """What a machine's engine meter showed at the end of a day."""
    line = fleet.machines[number].lines["engine"]
    offset: Decimal = line.meter_on(on).offset_h
    return hours(line.curve.morning(on + dt.timedelta(days=1))) - offset


def _match(source: TelematicsSource, fleet: FleetPlan, planner: Person, *, at: dt.datetime) -> None:
    """Say which machine each is, where its hours are told and not typed; the others wait."""
    for seen in TelematicsMatch.objects.filter(source=source).order_by("id"):
        plan = fleet.machines.get(seen.equipment_ref)
        if plan is not None and plan.row.readings == "telematics":
            machine = Machine.objects.select_related("site").get(pk=plan.machine.pk)
            match_machine(seen=seen, machine=machine, counts="engine", person=planner, at=at)
