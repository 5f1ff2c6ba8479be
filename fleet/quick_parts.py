"""The environment of quick parts: what stands in each row of a long list, and form fields.

A page is a Django template. The parts of it that are drawn fifty times are in `jinja2/`, in a
language that is nearly the same and several times as fast; a page asks for one with
`{% quick "scheduling/due_rows.html" lines=page.rows today=today %}`. An unknown name is an error
there, never an empty text.
"""

from typing import Any

from jinja2 import Environment, StrictUndefined

from fleet.navigation import address_of_row
from fleet.templatetags import layline


def environment(**options: Any) -> Environment:
    """Jinja as the pages use it: every text escaped, the same filters by the same names."""
    made = Environment(
        **{**options, "autoescape": True, "undefined": StrictUndefined, "trim_blocks": True}
    )
    made.filters.update(
        age=layline.age,
        capfirst=_capfirst,
        day=layline.day,
        number=layline.number,
        span_from=layline.span_from,
        written=layline.written,
    )
    made.globals.update(icon=layline.icon, row_url=address_of_row, state_mark=layline.state_mark)
    return made


def _capfirst(text: str) -> str:
    return text[:1].upper() + text[1:]
