"""The workshop's tools: crimpers and instruments, their calibrations, their end."""

import datetime as dt
from collections.abc import Mapping
from typing import Any, Final, TypeVar

from django.db import IntegrityError, transaction

from assemblies.actions.reels import require_to_withdraw
from assemblies.actions.revisions import refuse_wrong_fields
from assemblies.models import Crimper, Instrument
from fleet import audit
from fleet.actions.refusals import Refused
from fleet.calc.keys import text_key
from fleet.models import Person, Site
from fleet.permissions import require

Tool = TypeVar("Tool", Crimper, Instrument)
CHANGEABLE: Final = ("code", "description", "calibrated_on", "calibration_due_on")


@transaction.atomic
def add_tool(
    *,
    kind: type[Tool],
    site: Site,
    facts: Mapping[str, Any],
    person: Person,
    at: dt.datetime,
    today: dt.date,
) -> Tool:
    """Add a crimper or an instrument to a site's workshop. Atomic.

    Refuses: code_missing, code_taken, calibrated_to_come, due_before_calibrated, field_wrong.
    Needs `keep_stock` at the site.
    """
    require(person, "keep_stock", site)
    tool = kind(site=site, **facts)
    _save_right(tool, today)
    _tell("added", tool, {}, facts, person=person, at=at)
    return tool


@transaction.atomic
def change_tool(
    *, tool: Tool, facts: Mapping[str, Any], person: Person, at: dt.datetime, today: dt.date
) -> Tool:
    """Change what is said of a tool, its calibration too. Atomic; safe to repeat.

    Refuses: tool_withdrawn, and what `add_tool` refuses. Needs `keep_stock` at the site.
    """
    require(person, "keep_stock", tool.site_id)
    locked = _locked(tool)
    before, after = audit.changes(locked, {k: v for k, v in facts.items() if k in CHANGEABLE})
    for name, value in after.items():
        setattr(locked, name, value)
    _save_right(locked, today)
    _tell("changed", locked, before, after, person=person, at=at)
    return locked


@transaction.atomic
def calibrate_tool(
    *,
    tool: Tool,
    calibrated_on: dt.date,
    due_on: dt.date,
    note: str = "",
    person: Person,
    at: dt.datetime,
    today: dt.date,
) -> Tool:
    """Write down a calibration; the one before stands in the trail. Atomic; safe to repeat.

    Refuses: tool_withdrawn, calibrated_to_come, due_before_calibrated. Needs `keep_stock`.
    """
    require(person, "keep_stock", tool.site_id)
    locked = _locked(tool)
    facts = {"calibrated_on": calibrated_on, "calibration_due_on": due_on}
    before, after = audit.changes(locked, facts)
    locked.calibrated_on, locked.calibration_due_on = calibrated_on, due_on
    _save_right(locked, today)
    _tell("calibrated", locked, before, after, person=person, at=at, reason=note.strip()[:300])
    return locked


@transaction.atomic
def withdraw_tool(*, tool: Tool, reason: str, person: Person, at: dt.datetime) -> Tool:
    """Withdraw a tool for a reason: nothing new is made or measured with it. Atomic.

    Refuses: reason_missing, tool_withdrawn. Needs `keep_stock` or `withdraw` at the site.
    """
    require_to_withdraw(person, tool.site_id)
    if not reason.strip():
        raise Refused("reason_missing", "Say why it is withdrawn.", field="reason")
    locked = _locked(tool)
    locked.withdrawn_at, locked.withdrawn_by = at, person
    locked.withdrawal_reason = reason.strip()[:500]
    locked.save(update_fields=["withdrawn_at", "withdrawn_by", "withdrawal_reason"])
    _tell("withdrew", locked, {}, {"state": "withdrawn"}, person=person, at=at, reason=reason)
    return locked


def _locked(tool: Tool) -> Tool:
    locked: Tool = type(tool)._default_manager.select_for_update().get(pk=tool.pk)
    if locked.withdrawn_at is not None:
        raise Refused("tool_withdrawn", f"{locked} is withdrawn: {locked.withdrawal_reason}")
    return locked


def _save_right(tool: Crimper | Instrument, today: dt.date) -> None:
    tool.code = tool.code.strip()
    if not text_key(tool.code):
        raise Refused("code_missing", "A tool needs the code that stands on it.", field="code")
    _refuse_days(tool, today)
    refuse_wrong_fields(tool)
    try:
        with transaction.atomic():
            tool.save()
    except IntegrityError as error:
        noun = tool._meta.verbose_name
        raise Refused(
            "code_taken", f"{tool.site} has the {noun} {tool.code} already.", field="code"
        ) from error


def _refuse_days(tool: Crimper | Instrument, today: dt.date) -> None:
    on, due = tool.calibrated_on, tool.calibration_due_on
    if on is not None and on > today:
        raise Refused(
            "calibrated_to_come",
            f"{on.isoformat()} is still to come: write the day it was calibrated.",
            field="calibrated_on",
        )
    if on is not None and due is not None and due <= on:
        raise Refused(
            "due_before_calibrated",
            f"Due {due.isoformat()} is not after {on.isoformat()}, when it was calibrated.",
            field="calibration_due_on",
        )


def _tell(
    what: str,
    tool: Crimper | Instrument,
    before: Mapping[str, Any],
    after: Mapping[str, Any],
    *,
    person: Person,
    at: dt.datetime,
    reason: str = "",
) -> None:
    deed = audit.Deed(f"{what} {tool._meta.verbose_name}", tool, tool.site, before, after, reason)
    audit.record(deed, actor=person, at=at)
