"""Pictures on pages: drawn once wide and once narrow, the style sheet shows the one that fits."""

import datetime as dt

from django.utils.safestring import SafeString, mark_safe

from fleet.calc.svg import svg_of
from scheduling.calc.life_picture import life_scene
from scheduling.queries.hose_page import StayLine
from scheduling.queries.why import life_limits

WIDTHS = (("wide", 960.0, 16.0), ("narrow", 340.0, 14.0))


def life_picture(held: StayLine | None, today: dt.date, *, prefix: str) -> SafeString:
    """The life of the hose that is fitted against its limits; empty where nothing is known."""
    if held is None or held.aged_from_on is None:
        return SafeString("")
    limits = list(life_limits(held.hose_id))
    drawn = (
        svg_of(
            life_scene(
                began_on=held.aged_from_on,
                began_words=held.aged_from,
                today=today,
                limits=limits,
                width=width,
                size=size,
            ),
            prefix=f"{prefix}-{name}",
            extra_class=f"picture--{name}",
        )
        for name, width, size in WIDTHS
    )
    return mark_safe("".join(drawn))  # svg_of escapes every text it writes
