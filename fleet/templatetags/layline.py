"""What templates write numbers, days, marks and form fields with."""

import datetime as dt
import re
from decimal import Decimal
from functools import lru_cache
from typing import Any
from zoneinfo import ZoneInfo

from django import template
from django.conf import settings
from django.forms import BoundField
from django.template.loader import get_template
from django.utils.html import format_html
from django.utils.safestring import SafeString

from fleet.forms.list_box import drawn_by
from fleet.navigation import MOST_ON_DESK, address_of
from fleet.navigation import masthead as masthead_facts
from fleet.views.alarms import alarms_on

register = template.Library()
AT_HAND = 4
MOST_LISTS = 1024

NARROW_SPACE = "\u202f"
MINUS = "\u2212"
_ISO_DAY = re.compile(r"\b\d{4}-\d{2}-\d{2}\b")
_THOUSANDS = re.compile(r"\b\d{1,3}(?:,\d{3})+\b")

# Each state: the family that colours it, the shape that tells it, the words that say it.
STATES: dict[str, tuple[str, str, str]] = {
    "out": ("out", "out", "take out now"),
    "over": ("over", "over", "overdue"),
    "down": ("over", "over", "down"),
    "soon": ("soon", "soon", "falls due"),
    "fine": ("fine", "fine", "in date"),
    "in_service": ("fine", "fine", "in service"),
    "undated": ("unsure", "unsure", "no date known"),
    "doubt": ("unsure", "doubt", "doubtful"),
    "held": ("soon", "held", "held for a decision"),
    "standing": ("plain", "held", "standing"),
    "sold": ("plain", "gone", "sold"),
    "scrapped": ("plain", "gone", "scrapped"),
    "store": ("plain", "store", "in store"),
    "bench": ("plain", "bench", "on the bench"),
    "empty": ("plain", "empty", "nothing fitted"),
    "exempt": ("plain", "note", "under an exemption"),
    "unmatched": ("soon", "caution", "unmatched parts"),
    "draft": ("plain", "empty", "draft"),
    "approved": ("fine", "fine", "approved"),
    "replaced": ("plain", "gone", "replaced"),
    "withdrawn": ("plain", "gone", "withdrawn"),
    "new": ("fine", "new", "new"),
    "changed": ("soon", "change", "changed"),
    "same": ("plain", "note", "same"),
    "refused": ("over", "over", "refused"),
}


def grouped(value: Decimal | float, places: int | None = None) -> str:
    """A number as people read it: 12 450.5, thousands apart by a narrow space."""
    number = value if isinstance(value, Decimal) else Decimal(str(value))
    shown = f"{number:,.{places}f}" if places is not None else _trimmed(number)
    return shown.replace(",", NARROW_SPACE).replace("-", MINUS)


def _trimmed(number: Decimal) -> str:
    text = f"{number:,f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def day_text(day: dt.date) -> str:
    return f"{day.day} {day:%b %Y}"


@register.filter
def number(value: Any, places: int | None = None) -> str:
    """`{{ 12450.5|number }}`; a missing number is a dash."""
    return "–" if value is None or value == "" else grouped(value, places)


@register.filter
def money(minor: int | None) -> str:
    """`{{ failure.cost_minor|money }}`: whole minor units as EUR 1 234.50; missing is a dash."""
    if minor is None:
        return "–"
    return f"{settings.CURRENCY} {grouped(Decimal(minor) / 100, 2)}"


@register.simple_tag
def figure_value(one: Any, currency: str) -> SafeString:
    """`{% figure_value figure currency %}`: a report's figure with its unit."""
    if one.value is None:
        known = f"at least {grouped(one.low, one.places)}" if one.low else "not known"
        return format_html('{} <span class="unit">{}</span>', known, one.unit if one.low else "")
    if one.unit == "money":
        return format_html('<span class="unit">{}</span> {}', currency, grouped(one.value, 2))
    places = 1 if one.unit == "%" else one.places
    return format_html('{} <span class="unit">{}</span>', grouped(one.value, places), one.unit)


@register.filter
@lru_cache(maxsize=4096)
def day(value: dt.date | None) -> str | SafeString:
    """`{{ due.due_on|day }}`: 9 Mar 2026, readable by machines too; a missing day is a dash."""
    if value is None:
        return "–"
    return format_html(
        '<time class="whole" datetime="{}">{}</time>', value.isoformat(), day_text(value)
    )


@register.filter
def written(text: str) -> str:
    """A sentence in the hand of the pages: its days as 9 Mar 2026, its thousands apart."""
    told = _ISO_DAY.sub(_day_kept_whole, text)
    return _THOUSANDS.sub(lambda found: found[0].replace(",", NARROW_SPACE), told)


def _day_kept_whole(found: re.Match[str]) -> str:
    try:
        return day_text(dt.date.fromisoformat(found[0])).replace(" ", "\u00a0")
    except ValueError:
        return found[0]


@register.filter
def moment(value: dt.datetime | None, zone: str = "UTC") -> str | SafeString:
    """`{{ spell.from_at|moment:site.time_zone }}`: day and minute as the clock there shows."""
    if value is None:
        return "–"
    local = value.astimezone(ZoneInfo(zone))
    shown = f"{day_text(local.date())}, {local:%H:%M}"
    return format_html('<time datetime="{}">{}</time>', local.isoformat(), shown)


@register.filter
@lru_cache(maxsize=4096)
def span_from(value: dt.date | None, today: dt.date) -> str:
    """How far a day is from today in words: `in 12 days`, `3 weeks over`, `today`."""
    if value is None:
        return ""
    days = (value - today).days
    if days == 0:
        return "today"
    amount = _amount(abs(days))
    return f"in {amount}" if days > 0 else f"{amount} over"


@register.filter
@lru_cache(maxsize=4096)
def age(value: dt.date | None, today: dt.date) -> str:
    """The age of something begun on a day: `3 y 4 mo`, `5 mo`, `12 d`."""
    if value is None or value > today:
        return "–"
    months = (today.year - value.year) * 12 + today.month - value.month
    months -= today.day < value.day
    if months < 1:
        return f"{(today - value).days} d"
    years, rest = divmod(months, 12)
    return " ".join(
        part for part in (f"{years} y" * (years > 0), f"{rest} mo" * (rest > 0)) if part
    )


def _amount(days: int) -> str:
    for size, limit, word in ((1, 21, "day"), (7, 70, "week"), (30, 730, "month")):
        if days < limit:
            count = days // size
            return f"{count} {word}{'s' * (count != 1)}"
    return f"{days // 365} years"


@lru_cache(maxsize=2048)
def _drawn(part: str, **facts: Any) -> SafeString:
    """A small part that stands in every row of a list and is the same for the same facts."""
    return SafeString(get_template(f"fleet/parts/{part}.html").render(facts))


@register.simple_tag
def state_mark(state: str, words: str = "", large: bool = False) -> SafeString:
    """`{% state_mark "over" %}`; `words` says more than the usual word."""
    family, shape, usual = STATES[state]
    return _drawn("state_mark", family=family, shape=shape, words=words or usual, large=large)


@register.simple_tag
def icon(shape: str) -> SafeString:
    """`{% icon "tag" %}`: a sign of the sprite, unseen by a screen reader."""
    return _drawn("icon", shape=shape)


@register.simple_tag
def figure(label: str, value: Any, unit: str = "", note: str = "") -> SafeString:
    """`{% figure "Working pressure" 275 "bar" %}` inside a `dl class="figures"`."""
    shown = grouped(value) if isinstance(value, int | float | Decimal) else value
    return quick("fleet/figure.html", label=label, value=shown, unit=unit, note=note)


@register.simple_tag
def field(
    bound: BoundField, unit: str = "", either: bool = False, wide: bool = False
) -> SafeString:
    """`{% field form.reading_h unit="h" %}`: label, hint, box, unit and what is wrong.

    `either` is for one of several of which one is needed: nothing is said of leaving it. `wide`
    lays tiles with long words one below the other.
    """
    hangs_on = drawn_by(bound)
    if hangs_on is None:
        return _field(bound, unit, either, wide)
    key = (*hangs_on, unit, either, wide)
    drawn = _lists.get(key)
    if drawn is None:
        drawn = _field(bound, unit, either, wide)
        if len(_lists) >= MOST_LISTS:
            _lists.clear()
        _lists[key] = drawn
    return drawn


_lists: dict[tuple[Any, ...], SafeString] = {}  # the same list is drawn once


def _field(bound: BoundField, unit: str, either: bool, wide: bool) -> SafeString:
    may_be_left = not (bound.field.required or either)
    facts = {"field": bound, "unit": unit, "may_be_left": may_be_left, "wide": wide}
    return quick("fleet/field.html", **facts)


@register.simple_tag
def quick(name: str, **facts: Any) -> SafeString:
    """`{% quick "scheduling/due_rows.html" lines=page.rows %}`: see `fleet/quick_parts.py`."""
    return SafeString(get_template(name, using="jinja2").render(facts))


@register.inclusion_tag("fleet/parts/pager.html")
def pager(page: Any, noun: str = "rows") -> dict[str, Any]:
    """`{% pager page noun="machines" %}`: `page.next_query` and `page.first_query` or empty."""
    return {"page": page, "noun": noun}


@register.inclusion_tag("fleet/parts/masthead.html", takes_context=True)
def masthead(context: dict[str, Any]) -> dict[str, Any]:
    """The head of every page: its name, the pages this person has use for, the tag box."""
    person, pages = masthead_facts(context.get("request"))
    return {
        "person": person,
        "pages": _drawn("pages", pages=pages, all_fit=len(pages) <= MOST_ON_DESK),
        "tag_search_url": address_of("find") if person else "",
        "csrf_token": context.get("csrf_token"),
    }


@register.inclusion_tag("fleet/parts/deeds.html")
def deeds_on(deeds: list[dict[str, Any]]) -> dict[str, Any]:
    """`{% deeds_on deeds %}`: what is done every day and what is grave; the rest is folded."""
    front = [deed for n, deed in enumerate(deeds) if n < AT_HAND or deed["grave"]]
    return {"front": front, "more": [deed for deed in deeds if deed not in front]}


@register.simple_tag(takes_context=True)
def foot(context: dict[str, Any]) -> SafeString:
    """The foot of every page: all pages once more, and the caution that always stands."""
    person, pages = masthead_facts(context.get("request"))
    links = tuple((one.words, one.url) for one in pages)
    return _drawn("foot", pages=links) if person else SafeString("")


@register.inclusion_tag("fleet/parts/alarms.html", takes_context=True)
def alarms(context: dict[str, Any]) -> dict[str, Any]:
    """What must stand on every page about a machine or a hose, until it is dealt with."""
    return alarms_on(context.get("request"))


@register.simple_tag
def page_of(kind: str, thing_id: int | None = None) -> str:
    """`{% page_of "machine" machine.pk as up_url %}`: the address of the page of a thing."""
    return address_of(kind, thing_id)
