"""Pictures for whoever measures an old hose: where the length ends, how the angle is read."""

from math import cos, radians, sin

from assemblies.calc.lengths import Basis, Form, Turns, measure_point
from fleet.calc.scene import Line, Poly, Rect, Scene, Shape, Text

WIDE, HIGH, MIDDLE = 200.0, 150.0, 92.0
_FORMS: dict[Form, str] = {
    Form.STRAIGHT: "Straight end",
    Form.ELBOW_45: "45° elbow",
    Form.ELBOW_90: "90° elbow",
    Form.BANJO: "Banjo",
    Form.BLOCK: "Block",
}


def point_scene(form: Form) -> Scene:
    """Draw one form of end and the point that a length from seat to seat runs to.

    Parameters: form of the end. Returns a scene in points whose description says the same.
    Source: `measure_point`.

    >>> point_scene(Form.BANJO).description
    'The length runs to the centre line of the bolt hole.'
    """
    point = measure_point(form, Turns.SWIVEL_NUT, Basis.SEAT_TO_SEAT)
    head, at = _head(form)
    shapes: tuple[Shape, ...] = (
        Rect(-4, MIDDLE - 13, 64, 26, "cover"),
        *head,
        Rect(52, MIDDLE - 16, 34, 32, "steel", 2),
        Line(at, 30, at, 138, "now", 2, "8 4"),
        Line(0, 38, at - 8, 38, "now", 2),
        Poly(((at, 38), (at - 10, 33), (at - 10, 43)), "now", 1, closed=True),
        Text(4, 26, "length", "text-now", 14),
    )
    return Scene(WIDE, HIGH, _FORMS[form], f"The length runs to the {point}.", shapes)


def _head(form: Form) -> tuple[tuple[Shape, ...], float]:
    """The end beyond its shell, and where on it the length ends."""
    if form is Form.STRAIGHT:
        nut = Rect(100, MIDDLE - 18, 34, 36, "steel", 2)
        return (Rect(84, MIDDLE - 7, 20, 14, "steel-dark"), nut), 128.0
    if form is Form.BANJO:
        eye = _round(132, MIDDLE, 26, "steel")
        return (Rect(84, MIDDLE - 7, 30, 14, "steel-dark"), eye, _round(132, MIDDLE, 11, "foot")), (
            132.0
        )
    if form is Form.BLOCK:
        block = Rect(104, MIDDLE - 26, 56, 52, "steel", 2)
        return (
            Rect(84, MIDDLE - 7, 22, 14, "steel-dark"),
            block,
            _round(132, MIDDLE, 11, "foot"),
        ), (132.0)
    rise = 90 if form is Form.ELBOW_90 else 45
    reach = 44.0
    bend = (116.0, MIDDLE)
    tip = (bend[0] + reach * cos(radians(rise)), bend[1] - reach * sin(radians(rise)))
    tube = Poly(((84, MIDDLE), bend, tip), "elbow", 14)
    return (tube, _turned(tip, rise)), tip[0]


def _turned(tip: tuple[float, float], rise: float) -> Shape:
    """A nut whose axis rises by an angle, its seat at the tip."""
    along = (cos(radians(rise)), -sin(radians(rise)))
    across = (-along[1], along[0])
    corners = tuple(
        (tip[0] + a * along[0] + c * across[0], tip[1] + a * along[1] + c * across[1])
        for a, c in ((-22, -16), (4, -16), (4, 16), (-22, 16))
    )
    return Poly(corners, "steel", 1, closed=True)


def _round(x: float, y: float, radius: float, role: str) -> Shape:
    points = tuple(
        (x + radius * cos(radians(step)), y + radius * sin(radians(step)))
        for step in range(0, 360, 15)
    )
    return Poly(points, role, 1, closed=True)


def angle_scene() -> Scene:
    """Draw how the angle between two ends is read: seen along the hose from end A, B up.

    >>> angle_scene().title
    'The angle between the ends'
    """
    x, y, reach = 130.0, 116.0, 74.0
    arc = tuple(
        (x + 44 * sin(radians(step)), y - 44 * cos(radians(step))) for step in range(0, 116, 5)
    )
    end_a = (x + reach * sin(radians(120)), y - reach * cos(radians(120)))
    shapes: tuple[Shape, ...] = (
        Line(x, y, x, y - reach, "limit", 6, "10 5"),
        Line(x, y, *end_a, "limit", 9),
        _round(x, y, 20, "cover"),
        Poly(arc, "turn", 3),
        Poly(((arc[-1][0] - 9, arc[-1][1] - 4), (arc[-1][0] + 6, arc[-1][1] - 5),
              (arc[-1][0] - 3, arc[-1][1] + 9)), "now", 1, closed=True),
        Text(x, y - reach - 8, "B, the far end, up", "text", 14, "middle"),
        Text(end_a[0] + 2, end_a[1] + 20, "A, near you", "text", 14, "middle"),
        Text(x + 52, y - 34, "120°", "text-now", 16),
    )  # fmt: skip
    words = (
        "Look along the hose from end A, with end B pointing up: the angle runs clockwise from B "
        "to A. Here it is 120 degrees."
    )
    return Scene(270, 190, "The angle between the ends", words, shapes)
