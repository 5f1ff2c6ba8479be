"""The environment of quick parts: what stands in each row of a long list, and form fields.

A page is a Django template. The parts of it that are drawn fifty times are in `jinja2/`, in a
language that is nearly the same and several times as fast; a page asks for one with
`{% quick "scheduling/due_rows.html" lines=page.rows today=today %}`. An unknown name is an error
there, never an empty text.

Where a row says something that a function works out, it is a filter, which costs less than a call:
`{{ line.standing|state_mark }}`. Addresses of rows: `{% set hoses = "scheduling:hose"|addresses %}`
once, then `{{ line.hose_id|at(hoses) }}`.
"""

from typing import Any

from jinja2 import Environment, StrictUndefined

from fleet.navigation import around_number
from fleet.templatetags import layline


def environment(**options: Any) -> Environment:
    """Jinja as the pages use it: every text escaped, the same filters by the same names."""
    made = Environment(
        **{**options, "autoescape": True, "undefined": StrictUndefined, "trim_blocks": True}
    )
    made.filters.update(
        addresses=around_number,
        age=layline.age,
        at=_at,
        day=layline.day,
        number=layline.number,
        span_from=layline.span_from,
        state_mark=layline.state_mark,
        written=layline.written,
    )
    made.globals.update(icon=layline.icon)
    return made


def _at(row_id: int, around: tuple[str, str]) -> str:
    return f"{around[0]}{row_id}{around[1]}"
