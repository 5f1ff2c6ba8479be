"""Calling the API in tests: as somebody signed in, with a key, or as nobody."""

import json
from dataclasses import dataclass
from typing import Any

from django.core.cache import cache
from django.test import Client
from django.utils import timezone

from fleet.actions.keys import make_key
from fleet.models import ApiKey, Person, Site

ROOT = "/api/v1/"


@dataclass(frozen=True)
class Answer:
    """A status, and what was said."""

    status: int
    said: Any

    @property
    def code(self) -> str:
        return str(self.said["code"])


class Caller:
    """One client of the API."""

    def __init__(self, person: Person | None = None, *, key: str = "") -> None:
        cache.clear()  # the bound on calls goes by the person's id, which each test gives anew
        self.client = Client(headers={"Authorization": f"Bearer {key}"} if key else {})
        if person is not None:
            self.client.force_login(person)

    def get(self, path: str, **parameters: Any) -> Answer:
        return _answer(self.client.get(ROOT + path, parameters))

    def post(self, path: str, body: Any, **headers: str) -> Answer:
        named = {name.replace("_", "-"): value for name, value in headers.items()}
        raw = body if isinstance(body, bytes) else json.dumps(body).encode()
        sent = self.client.post(ROOT + path, raw, content_type="application/json", headers=named)
        return _answer(sent)


def key_of(
    owner: Person, *, site: Site | None = None, may_write: bool = False, days: int = 30
) -> tuple[ApiKey, str]:
    """A key and its text."""
    key, text = make_key(
        owner=owner,
        name="test",
        site=site,
        may_write=may_write,
        days=days,
        by=owner,
        at=timezone.now(),
    )
    return key, str(text)


def _answer(response: Any) -> Answer:
    return Answer(response.status_code, json.loads(response.content or b"null"))
