"""API keys as their owner sees them, and what was sent twice with another content."""

import datetime as dt
from dataclasses import dataclass
from typing import Any

from fleet.models import ApiKey, Person, Sending

MOST = 100


@dataclass(frozen=True, slots=True)
class KeyLine:
    """One key, without its secret: that is kept nowhere."""

    key_id: int
    name: str
    prefix: str
    site: str
    may_write: bool
    made_at: dt.datetime
    expires_at: dt.datetime
    last_used_on: dt.date | None
    state: str
    owner: str


@dataclass(frozen=True, slots=True)
class DisputedSending:
    """Something sent under an id that had been used for something else."""

    client_id: str
    purpose: str
    sent_at: dt.datetime
    first: dict[str, Any]
    other: dict[str, Any]


def keys_of(person: Person, *, now: dt.datetime) -> list[KeyLine]:
    """The person's own keys, the newest first."""
    return _lines(person.api_keys.all(), now)


def keys_of_others(person: Person, *, now: dt.datetime) -> list[KeyLine]:
    """The keys of everybody else that still open something: for who manages people."""
    standing = ApiKey.objects.filter(revoked_at=None, expires_at__gt=now).exclude(owner=person)
    return _lines(standing, now)


def key_for(key_id: int) -> ApiKey | None:
    """One key by its id; the actions ask who may do what with it."""
    return ApiKey.objects.select_related("site", "owner").filter(pk=key_id).first()


def disputed(person: Person) -> list[DisputedSending]:
    """What the person's clients sent twice under one id with different content."""
    others = Sending.objects.filter(person=person, is_first=False).order_by("-id")[:MOST]
    firsts = {
        (one.purpose, one.client_id): one.content
        for one in Sending.objects.filter(
            person=person, is_first=True, client_id__in={other.client_id for other in others}
        )
    }
    return [
        DisputedSending(
            one.client_id,
            one.purpose,
            one.sent_at,
            firsts.get((one.purpose, one.client_id), {}),
            one.content,
        )
        for one in others
    ]


def _lines(keys: Any, now: dt.datetime) -> list[KeyLine]:
    rows = keys.select_related("site", "owner").order_by("-id")[:MOST]
    return [
        KeyLine(
            key.pk,
            key.name,
            key.prefix,
            key.site.code if key.site else "",
            key.may_write,
            key.made_at,
            key.expires_at,
            key.last_used_on,
            _state(key, now),
            str(key.owner),
        )
        for key in rows
    ]


def _state(key: ApiKey, now: dt.datetime) -> str:
    if key.revoked_at is not None:
        return "withdrawn"
    return "fine" if key.expires_at > now else "over"
