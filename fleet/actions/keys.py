"""Making, using and revoking API keys."""

import datetime as dt
import secrets

from django.db import transaction
from django.db.models import Q

from fleet import audit
from fleet.actions.refusals import Refused
from fleet.calc.api_keys import KeyText, digest_of, draw_key
from fleet.models import ApiKey, Person, Site
from fleet.permissions import NotAllowed, may_anywhere

LONGEST_DAYS = 366


@transaction.atomic
def make_key(
    *,
    owner: Person,
    name: str,
    site: Site | None,
    may_write: bool,
    days: int,
    by: Person | None,
    at: dt.datetime,
) -> tuple[ApiKey, KeyText]:
    """Make a key for a person. Atomic. The text is returned once and kept nowhere.

    Refuses: name_missing, days, owner_inactive, site_not_yours. `by` None is the command line;
    else a person makes keys for themselves, `manage_people` for others too.
    """
    if by is not None and by.pk != owner.pk and not may_anywhere(by, "manage_people"):
        raise NotAllowed("A key is made by the person it is for.")
    _refuse_bad_key(owner, name, site, days)
    text = draw_key(secrets.choice)
    key = ApiKey.objects.create(
        prefix=text.prefix,
        secret_digest=digest_of(text.secret),
        name=name.strip(),
        owner=owner,
        site=site,
        may_write=may_write,
        made_at=at,
        made_by=by,
        expires_at=at + dt.timedelta(days=days),
    )
    after = {"name": key.name, "owner": owner, "site": site and site.code, "writes": may_write}
    audit.record(
        audit.Deed("made an API key", key, site, {}, {**after, "days": days}), actor=by, at=at
    )
    return key, text


@transaction.atomic
def revoke_key(*, key: ApiKey, by: Person, at: dt.datetime, reason: str = "") -> None:
    """Revoke a key for good. Atomic; revoking it twice does nothing the second time.

    The owner may, and whoever manages people.
    """
    if by.pk != key.owner_id and not may_anywhere(by, "manage_people"):
        raise NotAllowed("A key is revoked by its owner, or by someone who manages people.")
    revoked = ApiKey.objects.filter(pk=key.pk, revoked_at=None).update(revoked_at=at, revoked_by=by)
    if revoked:
        audit.record(
            audit.Deed("revoked an API key", key, key.site, {}, {}, reason), actor=by, at=at
        )


def note_use(*, key: ApiKey, on: dt.date) -> None:
    """Note the day a key was used: one write a day, not one a request."""
    if key.last_used_on != on:
        ApiKey.objects.filter(~Q(last_used_on=on) | Q(last_used_on=None), pk=key.pk).update(
            last_used_on=on
        )


def _refuse_bad_key(owner: Person, name: str, site: Site | None, days: int) -> None:
    if not name.strip():
        raise Refused("name_missing", "Say what the key is for.", field="name")
    if not 1 <= days <= LONGEST_DAYS:
        raise Refused("days", f"A key lasts 1 to {LONGEST_DAYS} days.", field="days")
    if not owner.is_active:
        raise Refused("owner_inactive", f"{owner} may not sign in any more.", field="owner")
    if site is not None and not Site.objects.visible_to(owner).filter(pk=site.pk).exists():
        raise Refused("site_not_yours", f"{owner} has no role at {site}.", field="site")
