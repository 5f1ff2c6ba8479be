"""From what a person types into the tag box to a hose, a machine, or a list of both."""

from dataclasses import dataclass

from django.db.models import QuerySet

from assemblies.calc.tags import NotATag, check_tag
from assemblies.models import Assembly
from fleet.calc.keys import text_key
from fleet.models import Machine, Person
from fleet.models.compiled import compiled
from scheduling.queries.due_facts import hose_label, hose_words

MOST = 30


@dataclass(frozen=True, slots=True)
class FoundHose:
    """A hose that fits what was typed."""

    hose_id: int
    label: str
    words: str
    site_code: str


@dataclass(frozen=True, slots=True)
class Found:
    """What fits, and the one hose it can only be, where it can."""

    only_hose_id: int | None
    hoses: tuple[FoundHose, ...]
    machines: tuple[Machine, ...]
    not_a_tag: str


def hose_of_tag(person: Person, typed: str) -> int | None:
    """The hose with exactly this own tag; another site's answers like an unknown one."""
    try:
        code = check_tag(typed)
    except NotATag:
        return None
    return _tagged.first(person, code)


@compiled
def _tagged(person: Person, code: str) -> "QuerySet[Assembly, int]":
    return Assembly.objects.visible_to(person).filter(tag=code).values_list("pk", flat=True)


def find(person: Person, typed: str) -> Found:
    """Own tags, owners’ marks and fleet numbers that fit; at most 30 of each.

    A scanner may send the whole address that stands in a tag’s code: its end is the tag.
    """
    typed = typed.rsplit("/t/", 1)[-1]
    key = text_key(typed)
    if not key:
        return Found(None, (), (), "")
    by_tag = hose_of_tag(person, typed)
    if by_tag is not None:
        return Found(by_tag, (), (), "")
    hoses = _marked(person, key)
    machines = Machine.objects.visible_to(person).filter(withdrawn_at=None)
    exact = [hose for hose in hoses if hose.owner_mark_key == key]
    fitting = tuple(machines.filter(number_key__contains=key).select_related("site")[:MOST])
    only = exact[0].pk if len(exact) == 1 and not fitting else None
    return Found(only, tuple(_found(hose) for hose in hoses), fitting, _why_no_tag(typed))


def _marked(person: Person, key: str) -> list[Assembly]:
    """Marks that begin with what was typed, by the range of the index: no scan."""
    found = Assembly.objects.visible_to(person).filter(
        owner_mark_key__gte=key, owner_mark_key__lt=key + "\U0010ffff"
    )
    return list(found.select_related("site", "hose").order_by("owner_mark_key", "id")[:MOST])


def _found(hose: Assembly) -> FoundHose:
    return FoundHose(hose.pk, hose_label(hose), hose_words(hose), hose.site.code)


def _why_no_tag(typed: str) -> str:
    try:
        check_tag(typed)
    except NotATag as error:
        return str(error)
    return "No hose that you may see has this tag."
