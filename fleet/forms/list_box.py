"""A list of choices that many pages are narrowed by, drawn at once.

Django makes a mapping and a template's context for each choice; a page that is narrowed by eight
lists spends more on them than on its rows. The options are the same text for the same choices.
"""

from collections.abc import Iterable, Mapping
from functools import lru_cache
from typing import Any

from django import forms
from django.forms import BoundField
from django.forms.renderers import BaseRenderer
from django.utils.html import conditional_escape, format_html, format_html_join
from django.utils.safestring import SafeString

Choices = tuple[tuple[Any, str], ...]


class ListBox(forms.Select):
    """A select of choices without groups."""

    choices: Any = ()  # as they are given: Django's own looks through them each time

    def render(
        self,
        name: str,
        value: Any,
        attrs: Mapping[str, Any] | None = None,
        renderer: BaseRenderer | None = None,
    ) -> SafeString:
        told = self.build_attrs(self.attrs, dict(attrs or {}))
        shown: Iterable[Any] = self.choices
        options = _options(tuple(shown), tuple(self.format_value(value)))
        return format_html('<select name="{}"{}>{}</select>', name, _written(told), options)


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


def _written(attrs: Mapping[str, Any]) -> SafeString:
    given = [(name, value) for name, value in attrs.items() if value is not False]
    bare = ((name,) for name, value in given if value is True)
    told = ((name, value) for name, value in given if value is not True)
    return format_html_join("", " {}", bare) + format_html_join("", ' {}="{}"', told)


@lru_cache(maxsize=512)
def _options(choices: Choices, chosen: tuple[str, ...]) -> SafeString:
    """The options as text; the first one that is chosen is marked."""
    values = ["" if value is None else str(value) for value, _ in choices]
    at = next((n for n, value in enumerate(values) if value in chosen), None)
    lines = (
        f'<option value="{conditional_escape(value)}"{" selected" if n == at else ""}>'
        f"{conditional_escape(label)}</option>\n"
        for n, (value, (_, label)) in enumerate(zip(values, choices, strict=True))
    )
    return SafeString("".join(lines))
