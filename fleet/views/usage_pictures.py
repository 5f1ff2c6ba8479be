"""Pictures of counters on pages: drawn once wide and once narrow, as the style sheet chooses."""

import datetime as dt
from dataclasses import dataclass

from django.utils.safestring import SafeString, mark_safe

from fleet.calc.svg import svg_of
from fleet.calc.usage_picture import CounterPicture, usage_scene
from fleet.models import Machine
from fleet.queries.usage_picture import counter_pictures

WIDTHS = (("wide", 720.0, 14.0), ("narrow", 340.0, 13.0))


@dataclass(frozen=True, slots=True)
class Drawn:
    """A counter's picture with the figures that it shows."""

    what: CounterPicture
    picture: SafeString


def usage_pictures(machine: Machine, today: dt.date) -> list[Drawn]:
    """The pictures of a machine's counters; none where nothing was read."""
    return [
        Drawn(what, _drawn(counts, what)) for counts, what in counter_pictures(machine, today=today)
    ]


def _drawn(counts: str, what: CounterPicture) -> SafeString:
    drawn = (
        svg_of(
            usage_scene(what, width=width, size=size),
            prefix=f"usage-{counts}-{name}",
            extra_class=f"picture--{name}",
        )
        for name, width, size in WIDTHS
    )
    return mark_safe("".join(drawn))  # svg_of escapes every text it writes
