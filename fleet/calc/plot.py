"""The frame of a chart: scales with round steps, grid lines, their figures, the axes' titles."""

from dataclasses import dataclass
from math import floor, log10

from fleet.calc.scene import Line, Scene, Shape, Text, text_width

ROUND = (1.0, 2.0, 2.5, 5.0, 10.0)


@dataclass(frozen=True)
class Axis:
    """One axis: from, to, and the title with its unit. Figures have `places` decimals."""

    low: float
    high: float
    title: str
    places: int = 0


@dataclass(frozen=True)
class Frame:
    """The room inside the axes of a picture of `width` by `height` points, type of `size`."""

    across: Axis
    up: Axis
    width: float = 640
    height: float = 320
    size: float = 14
    left: float = 64
    right: float = 30
    top: float = 36
    foot: float = 52

    def x(self, value: float) -> float:
        """Where a value of the axis across stands, in points."""
        room = self.width - self.left - self.right
        return self.left + room * (value - self.across.low) / (self.across.high - self.across.low)

    def y(self, value: float) -> float:
        """Where a value of the axis up stands, in points from the top."""
        room = self.height - self.top - self.foot
        return self.top + room * (self.up.high - value) / (self.up.high - self.up.low)

    def grid(self, *, across: bool = True) -> list[Shape]:
        """Grid lines with figures up, and with `across` figures along the foot; both titles."""
        shapes: list[Shape] = []
        for value in ticks(self.up.low, self.up.high, self._fit_up()):
            y = self.y(value)
            shapes.append(Line(self.left, y, self.width - self.right, y, "grid"))
            figure = _figure(value, self.up.places)
            shapes.append(
                Text(self.left - 7, y + 0.36 * self.size, figure, "text-soft", self.size, "end")
            )
        if across:
            shapes += self._foot_figures()
        base = self.height - self.foot
        shapes.append(Line(self.left, base, self.width - self.right, base, "axis", 1.5))
        middle = (self.left + self.width - self.right) / 2
        foot = self.height - 8
        shapes.append(Text(middle, foot, self.across.title, "text-soft", self.size, "middle"))
        shapes.append(Text(4, self.top - 16, self.up.title, "text-soft", self.size))
        return shapes

    def _foot_figures(self) -> list[Shape]:
        base = self.height - self.foot
        shapes: list[Shape] = []
        for value in ticks(self.across.low, self.across.high, self._fit_across()):
            x = self.x(value)
            shapes.append(Line(x, base, x, base + 5, "axis"))
            figure = _figure(value, self.across.places)
            shapes.append(Text(x, base + 5 + self.size, figure, "text-soft", self.size, "middle"))
        return shapes

    def _fit_across(self) -> int:
        wide = text_width(_figure(self.across.high, self.across.places), self.size) + self.size
        return max(2, int((self.width - self.left - self.right) / wide))

    def _fit_up(self) -> int:
        return max(2, int((self.height - self.top - self.foot) / (2.4 * self.size)))

    def scene(self, title: str, description: str, shapes: list[Shape]) -> Scene:
        """The picture with its words."""
        return Scene(self.width, self.height, title, description, tuple(shapes))


def ticks(low: float, high: float, most: int) -> list[float]:
    """Round values from low to high, at most so many steps.

    Steps are 1, 2, 2.5 or 5 times a power of ten. Raises ValueError unless low < high.

    >>> ticks(0, 9700, 5)
    [0.0, 2000.0, 4000.0, 6000.0, 8000.0]
    """
    if not low < high:
        raise ValueError("A scale runs from a value to a greater one.")
    step = round_step((high - low) / max(1, most))
    first = -floor(-low / step + 1e-9)
    last = floor(high / step + 1e-9)
    return [round(n * step, 10) for n in range(first, last + 1)]


def round_step(least: float) -> float:
    """The least round step that is not below a value above 0.

    >>> round_step(1940.0)
    2000.0
    """
    power = 10.0 ** floor(log10(least))
    return next(part * power for part in ROUND if part * power >= least * (1 - 1e-9))


def above(value: float) -> float:
    """A round upper end of a scale that holds a value of 0 or more with a little room.

    >>> above(970.0)
    1200.0
    """
    if value <= 0:
        return 1.0
    step = round_step(value / 5)
    top = step * (floor(value / step + 1e-9) + 1)
    return top if top - value >= 0.2 * step else top + step


def _figure(value: float, places: int) -> str:
    return f"{value:,.{places}f}".replace(",", " ")
