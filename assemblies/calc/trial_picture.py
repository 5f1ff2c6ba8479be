"""A crimp trial as a picture: setting and measured OD against the press, what the pin said."""

from collections.abc import Sequence
from dataclasses import dataclass

from assemblies.calc.trial import Evaluation, Pin, Press
from fleet.calc.scene import Line, Poly, Rect, Scene, Shape, Text

LEFT, RIGHT, TOP, FOOT = 62.0, 16.0, 20.0, 46.0
MARK = 9.0
ENOUGH_LABELS = 5


@dataclass(frozen=True)
class _Grid:
    """Where a press and a size in mm stand on the picture."""

    presses: int
    low_mm: float
    high_mm: float
    width: float
    height: float

    def x(self, number: int) -> float:
        room = (self.width - LEFT - RIGHT) / max(self.presses, 1)
        return LEFT + room * (number - 0.5)

    def y(self, size_mm: float) -> float:
        part = (self.high_mm - size_mm) / (self.high_mm - self.low_mm)
        return TOP + part * (self.height - TOP - FOOT)


def trial_scene(
    presses: Sequence[Press],
    evaluation: Evaluation,
    *,
    width: float = 360,
    height: float = 250,
    size: float = 14,
) -> Scene:
    """Draw a trial as it stands.

    Parameters: the presses in order, undone ones left out; how the trial stands; the picture's
    width, height and type size in points. A square is a pin that enters, a triangle one that is
    tight, a filled diamond one that refuses; a bar is the mean measured OD; the band is the
    bracket. Returns a scene whose description says all that it shows.

    >>> from assemblies.calc.trial import evaluate_trial
    >>> scene = trial_scene([], evaluate_trial([]))
    >>> scene.description
    'No press yet.'
    """
    if not presses:
        empty = Text(width / 2, height / 2, "No press yet", "text-soft", size, "middle")
        return Scene(width, height, "The trial so far", "No press yet.", (empty,))
    grid = _Grid(len(presses), *_range(presses), width, height)
    shapes: list[Shape] = [
        *_scale(grid, size),
        *_band(grid, evaluation),
        *_steps(grid, presses),
        *(one for n, press in enumerate(presses, 1) for one in _press(grid, n, press, size)),
    ]
    said = "; ".join(_said(number, press) for number, press in enumerate(presses, 1))
    return Scene(width, height, "The trial so far", f"{said}.", tuple(shapes))


def _range(presses: Sequence[Press]) -> tuple[float, float]:
    sizes = [float(press.setting_mm) for press in presses]
    sizes += [float(press.od_mm) for press in presses if press.od_mm is not None]
    low, high = min(sizes), max(sizes)
    margin = max((high - low) * 0.18, 0.15)
    return low - margin, high + margin


def _scale(grid: _Grid, size: float) -> list[Shape]:
    """Lines across at steps that leave room for their figures."""
    span = grid.high_mm - grid.low_mm
    step = next(s for s in (0.1, 0.25, 0.5, 1, 2, 5, 10, 50, 500) if span / s <= ENOUGH_LABELS)
    shapes: list[Shape] = []
    first = int(grid.low_mm / step) + 1
    for count in range(first, first + ENOUGH_LABELS + 1):
        at = count * step
        if at > grid.high_mm:
            break
        y = grid.y(at)
        shapes.append(Line(LEFT - 6, y, grid.width - RIGHT, y, "grid", 1))
        shapes.append(Text(LEFT - 10, y + size * 0.35, f"{at:.2f}", "text-soft", size, "end"))
    return shapes


def _band(grid: _Grid, evaluation: Evaluation) -> list[Shape]:
    if evaluation.bracket_mm is None:
        return []
    low, high = (float(mm) for mm in evaluation.bracket_mm)
    top, bottom = grid.y(high), grid.y(low)
    return [Rect(LEFT - 6, top, grid.width - RIGHT - LEFT + 6, bottom - top, "band")]


def _steps(grid: _Grid, presses: Sequence[Press]) -> list[Shape]:
    points = tuple(
        (grid.x(n), grid.y(float(press.setting_mm))) for n, press in enumerate(presses, 1)
    )
    return [Poly(points, "axis", 2)] if len(points) > 1 else []


def _press(grid: _Grid, number: int, press: Press, size: float) -> list[Shape]:
    x, y = grid.x(number), grid.y(float(press.setting_mm))
    shapes: list[Shape] = []
    if press.od_mm is not None:
        od = grid.y(float(press.od_mm))
        shapes.append(Line(x - MARK * 1.4, od, x + MARK * 1.4, od, "now", 4))
    shapes.append(_mark(x, y, press.pin))
    foot = grid.height - FOOT + size * 1.6
    shapes.append(Text(x, foot, str(number), "text-soft", size, "middle"))
    shapes.append(Text(x, foot + size * 1.2, _LETTER[press.pin], "text", size, "middle"))
    return shapes


_LETTER = {Pin.ENTERS: "E", Pin.TIGHT: "T", Pin.REFUSES: "R"}


def _mark(x: float, y: float, pin: Pin) -> Shape:
    corners: dict[Pin, tuple[tuple[float, float], ...]] = {
        Pin.ENTERS: ((-1, -1), (1, -1), (1, 1), (-1, 1)),
        Pin.TIGHT: ((0, -1.2), (1.2, 1), (-1.2, 1)),
        Pin.REFUSES: ((0, -1.4), (1.4, 0), (0, 1.4), (-1.4, 0)),
    }
    scale = MARK * 0.8
    points = tuple((x + dx * scale, y + dy * scale) for dx, dy in corners[pin])
    return Poly(points, f"pin-{pin.value}", 2.5, closed=True)


def _said(number: int, press: Press) -> str:
    od = f", OD {press.od_mm:.2f} mm" if press.od_mm is not None else ""
    return f"press {number} at {press.setting_mm} mm: the pin {_WORD[press.pin]}{od}"


_WORD = {Pin.ENTERS: "enters", Pin.TIGHT: "is tight", Pin.REFUSES: "is refused"}
