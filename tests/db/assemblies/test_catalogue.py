"""Catalogue items: drafted, changed, approved, replaced, withdrawn."""

from decimal import Decimal
from typing import Any

import pytest
from django.db import IntegrityError

from assemblies.actions.catalogue import (
    FITTING,
    HOSE,
    KINDS,
    add_item,
    approve_item,
    change_item_draft,
    draft_item_revision,
    withdraw_item_revision,
)
from assemblies.actions.revisions import Kind
from fleet.actions.refusals import Refused
from fleet.models import TrailEntry
from fleet.permissions import NotAllowed
from tests import factories as make

pytestmark = pytest.mark.django_db
NOW = make.NOW
FACTS: dict[str, dict[str, Any]] = {
    "hose": {
        "maker": "Harrow Hose",
        "product": "H2",
        "standard_type": "2SN",
        "size_dn": 12,
        "layers": 2,
        "working_pressure_bar": Decimal(275),
    },
    "fitting": {
        "maker": "Harrow Ends",
        "product": "E12",
        "connection": "24° cone L",
        "connection_size": "15",
        "tail_dn": 12,
        "working_pressure_bar": Decimal(250),
    },
    "shell": {"maker": "Harrow Ends", "product": "S12", "tail_dn": 12, "layers_made_for": 2},
}
every_kind = pytest.mark.parametrize("name", KINDS)


def added(name: str, **facts: Any) -> Any:
    draft = add_item(
        kind=KINDS[name],
        code=f"X-{name}",
        facts={**FACTS[name], **facts},
        person=make.person("planner"),
        at=NOW,
    )
    return again(draft)


def again(revision: Any) -> Any:
    return type(revision).objects.get(pk=revision.pk)


def approved(kind: Kind, draft: Any) -> Any:
    seen = kind.fingerprint(again(draft))
    person = make.person("manager")
    return approve_item(kind=kind, revision=draft, seen=seen, person=person, at=NOW)


def check_refusal(code: str, call: Any, /, **arguments: Any) -> Refused:
    with pytest.raises(Refused) as caught:
        call(**arguments)
    assert caught.value.code == code
    assert caught.value.sentence.endswith(".")
    return caught.value


@every_kind
def test_a_new_item_begins_as_a_draft_with_its_trail(name: str) -> None:
    draft = added(name)
    assert (draft.number, draft.state) == (1, "draft")
    entry = TrailEntry.objects.get(deed=f"added {KINDS[name].noun}")
    assert entry.after["code"] == f"X-{name}"


@every_kind
def test_approving_replaces_the_revision_approved_before(name: str) -> None:
    first = approved(KINDS[name], added(name))
    facts = {**FACTS[name], "maker": "Harrow Works"}
    person = make.person("planner")
    draft = draft_item_revision(
        kind=KINDS[name], header=first.header, facts=facts, person=person, at=NOW
    )
    approved(KINDS[name], draft)
    states = type(draft).objects.order_by("number").values_list("number", "state")
    assert list(states) == [(1, "replaced"), (2, "approved")]


@every_kind
def test_an_approved_revision_is_changed_by_nobody(name: str) -> None:
    revision = approved(KINDS[name], added(name))
    arguments = {"kind": KINDS[name], "revision": revision, "facts": {"maker": "Other"}}
    seen = KINDS[name].fingerprint(again(revision))
    person = make.person("planner")
    check_refusal("not_a_draft", change_item_draft, **arguments, seen=seen, person=person, at=NOW)
    with pytest.raises(IntegrityError, match="sealed"):
        type(revision).objects.filter(pk=revision.pk).update(maker="Other")


@every_kind
def test_a_draft_is_changed_with_what_differed_in_the_trail(name: str) -> None:
    draft = added(name)
    seen = KINDS[name].fingerprint(draft)
    changed = change_item_draft(
        kind=KINDS[name],
        revision=draft,
        facts={**FACTS[name], "product": "New"},
        seen=seen,
        person=make.person("planner"),
        at=NOW,
    )
    assert again(changed).product == "New"
    entry = TrailEntry.objects.get(deed=f"changed {KINDS[name].noun}")
    assert (entry.before, entry.after) == (
        {"product": FACTS[name]["product"]},
        {"product": "New"},
    )


@every_kind
def test_nobody_approves_what_they_did_not_see(name: str) -> None:
    draft = added(name)
    seen = KINDS[name].fingerprint(draft)
    person = make.person("planner")
    change: dict[str, Any] = {
        "facts": {"product": "New"},
        "seen": seen,
        "person": person,
        "at": NOW,
    }
    change_item_draft(kind=KINDS[name], revision=draft, **change)
    arguments = {"kind": KINDS[name], "revision": draft, "seen": seen, "person": person}
    check_refusal("changed_meanwhile", approve_item, **arguments, at=NOW)


@every_kind
def test_a_second_draft_is_refused_while_one_is_open(name: str) -> None:
    draft = added(name)
    arguments = {"kind": KINDS[name], "header": draft.header, "facts": FACTS[name]}
    check_refusal("draft_exists", draft_item_revision, **arguments, person=None, at=NOW)


@every_kind
def test_a_code_that_looks_alike_is_taken(name: str) -> None:
    added(name)
    arguments = {"kind": KINDS[name], "facts": FACTS[name], "person": None, "at": NOW}
    check_refusal("code_taken", add_item, code=f" Ｘ-{name.upper()}", **arguments)
    check_refusal("code_missing", add_item, code=" \u200b", **arguments)


@every_kind
def test_withdrawing_needs_a_reason_and_is_once(name: str) -> None:
    revision = approved(KINDS[name], added(name))
    arguments = {"kind": KINDS[name], "revision": revision, "person": make.person("safety officer")}
    check_refusal("reason_missing", withdraw_item_revision, reason=" ", **arguments, at=NOW)
    withdrawn = withdraw_item_revision(reason="bad lot", **arguments, at=NOW)
    assert (withdrawn.state, withdrawn.withdrawal_reason) == ("withdrawn", "bad lot")
    check_refusal("withdrawn_already", withdraw_item_revision, reason="again", **arguments, at=NOW)


@every_kind
@pytest.mark.parametrize(
    ("role", "edits", "approves"),
    [
        ("planner", True, True),
        ("manager", False, True),
        ("fitter", False, False),
        ("storeman", False, False),
    ],
)
def test_each_role_edits_and_approves_as_it_may(
    name: str, role: str, edits: bool, approves: bool
) -> None:
    kind, person = KINDS[name], make.person(role, at=make.site())
    draft = added(name)
    seen = kind.fingerprint(draft)
    edit = {"kind": kind, "revision": draft, "facts": {}, "seen": seen, "person": person, "at": NOW}
    if edits:
        change_item_draft(**edit)
    else:
        with pytest.raises(NotAllowed):
            change_item_draft(**edit)
    if approves:
        approve_item(kind=kind, revision=draft, seen=seen, person=person, at=NOW)
    else:
        with pytest.raises(NotAllowed):
            approve_item(kind=kind, revision=draft, seen=seen, person=person, at=NOW)


def test_a_rating_of_the_standard_names_the_standard_by_itself() -> None:
    assert added("hose").rating_source.startswith("EN 853, ISO 1436")
    assert added("fitting").rating_source == "ISO 8434-1, 2007"


@pytest.mark.parametrize("source", ["", "EN 853", "ISO 1436", "EN 853:2015", "en 853, iso 1436"])
def test_a_hose_above_the_standards_row_needs_another_source(source: str) -> None:
    said = check_refusal(
        "above_standard",
        add_item,
        kind=HOSE,
        code="H",
        facts={**FACTS["hose"], "working_pressure_bar": Decimal(280), "rating_source": source},
        person=None,
        at=NOW,
    )
    assert said.field == "rating_source"
    assert "275 bar: 280 bar is above it" in said.sentence


def test_a_fitting_above_the_standards_row_stands_with_its_makers_document() -> None:
    source = "Harrow Ends catalogue 7, page 12"
    fitting = added("fitting", working_pressure_bar=Decimal(315), rating_source=source)
    assert (fitting.working_pressure_bar, fitting.rating_source) == (Decimal(315), source)


def test_a_fitting_may_wait_for_its_rating() -> None:
    assert added("fitting", working_pressure_bar=None).working_pressure_bar is None


@pytest.mark.parametrize(
    ("facts", "code", "field"),
    [
        ({"standard_type": "5XQ"}, "type_unknown", "standard_type"),
        ({"layers": 3}, "layers_differ", "layers"),
        ({"standard_type": "", "layers": 3}, "source_missing", "rating_source"),
        ({"size_dn": 63}, "source_missing", "rating_source"),
        ({"working_pressure_bar": Decimal(250)}, "source_missing", "rating_source"),
        ({"working_pressure_bar": None}, "field_wrong", "working_pressure_bar"),
        ({"reinforcement": "rope"}, "field_wrong", "reinforcement"),
        ({"maker": "x" * 81}, "field_wrong", "maker"),
        ({"size_dn": -12}, "field_wrong", "size_dn"),
        ({"working_pressure_bar": Decimal(0), "rating_source": "a"}, "does_not_fit", ""),
    ],
)
def test_refuses_a_hose_that_no_one_could_have(
    facts: dict[str, Any], code: str, field: str
) -> None:
    whole = {**FACTS["hose"], **facts}
    arguments = {"kind": HOSE, "code": "H", "facts": whole, "person": None, "at": NOW}
    assert check_refusal(code, add_item, **arguments).field == field


def test_a_hose_type_is_kept_by_the_tables_own_name() -> None:
    assert added("hose", standard_type="SAE 100R2AT").standard_type == "2SN"


def test_a_fitting_of_no_known_standard_needs_its_source() -> None:
    whole = {**FACTS["fitting"], "connection": "ORFS", "connection_size": "-12"}
    arguments = {"kind": FITTING, "code": "F", "facts": whole, "person": None, "at": NOW}
    check_refusal("source_missing", add_item, **arguments)
