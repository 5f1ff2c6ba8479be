"""Putting an action's refusal where the person looks: at its field, else at the top."""

from django import forms

from fleet.actions.refusals import Refused


def refuse(form: forms.BaseForm, refusal: Refused) -> None:
    """Show a refusal on a form."""
    at_field = refusal.field in form.fields
    form.add_error(refusal.field if at_field else None, refusal.sentence)
