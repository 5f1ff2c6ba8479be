"""Sources of telematics: added, changed, withdrawn. No action here knows a secret."""

import datetime as dt
from dataclasses import dataclass
from typing import Any

from django.conf import settings
from django.db import IntegrityError, transaction

from fleet import audit
from fleet.actions.errands import ask_daily, ask_errand
from fleet.actions.refusals import Refused
from fleet.calc.keys import text_key
from fleet.calc.web_addresses import AddressError, is_credential_name, take_apart
from fleet.models import Errand, Person, Site, TelematicsSource
from fleet.permissions import require

TELEMATICS = "fetch telematics"


@dataclass(frozen=True)
class SourceFacts:
    """What a person says of a source. `site` None: machines of every site.

    `asked_daily` False: it is asked by hand alone.
    """

    name: str
    site: Site | None
    address: str
    form: str
    credential_variable: str = ""
    asked_daily: bool = True

    def columns(self) -> dict[str, Any]:
        return {
            "name": self.name.strip(),
            "site": self.site,
            "address": self.address.strip(),
            "form": self.form,
            "credential_variable": self.credential_variable.strip(),
            "asked_daily": self.asked_daily,
        }


@transaction.atomic
def add_source(*, facts: SourceFacts, person: Person, at: dt.datetime) -> TelematicsSource:
    """Add a source. Atomic. It is asked once a day from then on, or by hand alone.

    Refuses: name_missing, name_taken, address, form_unknown, credential_name. Needs
    `edit_machines` at its site, or at every site where it is of every site.
    """
    _refuse_bad_source(facts, person)
    source = TelematicsSource(**facts.columns(), added_by=person, added_at=at)
    _save_once(source)
    deed = audit.Deed("added a telematics source", source, source.site, {}, facts.columns())
    audit.record(deed, actor=person, at=at)
    return source


@transaction.atomic
def change_source(
    *, source: TelematicsSource, facts: SourceFacts, person: Person, at: dt.datetime
) -> TelematicsSource:
    """Change a source. Atomic; safe to repeat. What its machines are matched to stays.

    Refuses what `add_source` refuses, and withdrawn. Needs the right at the old site and the new.
    """
    locked = _locked(source, person)
    _refuse_bad_source(facts, person)
    before, after = audit.changes(locked, facts.columns())
    if not after:
        return locked
    for name, value in after.items():
        setattr(locked, name, value)
    _save_once(locked)
    deed = audit.Deed("changed a telematics source", locked, locked.site, before, after)
    audit.record(deed, actor=person, at=at)
    return locked


@transaction.atomic
def withdraw_source(
    *, source: TelematicsSource, reason: str, person: Person, at: dt.datetime
) -> None:
    """Ask a source no more. Atomic. Its readings, matches and runs stay.

    Refuses: reason_missing, withdrawn. Needs `edit_machines` at its site.
    """
    locked = _locked(source, person)
    if not reason.strip():
        raise Refused("reason_missing", "Say why it is not asked any more.", field="reason")
    locked.withdrawn_at, locked.withdrawn_by = at, person
    locked.withdrawal_reason = reason.strip()[:500]
    locked.save(update_fields=["withdrawn_at", "withdrawn_by", "withdrawal_reason"])
    deed = audit.Deed("withdrew a telematics source", locked, locked.site, {}, {}, reason)
    audit.record(deed, actor=person, at=at)


@transaction.atomic
def ask_source_now(*, source: TelematicsSource, person: Person, at: dt.datetime) -> Errand:
    """Ask a source now and not only once a day. Safe to repeat: while one waits, it is that one.

    Refuses: withdrawn. Needs `edit_machines` at its site.
    """
    locked = _locked(source, person)
    return ask_errand(
        kind=TELEMATICS,
        at=at,
        payload={"source_id": locked.pk},
        person=person,
        key=f"source {locked.pk}",
    )


def ask_sources_daily(*, at: dt.datetime) -> int:
    """Ask each source that stands for its day's hours. Safe to repeat: once a UTC day each.

    Those that are asked by hand alone are left out.
    """
    day = at.astimezone(dt.UTC).date().isoformat()
    asked = set(
        Errand.objects.filter(kind=TELEMATICS, period__startswith=day).values_list(
            "period", flat=True
        )
    )
    standing = TelematicsSource.objects.filter(withdrawn_at=None, asked_daily=True)
    ids = standing.values_list("pk", flat=True)
    left = [pk for pk in ids if f"{day} source {pk}" not in asked]
    for pk in left:
        ask_daily(kind=TELEMATICS, at=at, of=f"source {pk}", payload={"source_id": pk})
    return len(left)


def _locked(source: TelematicsSource, person: Person) -> TelematicsSource:
    locked = TelematicsSource.objects.select_for_update(of=("self",)).get(pk=source.pk)
    require(person, "edit_machines", locked.site_id)
    if locked.withdrawn_at is not None:
        raise Refused("withdrawn", f"{locked} was withdrawn: add it anew.")
    return locked


def _refuse_bad_source(facts: SourceFacts, person: Person) -> None:
    require(person, "edit_machines", facts.site)
    if not text_key(facts.name) or len(facts.name.strip()) > 60 or len(text_key(facts.name)) > 200:
        raise Refused("name_missing", "Give it a name of up to 60 letters.", field="name")
    if facts.form not in TelematicsSource.Form.values:
        raise Refused("form_unknown", "It comes as XML or as JSON.", field="form")
    try:
        address = facts.address.strip()
        take_apart(address, private_hosts=settings.TELEMATICS_PRIVATE_HOSTS, typed=True)
    except AddressError as error:
        raise Refused("address", str(error), field="address") from error
    if len(address) > 500:
        raise Refused("address", "The address is longer than 500 signs.", field="address")
    name = facts.credential_variable.strip()
    if name and not is_credential_name(name):
        raise Refused(
            "credential_name",
            "The name begins with TELEMATICS_KEY_ and goes on in capitals: it names where the "
            "secret stands, and is not the secret.",
            field="credential_variable",
        )


def _save_once(source: TelematicsSource) -> None:
    try:
        with transaction.atomic():
            source.save()
    except IntegrityError as error:
        raise Refused(
            "name_taken", f"There is a source “{source.name}” already.", field="name"
        ) from error
