"""Putting an action's refusal where the person looks: at its field, else at the top."""

from collections.abc import Callable
from typing import TypeVar

from django import forms

from fleet.actions.refusals import Refused

Done = TypeVar("Done")


def refuse(form: forms.BaseForm, refusal: Refused) -> None:
    """Show a refusal on a form."""
    at_field = refusal.field in form.fields
    form.add_error(refusal.field if at_field else None, refusal.sentence)


def tried(form: forms.BaseForm, deed: Callable[[], Done]) -> Done | None:
    """What an action came to; None where it was refused, and the form then says why."""
    try:
        return deed()
    except Refused as refusal:
        refuse(form, refusal)
        return None
