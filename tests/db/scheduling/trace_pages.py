"""Pages of trace and recall, asked for as a person does."""

from typing import Any

from django.test import Client
from django.urls import reverse

from fleet.models import Person


def at(name: str, *args: Any) -> str:
    return reverse(f"scheduling:{name}", args=args)


def client(person: Person) -> Client:
    made = Client()
    made.force_login(person)
    return made


def words(who: Client, url: str, **query: Any) -> str:
    answer = who.get(url, query)
    assert answer.status_code == 200
    return answer.content.decode()


def streamed(answer: Any) -> str:
    return b"".join(answer.streaming_content).decode()


def shown_at(who: Client, url: str) -> str:
    mark: str = who.get(url).context["spread"].mark
    return mark
