"""Trace: from a hose back to all its sources, and from a source forward to every hose."""

from dataclasses import dataclass

from assemblies.models import Assembly
from assemblies.queries.trace_links import KINDS, hoses_from, sources_from
from assemblies.queries.trace_subjects import (
    Subject,
    is_text,
    noun_of,
    subject_for,
    subjects_for,
    text_subject,
)
from fleet.models import Person

__all__ = ["Source", "hoses_from", "sources_of", "subject_for"]


@dataclass(frozen=True, slots=True)
class Source:
    """One source of a hose; `subject` is None where it belongs to a site the person doesn't see."""

    kind: str
    noun: str
    roles: tuple[str, ...]
    subject: Subject | None


def sources_of(person: Person, hose: Assembly) -> tuple[Source, ...]:
    """All that a hose comes from. The number of queries does not grow with the sources."""
    back = sources_from([hose.pk])[hose.pk]
    seen: dict[tuple[str, str], Subject | None] = {
        (kind, key): text_subject(person, kind, key, part.text)
        for (kind, key), part in back.items()
        if is_text(kind)
    }
    seen |= subjects_for(person, [source for source in back if source not in seen])
    rows = sorted(back.items(), key=lambda row: (KINDS.index(row[0][0]), row[0][1]))
    return tuple(
        Source(kind, noun_of(kind), part.roles, seen.get((kind, key))) for (kind, key), part in rows
    )
