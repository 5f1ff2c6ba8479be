"""Scenes on paper: the same shapes as on the page, in black, white and greys."""

from dataclasses import dataclass

from fleet.calc.scene import Line, Link, Poly, Rect, Scene, Shape, Strokes, Text
from fleet.pdf.fonts import width_pt
from fleet.pdf.pen import PT, Align, Box, Pen


@dataclass(frozen=True)
class Look:
    """How a role is drawn on paper: its fill (0 black to 1 white, None for none), its dash."""

    grey: float | None = None
    dash: str = ""
    edge: float = 0.5
    bold: bool = False


LOOKS = {
    "bar": Look(0.25),
    "bar-soft": Look(0.85),
    "area": Look(0.9, edge=0),
    "point": Look(0.0),
    "point-open": Look(1.0, edge=0.8),
    "now": Look(0.0),
    "grid": Look(dash="[0.4 2.2] 0", edge=0.4),
    "axis": Look(edge=0.6),
    "curve": Look(edge=1.2),
    "curve-fit": Look(dash="[4 2] 0", edge=1.0),
    "curve-soft": Look(dash="[1 2] 0", edge=0.8),
    "limit": Look(dash="[5 2 1 2] 0", edge=0.7),
    "text-strong": Look(bold=True),
    "text-limit": Look(bold=True),
    "text-now": Look(bold=True),
}
PLAIN = Look()


def draw_scene(pen: Pen, box: Box, scene: Scene) -> None:
    """Draw a scene into a box (mm), as large as fits, its proportions kept."""
    scale = min(box.w / scene.width, box.h / scene.height)
    for shape in scene.shapes:
        _draw(pen, box, scale, shape)


def _draw(pen: Pen, box: Box, scale: float, shape: Shape) -> None:
    def at(x: float, y: float) -> tuple[float, float]:
        return box.x + x * scale, box.y + y * scale

    match shape:
        case Link():
            for one in shape.shapes:
                _draw(pen, box, scale, one)
        case Rect():
            look = LOOKS.get(shape.role, PLAIN)
            x, y = at(shape.x, shape.y)
            frame = Box(x, y, shape.width * scale, shape.height * scale)
            pen.rectangle(frame, look.edge, look.grey)
        case Line():
            look = LOOKS.get(shape.role, PLAIN)
            dash = look.dash or (f"[{shape.dash}] 0" if shape.dash else "")
            pen.line(at(shape.x1, shape.y1), at(shape.x2, shape.y2), look.edge, dash)
        case Strokes():
            look = LOOKS.get(shape.role, PLAIN)
            for x1, y1, x2, y2 in shape.strokes:
                pen.line(at(x1, y1), at(x2, y2), look.edge, look.dash)
        case Poly():
            look = LOOKS.get(shape.role, PLAIN)
            points = [at(x, y) for x, y in shape.points]
            grey = look.grey if shape.closed else None
            pen.path(points, width_pt=look.edge, dash=look.dash, close=shape.closed, grey=grey)
        case Text():
            _write(pen, at(shape.x, shape.y), scale, shape)


def _write(pen: Pen, at: tuple[float, float], scale: float, text: Text) -> None:
    look = LOOKS.get(text.role, PLAIN)
    size = text.size * scale * PT
    wide = width_pt(text.text, size, bold=look.bold) / PT + 0.4
    left = {"start": at[0], "middle": at[0] - wide / 2, "end": at[0] - wide}[text.anchor]
    box = Box(left, at[1] - size / PT, wide, 1.4 * size / PT)
    pen.text(box, text.text, size, floor_pt=size, bold=look.bold, align=_ALIGN[text.anchor])


_ALIGN: dict[str, Align] = {"start": "left", "middle": "centre", "end": "right"}
