"""What a first registration still asks: things read off hoses that read several ways."""

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

from django.db.models import Q

from assemblies.calc.found_hose import Question
from assemblies.models import Assembly
from assemblies.queries.found_hoses import open_questions
from scheduling.queries.due_facts import hose_label
from scheduling.queries.rounds import RoundPage


@dataclass(frozen=True, slots=True)
class Asked:
    """One question about a hose, beside what was read off it."""

    hose_id: int
    label: str
    place: str
    read: str
    question: Question


def questions_of(page: RoundPage, today: dt.date) -> tuple[Asked, ...]:
    """The open questions about the hoses of a round, in walking order. One query."""
    places = {line.hose_id: f"{line.number}. {line.place}" for line in page.lines if line.hose_id}
    return tuple(
        Asked(hose.pk, hose_label(hose), places[hose.pk], _read(hose, question), question)
        for hose in sorted(_unsure(list(places)), key=lambda one: list(places).index(one.pk))
        for question in open_questions(hose, today)
    )


def _unsure(hose_ids: Sequence[int]) -> list[Assembly]:
    """Hoses with something printed or stamped on them that gave no day or no size."""
    line = ~Q(layline="") & (Q(made_earliest_on=None) | Q(size_dn=None))
    stamp = ~Q(built_typed="") & Q(built_earliest_on=None)
    return list(Assembly.objects.filter(line | stamp, pk__in=hose_ids))


def _read(hose: Assembly, question: Question) -> str:
    return hose.built_typed if question.asks == "built" else hose.layline
