"""Conditional release: a breakdown, one trial, no test bench, and a named authority who decides."""

import datetime as dt
from dataclasses import dataclass
from decimal import Decimal
from typing import Final

from django.db import transaction

from assemblies.actions.revisions import save_clean
from assemblies.calc.sheet_words import bars
from assemblies.models import Assembly, ConditionalRelease, CrimpTrial, HoseRevision, Stay
from assemblies.queries.parts import counting
from assemblies.queries.ratings import assembly_rating_of
from assemblies.queries.releases import is_open, release_of
from assemblies.queries.trials import last_proof
from assemblies.queries.unmatched import hurts_there, why_unmatched
from assemblies.signals import assembly_changed
from fleet import audit
from fleet.actions.refusals import Refused
from fleet.calc.keys import text_key
from fleet.calc.local_days import local_day
from fleet.models import Person
from fleet.permissions import require

MOST_DAYS: Final = 14  # the project's own choice; no published source
RIGHT: Final = "release_conditionally"


@dataclass(frozen=True, slots=True)
class Limits:
    """What a released hose may bear and where, and whether it may go where a failure hurts."""

    pressure_bar: Decimal | None
    place: str
    where_it_hurts: bool = False

    @property
    def words(self) -> str:
        bar = "" if self.pressure_bar is None else f"at most {bars(self.pressure_bar)}, "
        hurts = "; allowed where a failure hurts someone" if self.where_it_hurts else ""
        return f"{bar}only at {self.place.strip()}{hurts}"


@dataclass(frozen=True, slots=True)
class Piece:
    """A trial's piece as it is to be fitted: what is written on it, how long, its other end."""

    mark: str
    other_end: str
    length_mm: Decimal | None = None


@dataclass(frozen=True, slots=True)
class _Terms:
    """On what terms a hose is released."""

    reason: str
    limits: Limits
    replace_by_on: dt.date


@transaction.atomic
def release_conditionally(
    *,
    assembly: Assembly,
    reason: str,
    limits: Limits,
    replace_by_on: dt.date,
    person: Person,
    today: dt.date,
    at: dt.datetime,
) -> ConditionalRelease:
    """Release a hose for a breakdown, within limits, until a day. Atomic; of two at once one wins.

    It lets a held hose, an unsigned build, and (where the limits say so) unmatched parts where a
    failure hurts someone be fitted, and stands on every page and paper of the machine until the
    hose is replaced. Refuses: scrapped, reason_missing, place_missing, pressure_missing,
    above_rating, place_asks_more, place_hurts, day_past, day_too_far, released_already,
    proof_failed, build_scrapped. Sends `assembly_changed`. Needs `release_conditionally` at the
    hose's site.
    """
    locked = Assembly.objects.select_for_update().get(pk=assembly.pk)
    require(person, RIGHT, locked.site_id)
    _refuse_hose(locked, today)
    return _release(locked, _Terms(reason, limits, replace_by_on), person, today, at)


@transaction.atomic
def release_trial_piece(
    *,
    trial: CrimpTrial,
    piece: Piece,
    reason: str,
    limits: Limits,
    replace_by_on: dt.date,
    person: Person,
    today: dt.date,
    at: dt.datetime,
) -> ConditionalRelease:
    """Take a closed trial's piece into the register, held, and release it. Atomic, once a trial.

    Refuses, beside what `release_conditionally` refuses: trial_open, trial_supports_nothing,
    piece_released, mark_missing, mark_taken, other_end_missing. Needs `release_conditionally`.
    """
    locked = CrimpTrial.objects.select_for_update().get(pk=trial.pk)
    require(person, RIGHT, locked.site_id)
    _refuse_trial(locked, piece)
    hose = _register(locked, piece, person, today, at)
    terms = _Terms(reason, limits, replace_by_on)
    return _release(hose, terms, person, today, at, trial=locked)


def _release(
    hose: Assembly,
    terms: _Terms,
    person: Person,
    today: dt.date,
    at: dt.datetime,
    *,
    trial: CrimpTrial | None = None,
) -> ConditionalRelease:
    _refuse_words(hose, terms)
    _refuse_place(hose, terms.limits)
    _refuse_day(terms.replace_by_on, today)
    limits = terms.limits
    release = ConditionalRelease(
        assembly=hose,
        authority=person,
        released_at=at,
        reason=terms.reason.strip(),
        limits=limits.words,
        pressure_bar=limits.pressure_bar,
        where_it_hurts=limits.where_it_hurts,
        replace_by_on=terms.replace_by_on,
        trial=trial,
    )
    save_clean(release)
    after = {"limits": release.limits, "replace_by": release.replace_by_on}
    deed = audit.Deed("released conditionally", hose, hose.site, {}, after, release.reason)
    audit.record(deed, actor=person, at=at)
    assembly_changed.send(sender=Assembly, assembly_ids=[hose.pk], at=at)
    return release


def _refuse_hose(hose: Assembly, today: dt.date) -> None:
    if hose.withdrawn_at is not None or hose.condition == Assembly.Condition.SCRAP:
        raise Refused("scrapped", f"{hose} is scrapped: a scrapped hose is never used again.")
    before = release_of(hose)
    if before is not None and is_open(before, today=today):
        raise Refused(
            "released_already",
            f"{hose} is released already, to be replaced by {before.replace_by_on}: replace it. "
            "To let it run past that day takes an exemption.",
        )
    build = getattr(hose, "build", None)
    if build is None:
        return
    if build.scrapped_reason:
        raise Refused("build_scrapped", f"Its build was scrapped: {build.scrapped_reason}")
    if build.proof_passed is False:
        raise Refused("proof_failed", "It failed its proof test: no release lifts that.")


def _refuse_words(hose: Assembly, terms: _Terms) -> None:
    limits = terms.limits
    if not terms.reason.strip():
        raise Refused("reason_missing", "Say why it can't wait.", field="reason")
    if not limits.place.strip():
        raise Refused("place_missing", "Say the one place where it may be used.", field="place")
    if limits.pressure_bar is None or limits.pressure_bar <= 0:
        raise Refused("pressure_missing", "State the pressure it may bear.", field="pressure_bar")
    known = assembly_rating_of(hose).working_pressure_bar
    if known is not None and limits.pressure_bar > known:
        raise Refused(
            "above_rating",
            f"Its parts bear {bars(known)}: a release can't allow {bars(limits.pressure_bar)}.",
            field="pressure_bar",
        )


def _refuse_place(hose: Assembly, limits: Limits) -> None:
    """Where the hose is fitted already, its place must keep within the limits."""
    stay = Stay.objects.filter(assembly=hose, is_open=True).select_related("position").first()
    place = stay.position if stay else None
    if place is None or limits.pressure_bar is None:
        return
    asked = max((one for one in (place.pressure_bar, place.surge_bar) if one), default=None)
    if asked is not None and asked > limits.pressure_bar:
        raise Refused(
            "place_asks_more",
            f"It is on {place}, which asks {bars(asked)}: take it off, or release it up to that.",
            field="pressure_bar",
        )
    if hurts_there(place) and not limits.where_it_hurts and why_unmatched(hose):
        raise Refused(
            "place_hurts",
            f"It is unmatched and on {place}, where a failure hurts someone: say that it may be "
            "there, or take it off.",
            field="where_it_hurts",
        )


def _refuse_day(replace_by_on: dt.date, today: dt.date) -> None:
    if replace_by_on < today:
        raise Refused("day_past", f"{replace_by_on} is past already.", field="replace_by_on")
    last = today + dt.timedelta(days=MOST_DAYS)
    if replace_by_on > last:
        raise Refused(
            "day_too_far",
            f"A release is for {MOST_DAYS} days at most: replace it by {last}.",
            field="replace_by_on",
        )


def _refuse_trial(trial: CrimpTrial, piece: Piece) -> None:
    if trial.closed_at is None:
        raise Refused("trial_open", "Close the trial first: its piece is released after that.")
    if not trial.outcome_detail.get("supports_recipe"):
        raise Refused(
            "trial_supports_nothing",
            f"This trial ended as “{trial.outcome}”: it says nothing for its crimp.",
        )
    proof = last_proof(trial)
    if proof is not None and not proof.passed:
        raise Refused("proof_failed", "Its piece failed the proof test: no release lifts that.")
    if ConditionalRelease.objects.filter(trial=trial).exists():
        raise Refused("piece_released", "This trial's piece was released before.")
    if not piece.mark.strip():
        raise Refused("mark_missing", "Say what is written on the piece.", field="mark")
    if not piece.other_end.strip():
        raise Refused("other_end_missing", "Say what its other end is.", field="other_end")


def _register(
    trial: CrimpTrial, piece: Piece, person: Person, today: dt.date, at: dt.datetime
) -> Assembly:
    """The piece as a held hose on the bench, built on the day that its trial was closed."""
    joint, built_on = trial.recipe, local_day(trial.closed_at or at, trial.site.time_zone)
    item = counting(HoseRevision, [joint.hose_id]).get(joint.hose_id)
    hose = Assembly(
        site=trial.site,
        owner_mark=piece.mark.strip(),
        origin=Assembly.Origin.BUILT,
        condition=Assembly.Condition.HELD,
        hose=joint.hose,
        hose_type=item.standard_type if item else "",
        size_dn=item.size_dn if item else None,
        length_mm=piece.length_mm,
        working_pressure_bar=item.working_pressure_bar if item else None,
        end_a=str(joint.fitting)[:120],
        end_b=piece.other_end.strip()[:120],
        built_earliest_on=built_on,
        built_latest_on=built_on,
        built_precision="day",
        known_from_on=today,
    )
    marked = Assembly.objects.filter(site=trial.site, owner_mark_key=text_key(hose.owner_mark))
    if marked.filter(withdrawn_at=None).exists():
        sentence = f"Another hose of the site is marked “{hose.owner_mark}”."
        raise Refused("mark_taken", sentence, field="mark")
    save_clean(hose)
    Stay.objects.create(
        assembly=hose,
        place=Stay.Place.BENCH,
        site=trial.site,
        from_at=trial.closed_at,
        from_earliest_on=built_on,
        from_latest_on=built_on,
        from_precision="day",
        recorded_by=person,
        recorded_at=at,
    )
    return hose
