"""The demo's life studies: made by the planner from the demo's own failures."""

import datetime as dt
from decimal import Decimal
from typing import Final

from assemblies.models import Position
from fleet.models import Person, Site
from scheduling.actions.studies import Asked, make_study
from scheduling.calc.life.installations import Clock
from scheduling.queries.lifetimes import LifeScope

PLANNED, FAILURE, TODAY_H = Decimal(420), Decimal(3100), Decimal(6000)
ASKED: Final = (
    ("Working circuit, quarry", Position.Circuit.WORKING, Clock.HOURS, ""),
    ("Worn by routing, quarry", "", Clock.HOURS, "routing"),
    ("Steering, quarry, by days", Position.Circuit.STEERING, Clock.DAYS, ""),
)


def lay_studies(*, today: dt.date, at: dt.datetime) -> None:
    """One study that proposes an age, one of a single cause, one with too few failures."""
    planner, quarry = Person.objects.get(username="planner"), Site.objects.order_by("pk")[0]
    for title, circuit, clock, causes in ASKED:
        asked = Asked(
            title=title,
            scope=LifeScope(site_id=quarry.pk, circuit=circuit),
            clock=clock,
            causes=causes,
            planned=PLANNED,
            failure=FAILURE,
            today_age=TODAY_H if clock is Clock.HOURS else None,
        )
        make_study(asked=asked, person=planner, today=today, at=at)
