"""A small yard for the tests of hours: a machine with readings, a source and what it tells of."""

import datetime as dt
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.urls import reverse

from fleet.actions.meters import MeterChange, change_meter
from fleet.actions.readings import record_reading
from fleet.actions.telematics import SourceFacts, add_source
from fleet.models import (
    HourReading,
    Machine,
    Person,
    Site,
    TelematicsMatch,
    TelematicsRun,
    TelematicsSource,
)
from tests import factories as make

NOW = make.NOW


@dataclass(frozen=True)
class HoursYard:
    """What stands there; `changed` is a machine whose meter was changed."""

    site: Site
    planner: Person
    machine: Machine
    changed: Machine
    reading: HourReading
    doubtful: HourReading
    source: TelematicsSource
    unmatched: TelematicsMatch
    matched: TelematicsMatch

    def pages(self) -> dict[str, str]:
        """Every page about hours, by name."""
        machine, reading = [self.machine.pk], [self.reading.pk]
        seen, source = [self.unmatched.pk], [self.source.pk]
        return {
            "yard": reverse("fleet:yard"),
            "stale": reverse("fleet:stale_hours"),
            "history": reverse("fleet:readings", args=machine),
            "correct": reverse("fleet:reading_correct", args=reading),
            "aside": reverse("fleet:reading_set_aside", args=reading),
            "meter": reverse("fleet:meter_change", args=machine),
            "undo": reverse("fleet:meter_undo", args=[self.changed.pk]),
            "rollover": reverse("fleet:meter_rollover", args=machine),
            "add meter": reverse("fleet:meter_add", args=machine),
            "sources": reverse("fleet:telematics"),
            "add source": reverse("fleet:source_add"),
            "source": reverse("fleet:source", args=source),
            "change source": reverse("fleet:source_change", args=source),
            "withdraw source": reverse("fleet:source_withdraw", args=source),
            "unmatched": reverse("fleet:unmatched"),
            "matched": reverse("fleet:unmatched") + "?show=matched",
            "match": reverse("fleet:match", args=seen) + "?q=EX",
            "match aside": reverse("fleet:match_set_aside", args=seen),
            "take back": reverse("fleet:match_take_back", args=[self.matched.pk]),
        }


def read(machine: Machine, hours: Any, days_ago: float, **facts: Any) -> HourReading:
    return record_reading(
        machine=machine,
        counts="engine",
        reading_h=Decimal(str(hours)),
        read_at=NOW - dt.timedelta(days=days_ago),
        **{"person": None, "at": NOW, **facts},
    )


def hours_yard(**facts: Any) -> HoursYard:
    """A site with all of it, and its planner."""
    site = make.site(**{"code": "BQ", "name": "Blackmere Quarry", **facts})
    planner = make.person("planner", at=site, display_name="Ines Holloway")
    machine = make.machine(at=site, fleet_number="EX-014", pin="HAR0002", serial_number="9014")
    for days_ago in (40, 30, 20, 10):
        last = read(machine, 1000 + 8 * (40 - days_ago), days_ago, person=planner)
    changed = make.machine(at=site, fleet_number="LO-002")
    change_meter(
        machine=changed,
        counts="engine",
        change=MeterChange((NOW - dt.timedelta(days=5)).date(), Decimal(5480)),
        person=planner,
        at=NOW,
    )
    source = add_source(
        facts=SourceFacts("North feed", site, "https://data.harrow.example/fleet", "xml"),
        person=planner,
        at=NOW,
    )
    return HoursYard(
        site=site,
        planner=planner,
        machine=machine,
        changed=changed,
        reading=last,
        doubtful=read(machine, 900, 2, person=planner),
        source=source,
        unmatched=seen_by(source, "HAR0002", maker="Harrow", last_reading_h=Decimal(1310)),
        matched=_matched(source, changed, planner),
    )


def seen_by(source: TelematicsSource, pin: str, **facts: Any) -> TelematicsMatch:
    """A machine that a source tells of."""
    told = {"kind": "pin", "pin": pin, "identity_key": pin.casefold(), "last_read_at": NOW}
    return TelematicsMatch.objects.create(
        source=source, first_seen_at=NOW, last_seen_at=NOW, **{**told, **facts}
    )


def _matched(source: TelematicsSource, machine: Machine, planner: Person) -> TelematicsMatch:
    signed = {"machine": machine, "decided_by": planner, "decided_at": NOW}
    return seen_by(source, "HAR0009", **signed)


def ended_run(source: TelematicsSource, **facts: Any) -> TelematicsRun:
    """A run that is over, with something to look at."""
    told = {"state": "failed", "error": "data.harrow.example is in trouble (500).", "pages": 1}
    problems = ["PIN HAR0007: It told no operating hours."]
    return TelematicsRun.objects.create(
        **{
            "source": source,
            "began_at": NOW,
            "ended_at": NOW,
            "problems": problems,
            "equipment": 3,
            **told,
            **facts,
        }
    )
