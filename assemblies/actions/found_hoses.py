"""Hoses found on a machine that no register knew: kept from today on, with what they say."""

import datetime as dt
from dataclasses import dataclass
from typing import Any

from django.db import IntegrityError, transaction

from assemblies.actions.tags import bind_tag
from assemblies.calc.found_hose import (
    ASKED,
    NOTHING_SAID,
    FoundRead,
    Said,
    read_found,
)
from assemblies.models import Assembly, Position, Stay
from assemblies.queries.found_hoses import open_questions
from assemblies.signals import assembly_changed, installation_changed
from fleet import audit
from fleet.actions.refusals import Refused
from fleet.calc.keys import text_key
from fleet.models import Person
from fleet.permissions import require

LONGEST_LAYLINE = 200
# What was read off a hose as it was read: the column, its words, and the box it is typed in.
_RAW = {
    "layline": ("the printed line", "layline"),
    "built_typed": ("the stamp", "stamp"),
    "owner_mark": ("the owner’s mark", "owner_mark"),
}


@dataclass(frozen=True)
class FoundHose:
    """What was read off a hose, as it was read; `said` answers what reads several ways."""

    tag: str = ""
    owner_mark: str = ""
    layline: str = ""
    stamp: str = ""
    said: Said = NOTHING_SAID


@transaction.atomic
def keep_found(
    *, position: Position, hose: FoundHose, person: Person, today: dt.date, at: dt.datetime
) -> Assembly:
    """Keep the hose found on a position: a new one, or what is missing of the one known there.

    Atomic. A new one is known from today, its age only as far as it can be read. Refuses:
    position_taken, layline_differs, stamp_differs, owner_mark_differs,
    mark_taken, layline_too_long, and what `bind_tag` refuses.
    Sends `installation_changed` or `assembly_changed`. Needs `fit_hoses` at the site.
    """
    site = position.machine.site
    require(person, "fit_hoses", site)
    if len(hose.layline.strip()) > LONGEST_LAYLINE:
        raise Refused("layline_too_long", f"At most {LONGEST_LAYLINE} characters.", field="layline")
    read = read_found(hose.layline, hose.stamp, latest_on=today, said=hose.said)
    stay = Stay.objects.filter(position=position, is_open=True).first()
    if stay is None:
        kept = _made(position, hose, read, person=person, today=today, at=at)
    else:
        kept = stay.assembly
        _fill(kept, hose, read, person, at)
    if hose.tag.strip() and not _has_it(kept, hose.tag):
        typed = hose.tag.strip().rsplit("/t/", 1)[-1].rsplit("/T/", 1)[-1]
        bind_tag(assembly=kept, typed=typed, person=person, at=at)
    return kept


@transaction.atomic
def settle_reading(
    *, assembly: Assembly, said: Said, person: Person, today: dt.date, at: dt.datetime
) -> Assembly:
    """Say how something read off a hose is meant; who said it is kept. Atomic.

    Refuses: nothing_asked, not_a_reading. Sends `assembly_changed`. Needs `fit_hoses` at its site.
    """
    locked = Assembly.objects.select_for_update().get(pk=assembly.pk)
    require(person, "fit_hoses", locked.site_id)
    asked = {question.asks: question for question in open_questions(locked, today)}
    answers = {name: getattr(said, name) for name in ASKED if getattr(said, name)}
    if not answers or not set(answers) <= set(asked):
        raise Refused("nothing_asked", "Nothing of this hose is asked that this would answer.")
    for name, answer in answers.items():
        if answer not in dict(asked[name].choices):
            raise Refused("not_a_reading", f"“{answer}” is none of the readings.", field=name)
    read = read_found(locked.layline, locked.built_typed, latest_on=today, said=said)
    names = {name for name in read.facts if name.startswith(tuple(answers))}
    facts: dict[str, Any] = {name: read.facts[name] for name in names}
    facts |= {f"{name}_confirmed_by": person for name in answers if name != "size"}
    _save(locked, facts, "said how a reading is meant", person, at)
    return locked


def _made(
    position: Position,
    hose: FoundHose,
    read: FoundRead,
    *,
    person: Person,
    today: dt.date,
    at: dt.datetime,
) -> Assembly:
    facts = {**read.facts, **_confirmed(hose.said, read, person)}
    made = Assembly(
        **{"site": position.machine.site, "origin": Assembly.Origin.UNKNOWN},
        **{"known_from_on": today, "owner_mark": hose.owner_mark.strip(), **facts},
    )
    _save_once(made)
    stay = Stay(
        **{"assembly": made, "place": Stay.Place.POSITION, "position": position},
        **{"site": made.site, "recorded_by": person, "recorded_at": at},
    )
    try:
        with transaction.atomic():
            stay.save(force_insert=True)
    except IntegrityError as error:
        raise Refused(
            "position_taken", f"Someone else has just put a hose on {position}: look again."
        ) from error
    after = {"place": f"{position.machine}, {position}", **facts}
    audit.record(audit.Deed("found on a machine", made, made.site, {}, after), actor=person, at=at)
    news = {"assembly_ids": [made.pk], "machine_ids": [position.machine_id]}
    installation_changed.send(sender=Stay, at=at, **news)
    return made


def _fill(
    known: Assembly, hose: FoundHose, read: FoundRead, person: Person, at: dt.datetime
) -> None:
    """What is missing of a hose that is known; what is known is never written over."""
    facts = {**read.facts, **_confirmed(hose.said, read, person)}
    if hose.owner_mark.strip() and text_key(hose.owner_mark) != known.owner_mark_key:
        facts["owner_mark"] = hose.owner_mark.strip()
    for name, (what, box) in _RAW.items():
        stands, told = getattr(known, name), facts.get(name)
        if stands and told and stands != told:
            raise Refused(
                f"{box}_differs",
                f"The register has “{stands}” as {what} of this hose. If another hose hangs "
                "there, swap it on the position’s page; else leave this out.",
                field=box,
            )
    missing = {n: v for n, v in facts.items() if getattr(known, n) in (None, "")}
    if missing:
        _save(known, missing, "read off a hose", person, at)


def _confirmed(said: Said, read: FoundRead, person: Person) -> dict[str, Any]:
    """Who said how a date is meant, where somebody had to."""
    named = (name for name in ("made", "built") if getattr(said, name))
    return {f"{n}_confirmed_by": person for n in named if f"{n}_earliest_on" in read.facts}


def _save(
    assembly: Assembly, facts: dict[str, Any], deed: str, person: Person, at: dt.datetime
) -> None:
    before, after = audit.changes(assembly, facts)
    for name, value in after.items():
        setattr(assembly, name, value)
    assembly.version += 1
    _save_once(assembly)
    entry = audit.Deed(deed, assembly, assembly.site, before, after)
    audit.record(entry, actor=person, at=at)
    assembly_changed.send(sender=Assembly, assembly_ids=[assembly.pk], at=at)


def _save_once(assembly: Assembly) -> None:
    try:
        with transaction.atomic():
            assembly.save()
    except IntegrityError as error:
        raise Refused(
            "mark_taken",
            f"Another hose of this site is marked “{assembly.owner_mark}”.",
            field="owner_mark",
        ) from error


def _has_it(assembly: Assembly, typed: str) -> bool:
    return bool(assembly.tag_id) and text_key(typed).endswith(text_key(assembly.tag_id or ""))
