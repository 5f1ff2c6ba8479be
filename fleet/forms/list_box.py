"""Lists of choices that many pages are narrowed by, drawn once for the same choices.

Django makes a mapping for each choice each time; a page that is narrowed by eight lists spends more
on them than on its rows. `{% field %}` keeps what it drew of a `ListBox` by all that it hangs on.
"""

from collections.abc import Iterable
from typing import Any

from django import forms
from django.forms import BoundField


class ListBox(forms.Select):
    """A select whose drawing hangs on nothing but its choices and what `drawn_by` names."""

    choices: Any = ()  # as they are given: Django's own looks through them each time


class OneOf(forms.Field):
    """One of some choices, or none: what a list is narrowed by. Gives the choice's value."""

    widget = ListBox

    def __init__(self, label: str, *choices: tuple[Any, str]) -> None:
        super().__init__(label=label, required=False)
        self.offer(choices)

    def offer(self, choices: Iterable[tuple[Any, str]]) -> None:
        """Take other choices: value and words of each, an empty value for any."""
        offered = tuple(choices)
        self._values = {str(value): value for value, _ in offered if value != ""}
        self.widget.choices = offered

    def to_python(self, value: Any) -> Any:
        if value in self.empty_values:
            return None
        if str(value) not in self._values:
            raise forms.ValidationError("That can't be chosen here.")
        return self._values[str(value)]


def drawn_by(bound: BoundField) -> tuple[Any, ...] | None:
    """All that the drawing of a list without errors hangs on; None for any other field."""
    field, box = bound.field, bound.field.widget
    if not isinstance(box, ListBox) or bound.errors:
        return None
    shown: Iterable[Any] = box.choices
    said = (bound.html_name, bound.auto_id, bound.label, bound.help_text, str(bound.value()))
    how = (field.required, field.disabled, bound.form.use_required_attribute)
    return (*said, *how, tuple(box.attrs.items()), tuple(shown))
