"""Lists of choices are drawn as Django draws them, to the last sign that means anything."""

from typing import Any

import pytest
from django import forms
from django.forms.renderers import DjangoTemplates

from fleet.forms.drawing import QuickChoices

GROUPED = [("", "any"), ("Wet", [("1", "rain & hail"), ("2", '"snow"')]), ("x<y", "<b>bold</b>")]


class Choosing(forms.Form):
    plain = forms.ChoiceField(choices=[("", "any"), (1, "one"), ("a&b", "two")], required=False)
    grouped = forms.ChoiceField(choices=GROUPED, help_text="said below")
    off = forms.ChoiceField(choices=[("1", "1")], disabled=True)
    many = forms.MultipleChoiceField(choices=[("1", "one"), ("2", "two")])
    marked = forms.ChoiceField(
        choices=[("1", "1")],
        widget=forms.Select(attrs={"data-x": '"&', "hidden": True, "no": False}),
    )


@pytest.mark.parametrize("name", list(Choosing.base_fields))
@pytest.mark.parametrize("data", [None, {"plain": "1", "grouped": "2", "many": ["2"]}])
def test_draws_what_django_draws(name: str, data: Any) -> None:
    quick = Choosing(data, renderer=QuickChoices())[name]
    usual = Choosing(data, renderer=DjangoTemplates())[name]
    assert _signs(str(quick)) == _signs(str(usual))
    assert "<b>" not in str(quick)


def _signs(html: str) -> str:
    """Without the white space between tags."""
    return "".join(line.strip() for line in html.splitlines())
