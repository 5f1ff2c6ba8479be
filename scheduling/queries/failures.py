"""One failure as its page shows it, and the hoses of a machine to choose from."""

import datetime as dt
from dataclasses import dataclass
from decimal import Decimal
from typing import Final

from assemblies.models import Assembly, Position, Stay
from fleet.models import Downtime, Machine, Person, Photo
from scheduling.models import Failure, Finding
from scheduling.queries.due_facts import hose_label, hose_words

REPORT: Final = "failure report"  # what made the finding that a failed hose is to come out


@dataclass(frozen=True, slots=True)
class HoseNow:
    """Where a hose that failed is now, and the finding that still asks for it to come out."""

    words: str
    since_on: dt.date | None
    on_machine: bool
    may_be_scrapped: bool
    finding_id: int | None


@dataclass(frozen=True, slots=True)
class FailurePage:
    """All that the page of a failure shows."""

    failure: Failure
    hose: Assembly
    label: str
    words: str
    position: Position | None
    still_fitted: bool
    now: HoseNow
    hours_run: Decimal | None
    downtime: Downtime | None
    down_h: Decimal | None
    lost_minor: int | None
    photos: tuple[Photo, ...]


def failure_for(person: Person, failure_id: int) -> Failure | None:
    """The failure, where the person may see it."""
    found = Failure.objects.visible_to(person).filter(pk=failure_id)
    related = ("site", "assembly__site", "machine", "stay__position__machine", "downtime")
    failure: Failure | None = found.select_related(*related).first()
    return failure


def failure_page(failure: Failure, *, at: dt.datetime) -> FailurePage:
    """The page of a failure; an open time down counts up to `at`."""
    stay, downtime = failure.stay, failure.downtime
    hours = _hours_down(downtime, at) if downtime else None
    photos = Photo.objects.filter(pk__in=failure.photos.values("photo_id")).defer("content")
    return FailurePage(
        failure=failure,
        hose=failure.assembly,
        label=hose_label(failure.assembly),
        words=hose_words(failure.assembly),
        position=stay.position if stay else None,
        still_fitted=bool(stay and stay.is_open),
        now=_hose_now(failure),
        hours_run=_hours_run(failure, stay),
        downtime=downtime,
        down_h=hours,
        lost_minor=int(hours * downtime.cost_per_hour_minor) if downtime and hours else None,
        photos=tuple(photos.order_by("id")),
    )


def standing_report(assembly_id: int) -> Failure | None:
    """The failure of a hose that nobody has settled yet; None where there is none."""
    unsettled = Finding.objects.filter(assembly=assembly_id, source=REPORT, dealt_with_at=None)
    found = Failure.objects.filter(assembly=assembly_id).select_related("reported_by")
    return found.order_by("-id").first() if unsettled.exists() else None


def _hose_now(failure: Failure) -> HoseNow:
    hose = failure.assembly
    stays = Stay.objects.filter(assembly=hose, is_open=True).select_related("position__machine")
    stay = stays.first()
    findings = Finding.objects.filter(assembly=hose, source=REPORT, dealt_with_at=None)
    finding_id = findings.order_by("id").values_list("id", flat=True).first()
    if stay is None:
        return HoseNow("nowhere that the register knows", None, False, False, finding_id)
    if stay.site_id != failure.site_id:
        return HoseNow("at another site", stay.from_earliest_on, False, False, None)
    words = str(stay.get_place_display())
    if stay.position is not None:
        words = f"on {stay.position.machine}, {stay.position}"
    elif stay.store_place:
        words = f"{words}, {stay.store_place}"
    loose = stay.place in (Stay.Place.BENCH, Stay.Place.STORE)
    since = stay.from_earliest_on
    return HoseNow(words, since, stay.position is not None, loose, finding_id)


def _hours_down(downtime: Downtime, at: dt.datetime) -> Decimal:
    seconds = ((downtime.to_at or at) - downtime.from_at).total_seconds()
    return (Decimal(int(seconds)) / 3600).quantize(Decimal("0.1"))


def _hours_run(failure: Failure, stay: Stay | None) -> Decimal | None:
    if stay is None or stay.began_h is None or failure.machine_h is None:
        return None
    run: Decimal = failure.machine_h - stay.began_h
    return run if run >= 0 else None


@dataclass(frozen=True, slots=True)
class FittedLine:
    """A hose of a machine, by its place, for whoever saw where it failed."""

    hose_id: int
    number: int
    place: str
    label: str
    words: str


def fitted_on(machine: Machine) -> tuple[FittedLine, ...]:
    """The hoses of a machine in walk-round order."""
    stays = Stay.objects.filter(
        position__machine=machine, is_open=True, position__withdrawn_at=None
    )
    found = stays.select_related("assembly__hose", "position")
    return tuple(
        FittedLine(
            hose_id=stay.assembly_id,
            number=number,
            place=str(stay.position),
            label=hose_label(stay.assembly),
            words=hose_words(stay.assembly),
        )
        for number, stay in enumerate(found.order_by("position__walk_order", "position_id"), 1)
    )


def open_downtime(person: Person, downtime_id: int) -> Downtime | None:
    """A time down that the person may see."""
    found = Downtime.objects.visible_to(person).filter(pk=downtime_id)
    downtime: Downtime | None = found.select_related("machine__site").first()
    return downtime
