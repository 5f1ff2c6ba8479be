"""Drawing form boxes: Django's own way, but plain boxes and lists of choices in one go.

Django draws each box, each of its attributes and each choice with a template of its own; a page
that is narrowed by six lists of choices spends a fifth of its time on them.
"""

from collections.abc import Mapping
from typing import Any

from django.forms.renderers import DjangoTemplates
from django.forms.widgets import (
    DateInput,
    EmailInput,
    HiddenInput,
    NumberInput,
    Select,
    TextInput,
    URLInput,
)
from django.http import HttpRequest
from django.utils.html import conditional_escape, format_html
from django.utils.safestring import SafeString, mark_safe

_PLAIN = {
    box.template_name
    for box in (DateInput, EmailInput, HiddenInput, NumberInput, TextInput, URLInput)
}


class QuickBoxes(DjangoTemplates):
    """The renderer of all forms."""

    def render(
        self, template_name: str, context: dict[str, Any], request: HttpRequest | None = None
    ) -> SafeString:
        if template_name == Select.template_name:
            return _select(context["widget"])
        if template_name in _PLAIN:
            return _input(context["widget"])
        return SafeString(super().render(template_name, context, request))


def _input(widget: Mapping[str, Any]) -> SafeString:
    value, attrs = widget["value"], _attributes(widget["attrs"])
    told = "" if value is None else f' value="{_text(value)}"'
    return mark_safe(
        f'<input type="{_text(widget["type"])}" name="{_text(widget["name"])}"{told}{attrs}>'
    )  # every part is escaped where it is written


def _select(widget: Mapping[str, Any]) -> SafeString:
    groups = "".join(_group(name, choices) for name, choices, _ in widget["optgroups"])
    attrs = _attributes(widget["attrs"])
    return format_html(
        '<select name="{}"{}>{}\n</select>', widget["name"], attrs, mark_safe(groups)
    )  # every part was escaped where it was written


def _group(name: str | None, choices: list[Mapping[str, Any]]) -> str:
    options = "".join(
        f'\n  <option value="{_text(one["value"])}"{_attributes(one["attrs"])}>'
        f"{conditional_escape(one['label'])}</option>\n"
        for one in choices
    )
    if not name:
        return options
    return f'\n  <optgroup label="{conditional_escape(name)}">{options}\n  </optgroup>'


def _attributes(attrs: Mapping[str, Any]) -> SafeString:
    told = (
        f" {conditional_escape(name)}" if value is True else f' {name}="{_text(value)}"'
        for name, value in attrs.items()
        if value is not False
    )
    return mark_safe("".join(told))  # escaped just above


def _text(value: Any) -> str:
    return str(conditional_escape(str(value)))
