"""A site, and registers imported into it line by line."""

import datetime as dt
from collections.abc import Mapping
from typing import Any

from assemblies.actions.register.importing import Given, open_register, read_rows, write_rows
from assemblies.actions.register.writing import Import
from assemblies.calc.register.plans import RegisterPlan, RowPlan
from fleet.models import Person, Site

NOW = dt.datetime(2026, 3, 9, 8, 0, tzinfo=dt.UTC)
HEAD = "Machine,Position,Tag,Size,Length mm,Fitted,Note"


def take_in(
    site: Site,
    *lines: str,
    answers: Mapping[str, str] = {},
    take_good_rows: bool = False,
    person: Person | None = None,
    now: dt.datetime = NOW,
) -> RegisterPlan:
    """Import a CSV register, its first line the header."""
    text = "\n".join(lines).encode()
    return take_in_file(
        site, text, "a.csv", answers, take_good_rows=take_good_rows, person=person, now=now
    )


def take_in_file(
    site: Site,
    content: Any,
    name: str,
    answers: Mapping[str, str] = {},
    *,
    take_good_rows: bool = False,
    person: Person | None = None,
    now: dt.datetime = NOW,
) -> RegisterPlan:
    opened = open_register(Given(content, name))
    read = read_rows(opened, answers=answers, today=now.date())
    assert read.questions == ()
    into = Import(site, person, now, now.date(), name)
    return write_rows(rows=read.rows, into=into, take_good_rows=take_good_rows)


def outcomes(plan: RegisterPlan) -> str:
    """The outcomes of the rows as one letter each: n, c, s, r, l."""
    return "".join(row.outcome[0] for row in plan.rows)


def reason(row: RowPlan) -> str:
    return "; ".join(refusal.reason for refusal in row.refusals)
