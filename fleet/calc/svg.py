"""Scenes as SVG text: presentation attributes and classes only, nothing a strict policy bars."""

from html import escape

from .scene import Line, Link, Poly, Rect, Scene, Shape, Strokes, Text


def svg_of(scene: Scene, *, prefix: str, extra_class: str = "") -> str:
    """Write a scene as one `svg` element.

    Parameters: scene; prefix, unique on the page, for the ids of title and description; a
    further class. Texts are escaped. A picture with links is a group of them, else an image.
    Returns text safe to put into a page.

    >>> svg_of(Scene(10, 5, "T", "D", (Rect(0, 0, 1, 1, "now"),)), prefix="p").count("<rect")
    1
    """
    role = "group" if any(isinstance(shape, Link) for shape in scene.shapes) else "img"
    head = (
        f'<svg class="{escape(f"picture {extra_class}".strip())}" role="{role}" '
        f'viewBox="0 0 {_n(scene.width)} {_n(scene.height)}" '
        f'aria-labelledby="{escape(prefix)}-t {escape(prefix)}-d">'
    )
    words = (
        f'<title id="{escape(prefix)}-t">{escape(scene.title)}</title>'
        f'<desc id="{escape(prefix)}-d">{escape(scene.description)}</desc>'
    )
    return head + words + "".join(_shape(shape) for shape in scene.shapes) + "</svg>"


def _shape(shape: Shape) -> str:
    match shape:
        case Link():
            inside = "".join(_shape(one) for one in shape.shapes)
            words = escape(shape.words)
            return f'<a href="{escape(shape.address)}" aria-label="{words}">{inside}</a>'
        case Rect():
            return (
                f'<rect class="pic-{escape(shape.role)}" x="{_n(shape.x)}" y="{_n(shape.y)}" '
                f'width="{_n(shape.width)}" height="{_n(shape.height)}" rx="{_n(shape.corner)}"/>'
            )
        case Line():
            dash = f' stroke-dasharray="{escape(shape.dash)}"' if shape.dash else ""
            return (
                f'<line class="pic-{escape(shape.role)}" x1="{_n(shape.x1)}" y1="{_n(shape.y1)}" '
                f'x2="{_n(shape.x2)}" y2="{_n(shape.y2)}" stroke-width="{_n(shape.width)}"{dash}/>'
            )
        case Strokes():
            drawn = [f"M{x1:.2f} {y1:.2f}L{x2:.2f} {y2:.2f}" for x1, y1, x2, y2 in shape.strokes]
            return (
                f'<path class="pic-{escape(shape.role)}" d="{"".join(drawn)}" '
                f'stroke-width="{_n(shape.width)}"/>'
            )
        case Poly():
            points = " ".join(f"{_n(x)},{_n(y)}" for x, y in shape.points)
            kind = "polygon" if shape.closed else "polyline"
            return (
                f'<{kind} class="pic-{escape(shape.role)}" points="{points}" '
                f'stroke-width="{_n(shape.width)}"/>'
            )
        case Text():
            return (
                f'<text class="pic-{escape(shape.role)}" x="{_n(shape.x)}" y="{_n(shape.y)}" '
                f'font-size="{_n(shape.size)}" text-anchor="{shape.anchor}">'
                f"{escape(shape.text)}</text>"
            )


def _n(value: float) -> str:
    return f"{value:.2f}".rstrip("0").rstrip(".")
