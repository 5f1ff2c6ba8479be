"""The pages of the masthead: each app adds its own when it is ready."""

from dataclasses import dataclass
from typing import Any

from django.http import HttpRequest
from django.urls import reverse

from fleet.permissions import may_anywhere


@dataclass(frozen=True)
class Entry:
    """One page of the masthead: where it stands, what it is called, who has use for it."""

    rank: int
    words: str
    route: str
    shape: str
    capability: str = "read_register"
    on_phone: bool = True


_entries: dict[str, Entry] = {}
_tag_search: list[str] = []


def add_entries(*entries: Entry) -> None:
    """Add pages to the masthead; the same route again replaces the first."""
    _entries.update({entry.route: entry for entry in entries})


def answer_tag_search(route: str) -> None:
    """Name the page that the tag box asks."""
    _tag_search[:] = [route]


def masthead(request: HttpRequest | None) -> dict[str, Any]:
    """What the head and foot of a page show: the entries this person may use, the tag box."""
    person = getattr(request, "user", None)
    if request is None or person is None or not person.is_authenticated:
        return {"person": None, "navigation": [], "tag_search_url": ""}
    allowed = [e for e in _entries.values() if may_anywhere(person, e.capability)]
    shown = sorted(allowed, key=lambda entry: entry.rank)
    return {
        "person": person,
        "navigation": [_shown(entry, request.path) for entry in shown],
        "tag_search_url": reverse(_tag_search[0]) if _tag_search else "",
    }


def _shown(entry: Entry, path: str) -> dict[str, Any]:
    url = reverse(entry.route)
    current = path == url or (url != "/" and path.startswith(url))
    return {
        "words": entry.words,
        "url": url,
        "shape": entry.shape,
        "on_phone": entry.on_phone,
        "current": current,
    }
