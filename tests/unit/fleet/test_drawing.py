"""Boxes and lists are drawn as Django draws them, to the last sign that means anything."""

from typing import Any

import pytest
from django import forms
from django.forms.renderers import DjangoTemplates

from fleet.forms.drawing import QuickBoxes

GROUPED = [("", "any"), ("Wet", [("1", "rain & hail"), ("2", '"snow"')]), ("x<y", "<b>bold</b>")]

DATA = {
    **{"plain": "1", "grouped": "2", "many": ["2"]},
    **{"text": 'a <b> & "c"', "day": "not a day", "count": "7", "mail": "x", "address": "'"},
}


class Choosing(forms.Form):
    plain = forms.ChoiceField(choices=[("", "any"), (1, "one"), ("a&b", "two")], required=False)
    grouped = forms.ChoiceField(choices=GROUPED, help_text="said below")
    off = forms.ChoiceField(choices=[("1", "1")], disabled=True)
    many = forms.MultipleChoiceField(choices=[("1", "one"), ("2", "two")])
    marked = forms.ChoiceField(
        choices=[("1", "1")],
        widget=forms.Select(attrs={"data-x": '"&', "hidden": True, "no": False}),
    )

    text = forms.CharField(help_text="said below", max_length=9, required=True)
    day = forms.DateField(initial="2026-03-09", widget=forms.DateInput(attrs={"size": 12}))
    count = forms.IntegerField(min_value=0, disabled=True)
    unseen = forms.CharField(widget=forms.HiddenInput, initial='"><b>')
    mail = forms.EmailField(required=False)
    address = forms.URLField(required=False, assume_scheme="https")


@pytest.mark.parametrize("name", list(Choosing.base_fields))
@pytest.mark.parametrize("data", [None, DATA])
def test_draws_what_django_draws(name: str, data: Any) -> None:
    quick = Choosing(data, renderer=QuickBoxes())[name]
    usual = Choosing(data, renderer=DjangoTemplates())[name]
    assert _signs(str(quick)) == _signs(str(usual))
    assert "<b>" not in str(quick)


def _signs(html: str) -> str:
    """Without the white space between tags."""
    return "".join(line.strip() for line in html.splitlines())
