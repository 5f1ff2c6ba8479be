"""A provider on this machine, a source of it and a clock that is set by hand, for tests."""

import datetime as dt
from typing import Any

from fleet.actions.telematics import SourceFacts, add_source
from fleet.actions.telematics_matches import match_machine
from fleet.models import Machine, Person, TelematicsMatch, TelematicsRun, TelematicsSource
from fleet.telematics.fetch import Bounds
from fleet.telematics.ingest import go_through
from tests import factories as make
from tests.fake_provider import Provider

NOW = make.NOW
QUICK = Bounds(connect_s=1, page_s=0.5, most_bytes=2**20)


class Clock:
    """A clock that stands until it is set on."""

    def __init__(self) -> None:
        self.at = NOW

    def __call__(self) -> dt.datetime:
        return self.at

    def on(self, pause: dt.timedelta) -> None:
        self.at += pause


def source_of(provider: Provider, boss: Person, **facts: Any) -> TelematicsSource:
    told = {"name": "North feed", "site": None, "address": provider.url(), "form": "xml"}
    return add_source(facts=SourceFacts(**{**told, **facts}), person=boss, at=NOW)


def fetch(source: TelematicsSource, clock: Clock, **facts: Any) -> TelematicsRun:
    told = {"asked_by": None, "asked_at": clock.at, "clock": clock, "bounds": QUICK, **facts}
    return go_through(source=source, **told)


def matched(source: TelematicsSource, machine: Machine, boss: Person, **facts: Any) -> Any:
    told = {"kind": "pin", "identity_key": "har0001", "pin": "HAR0001", **facts}
    seen = TelematicsMatch.objects.create(
        source=source, first_seen_at=NOW, last_seen_at=NOW, **told
    )
    return match_machine(seen=seen, machine=machine, counts="engine", person=boss, at=NOW)
