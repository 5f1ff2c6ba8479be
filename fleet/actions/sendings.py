"""Doing once what a client sends under an id of its own, however often it is sent."""

import datetime as dt
import hashlib
import json
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from django.db import IntegrityError, transaction

from fleet.actions.refusals import Refused
from fleet.models import Person, Sending


@dataclass(frozen=True, slots=True)
class Done:
    """The id of what was made, and whether it was made now."""

    result_id: int
    now: bool


def do_once(
    *,
    person: Person,
    purpose: str,
    client_id: str,
    content: Mapping[str, Any],
    at: dt.datetime,
    do: Callable[[], int],
) -> Done:
    """Do it under this id, unless it was done already. Atomic with what is done.

    `do` returns the id of what it made. The same content under the same id gives the first
    result again. Refuses: sent_otherwise (the same id with another content; both are kept).
    What `do` refuses passes through, and the id stays free.
    """
    digest = _digest(content)
    facts = {"person": person, "purpose": purpose, "client_id": client_id}
    with transaction.atomic():
        sending = _begun(Sending(**facts, digest=digest, content=dict(content), sent_at=at))
        if sending is not None:
            sending.result_id = do()
            sending.save(update_fields=["result_id"])
            return Done(sending.result_id, now=True)
    first = Sending.objects.get(**facts, is_first=True)
    if first.digest == digest and first.result_id is not None:
        return Done(first.result_id, now=False)
    _begun(Sending(**facts, digest=digest, content=dict(content), sent_at=at, is_first=False))
    raise Refused(
        "sent_otherwise",
        f"Under the id “{client_id}” something else was sent before: give this one its own id.",
    )


def _begun(sending: Sending) -> Sending | None:
    """The row written; None where another stands there already. Two at once: the second waits."""
    try:
        with transaction.atomic():
            sending.save(force_insert=True)
    except IntegrityError:
        return None
    return sending


def _digest(content: Mapping[str, Any]) -> str:
    plain = json.dumps(content, sort_keys=True, ensure_ascii=True, separators=(",", ":"))
    return hashlib.sha256(plain.encode("ascii")).hexdigest()
