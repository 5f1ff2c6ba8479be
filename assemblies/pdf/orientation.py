"""The picture of how the two ends are turned, seen along the hose from the named end."""

from math import cos, radians, sin

from assemblies.calc.sheet import SheetContent
from assemblies.calc.sheet_phrases import short_angle
from fleet.pdf.pen import Box, Pen, Point

_HOSE_GREY = 0.82


def draw_orientation(pen: Pen, box: Box, content: SheetContent) -> None:
    """Draw the ends as seen along the hose from the named end, the far end up."""
    turned = content.orientation
    pen.rectangle(box, 0.4)
    inner = box.inset(1.2, 0.8)
    title, rest = inner.cut_top(3.4)
    if turned.angle_deg is None:
        pen.text(title, "Angle between the ends", 6.5, bold=True, align="centre")
        pen.text(rest, turned.reason, 7, align="centre", middle=True)
        return
    words = f"Seen along the hose from end {turned.seen_from}"
    pen.text(title, words, 6.2, bold=True, align="centre")
    picture, foot = rest.cut_top(rest.h - 4.8)
    _draw_clock(pen, picture, content)
    pen.text(foot, short_angle(turned), 10.5, bold=True, align="centre")


def _draw_clock(pen: Pen, box: Box, content: SheetContent) -> None:
    turned = content.orientation
    angle = float(turned.angle_deg or 0)
    far = next(end.label for end in content.ends if end.label != turned.seen_from)
    middle = (box.x + box.w / 2, box.y + box.h / 2)
    reach = min(box.w / 2 - 6, box.h / 2 - 3.9)
    radius = 0.42 * reach

    def at(degrees: float, distance: float) -> Point:
        return (
            middle[0] + distance * sin(radians(degrees)),
            middle[1] - distance * cos(radians(degrees)),
        )

    pen.line(middle, at(0, reach), 2.0, "[3 1.5] 0")
    pen.line(middle, at(angle, reach), 2.6)
    pen.circle(middle, 0.22 * reach, 0.7, _HOSE_GREY)
    steps = max(2, int(angle / 6))
    arc = [at(angle * n / steps, radius + 1.6) for n in range(steps + 1)]
    if angle > 8:
        pen.path(arc, width_pt=0.5)
        _arc_head(pen, at(angle, radius + 1.6), angle)
    # Where the two ends stand close together their letters are set apart to the sides.
    near_at, far_at = at(angle, reach + 2.0), at(0, reach + 2.0)
    if min(angle, 360 - angle) < 30:
        shift = 3.4 if angle <= 180 else -3.4
        near_at = (middle[0] + shift, far_at[1] + 0.0)
        far_at = (middle[0] - shift, far_at[1])
    for place, label in ((near_at, turned.seen_from), (far_at, far)):
        pen.text(Box(place[0] - 2, place[1] - 1.7, 4, 3.4), label, 8, bold=True, align="centre")


def _arc_head(pen: Pen, tip: Point, angle: float) -> None:
    along = (-cos(radians(angle)), -sin(radians(angle)))
    across = (along[1], -along[0])
    back = (tip[0] + 1.7 * along[0], tip[1] + 1.7 * along[1])
    pen.path(
        [
            tip,
            (back[0] + 0.6 * across[0], back[1] + 0.6 * across[1]),
            (back[0] - 0.6 * across[0], back[1] - 0.6 * across[1]),
        ],
        close=True,
        width_pt=0,
        grey=0,
    )
