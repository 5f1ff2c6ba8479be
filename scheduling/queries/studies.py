"""Life studies as they were made: the list, one of them, and what the report tells of them."""

import datetime as dt
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from django.db.models import Q, QuerySet

from fleet.models import Person
from fleet.queries.keyset import Order, Page, page_of
from scheduling.calc.life.kept import pictures
from scheduling.calc.report import Picture, Study
from scheduling.models import LifeStudy

LATEST = Order("made_on", down=True)
TOLD = 3


@dataclass(frozen=True, slots=True)
class StudyLine:
    """One study of the list."""

    study_id: int
    title: str
    clock: str
    made_on: dt.date
    made_by: str
    failures: int
    total: int
    proposed: float | None


@dataclass(frozen=True, slots=True)
class StudyPage:
    """One study with its pictures."""

    study: LifeStudy
    unit: str
    result: dict[str, Any]
    counts: dict[str, Any]
    pictures: tuple[Picture, ...]


def visible_studies(person: Person) -> "QuerySet[LifeStudy]":
    """Studies of the person's sites; those over every site for whoever sees every site."""
    found = LifeStudy.objects.visible_to(person)
    if person.sees_every_site:
        found = LifeStudy.objects.filter(Q(pk__in=found.values("pk")) | Q(site=None))
    return found.select_related("made_by", "site", "proposal__header")


def study_list(person: Person, *, after: tuple[object, ...] | None, size: int) -> Page[StudyLine]:
    """Studies, the latest first."""
    page = page_of(visible_studies(person), order=LATEST, after=after, size=size)
    return Page(tuple(_line(study) for study in page.rows), page.after)


def _line(study: LifeStudy) -> StudyLine:
    return StudyLine(
        study_id=study.pk,
        title=study.title,
        clock=study.get_clock_display(),
        made_on=study.made_on,
        made_by=str(study.made_by),
        failures=study.result["failures"],
        total=study.result["total"],
        proposed=study.result["proposed"],
    )


def unit_of(study: LifeStudy) -> str:
    """The unit of a study's ages."""
    return "h" if study.clock == LifeStudy.Clock.HOURS else "days"


def study_page(person: Person, study_id: int) -> StudyPage | None:
    """One study, where the person may see it."""
    study = visible_studies(person).filter(pk=study_id).first()
    if study is None:
        return None
    unit = unit_of(study)
    drawn = pictures(study.result, unit=unit, title=study.title)
    return StudyPage(study, unit, study.result, study.counts, drawn)


def studies_for_report(
    person: Person, *, site_id: int | None, address: Callable[[int], str]
) -> tuple[Study, ...]:
    """The latest studies of a report's scope, with their pictures."""
    found = visible_studies(person)
    if site_id is not None:
        found = found.filter(Q(site_id=site_id) | Q(site=None))
    return tuple(
        Study(
            title=study.title,
            made_on=study.made_on,
            says=(*study.result["says"], *saving_words(study.result, unit_of(study))),
            pictures=pictures(study.result, unit=unit_of(study), title=study.title),
            link=address(study.pk),
        )
        for study in found.order_by("-made_on", "-pk")[:TOLD]
    )


def saving_words(result: dict[str, Any], unit: str) -> tuple[str, ...]:
    """What following the best age would save against today's rule, with what that assumes."""
    best, costs = result["best"], result["costs"]
    said = [_today_words(result["today"], unit)]
    if best and best["age"] is not None:
        said.append(f"Best age of change: {best['age']:,.0f} {unit}{_limit_words(result, unit)}.")
    if best and costs:
        said += [
            *_against_today(result, best),
            f"Assumed: a planned change costs {costs['planned']:,.2f}, a failure "
            f"{costs['failure']:,.2f}, and the hoses go on living as these did.",
        ]
    return tuple(said)


def _today_words(today: dict[str, Any] | None, unit: str) -> str:
    if today is None:
        return "No approved rule limits all of these hoses on this clock today."
    source = f" ({today['from']})" if today.get("from") else ""
    return f"Changed today at {today['age']:,.0f} {unit} at the latest{source}."


def _against_today(result: dict[str, Any], best: dict[str, Any]) -> tuple[str, ...]:
    """Today's rule against the best age, or against never: dearer, cheaper, by how much.

    Nothing is said of ages that no hose has reached: there the curve guesses.
    """
    today = result["today"]
    if today is None or today["saving"] is None:
        return ()
    lives = best["age"] if best["age"] is not None else result["scale"]["estimate"]
    if max(lives, today["age"]) > result["until"]:
        return (
            "What it would save against today’s rule can’t be said: no hose was watched to such an "
            f"age, the oldest to {result['until']:,.0f}.",
        )
    following = "Following the best age" if best["age"] is not None else "Running to failure"
    saving = today["saving"]
    way = "save" if saving >= 0 else "cost"
    more = "" if saving >= 0 else " more"
    limits = "The limits of documents stay: a study can only tighten them."
    return (f"{following} would {way} {abs(saving):.0%}{more} against today’s rule. {limits}",)


def _limit_words(result: dict[str, Any], unit: str) -> str:
    limits = result["best_limits"]
    if not limits:
        return ""
    high = "never" if limits["high"] is None else f"{limits['high']:,.0f} {unit}"
    low = "never" if limits["low"] is None else f"{limits['low']:,.0f}"
    return f" (by the data anything from {low} to {high})"
