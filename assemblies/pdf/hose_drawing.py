"""The drawing of an assembly: to its own proportions where the paper allows, and how it is turned.

The side view shows end A at the left and the far end's elbow up where the ends are oriented.
Looking from the left along the hose, a clockwise turn goes from up towards the reader.
"""

from dataclasses import dataclass
from math import cos, hypot, radians, sin

from assemblies.calc.sheet import EndHead, EndLine, EndShape, LengthBasis, SheetContent
from assemblies.calc.sheet_words import millimetres, short_figure, tolerance
from assemblies.pdf.dimension import draw_dimension, draw_extension
from fleet.pdf.pen import Box, Pen, Point

GUTTER_MM = 30.0  # for the names of sleeves
LABEL_MM = 8.0  # for the letters of the ends
LANE_MM = 3.3
THINNEST_MM = 2.6
THICKEST_MM = 7.0
_SHELL_GREY = 0.82
_PART_GREY = 0.95


@dataclass(frozen=True)
class View:
    """Where the parts of the assembly stand on the paper, in mm."""

    axis: float
    thick: float
    scale: float
    broken: bool
    seat_a: float
    cut_a: float
    cut_b: float
    seat_b: float
    sleeves: int

    @property
    def half(self) -> float:
        """Half the height of the shells, or of the outermost sleeve."""
        return max(0.62 * self.thick, self.thick / 2 + 0.45 * self.sleeves)

    @property
    def cut_y(self) -> float:
        """Where the dimension line of the cut stands."""
        return self.axis + self.half + 4.6

    @property
    def overall_y(self) -> float:
        """Where the dimension line of the whole stands, below the cut's and an elbow's leg."""
        return max(self.cut_y + 5.0, self.axis + 12.2)

    def along(self, from_end_mm: float, length_mm: float) -> float:
        """The place on the paper of a length along the hose from the cut at end A."""
        share = min(1.0, max(0.0, from_end_mm / length_mm))
        return self.cut_a + share * (self.cut_b - self.cut_a)


def draw_assembly(pen: Pen, box: Box, content: SheetContent) -> None:
    """Draw the side view with its dimensions and sleeves."""
    room = _room(content, box)
    view = lay_out(content, room)
    near, far = content.ends
    _draw_hose(pen, view)
    _draw_sleeves(pen, box, view, content)
    _draw_end(pen, view, near, (view.cut_a, view.seat_a), _lean(content, near))
    _draw_end(pen, view, far, (view.cut_b, view.seat_b), _lean(content, far))
    _letter(pen, (room.x - LABEL_MM / 2, view.axis), near.label)
    _letter(pen, (room.right + LABEL_MM / 2, view.axis), far.label)
    _draw_lengths(pen, view, content)
    _say_scale(pen, box, view, len(content.sleeves))


def height_mm(content: SheetContent, width: float) -> float:
    """The height that the side view needs in a box of this width."""
    return lay_out(content, _room(content, Box(0, 0, width, 0))).overall_y + 1.5


def _room(content: SheetContent, box: Box) -> Box:
    """What is left for the hose beside the names of its sleeves and the letters of its ends."""
    gutter = GUTTER_MM if content.sleeves else 0.0
    return Box(box.x + gutter + LABEL_MM, box.y, box.w - gutter - 2 * LABEL_MM, box.h)


def lay_out(content: SheetContent, room: Box) -> View:
    """Work out one scale for the whole assembly; shorten the hose where it would be a thread."""
    outside = hose_outside_mm(content)
    near, far = (allowance_mm(end, outside) for end in content.ends)
    cut = hose_length_mm(content)
    overhang = 0.8 * outside
    scale = min(room.w / (near + cut + far + 2 * overhang), THICKEST_MM / outside)
    broken = scale * outside < THINNEST_MM
    if broken:
        ends = near + far + 2 * overhang + 2 * sum(_depth_mm(end, outside) for end in content.ends)
        scale = min(1.5 * THINNEST_MM / outside, 0.7 * room.w / ends)
        drawn = room.w - scale * (near + far + 2 * overhang)
    else:
        drawn = scale * cut
    whole = drawn + scale * (near + far)
    lanes = LANE_MM * len(content.sleeves)
    seat_a = room.x + (room.w - whole) / 2
    cut_a = seat_a + scale * near
    return View(
        axis=room.y + max(14.2, lanes + THICKEST_MM / 2),
        thick=scale * outside,
        scale=scale,
        broken=broken,
        seat_a=seat_a,
        cut_a=cut_a,
        cut_b=cut_a + drawn,
        seat_b=seat_a + whole,
        sleeves=len(content.sleeves),
    )


def hose_outside_mm(content: SheetContent) -> float:
    """The hose's outside diameter; from the bore where it is not known, for the picture only."""
    hose = content.hose
    if hose.outside_diameter_mm:
        return float(hose.outside_diameter_mm)
    return 1.6 * float(hose.bore_mm) if hose.bore_mm else 25.0


def allowance_mm(end: EndLine, outside: float) -> float:
    """The end's allowance; twice the hose where it is not known, for the picture only."""
    return float(end.allowance_mm) if end.allowance_mm else 2.0 * outside


def hose_length_mm(content: SheetContent) -> float:
    """The length of hose between the cuts, never less than one diameter in the picture."""
    outside = hose_outside_mm(content)
    known = content.length.cut_length_mm
    if known is None:
        taken = sum(allowance_mm(end, outside) for end in content.ends)
        return max(outside, float(content.length.length_mm) - taken)
    return max(outside, float(known))


def _depth_mm(end: EndLine, outside: float) -> float:
    if end.crimp is None or end.crimp.insertion_depth_mm is None:
        return 1.4 * outside
    return float(end.crimp.insertion_depth_mm)


def _lean(content: SheetContent, end: EndLine) -> tuple[float, float]:
    """How an end stands in the side view: (up, towards the reader), together one long."""
    turned = content.orientation
    if turned.angle_deg is None or end.label != turned.seen_from:
        return 1.0, 0.0
    angle = radians(float(turned.angle_deg))
    # Seen from the right-hand end the clockwise turn goes away from the reader.
    side = 1.0 if end.label == content.ends[0].label else -1.0
    return cos(angle), side * sin(angle)


def _draw_hose(pen: Pen, view: View) -> None:
    half = view.thick / 2
    pen.rectangle(
        Box(view.cut_a, view.axis - half, view.cut_b - view.cut_a, view.thick), 0.6, _PART_GREY
    )
    pen.line((view.cut_a, view.axis), (view.cut_b, view.axis), 0.3, "[4 1.2] 0")
    if not view.broken:
        return
    middle = (view.cut_a + view.cut_b) / 2
    edges = [_break_line(view, middle + shift) for shift in (-0.9, 0.9)]
    pen.path([*edges[0], *reversed(edges[1])], close=True, width_pt=0, grey=1)
    for edge in edges:
        pen.path(edge, width_pt=0.5)


def _break_line(view: View, x: float) -> list[Point]:
    reach = view.thick / 2 + 0.8
    return [
        (x - 0.5, view.axis - reach),
        (x + 0.5, view.axis - reach / 3),
        (x - 0.5, view.axis + reach / 3),
        (x + 0.5, view.axis + reach),
    ]


def _draw_sleeves(pen: Pen, box: Box, view: View, content: SheetContent) -> None:
    length = hose_length_mm(content)
    for lane, sleeve in enumerate(content.sleeves):
        to_mm = length if sleeve.to_mm is None else float(sleeve.to_mm)
        ends = (float(sleeve.from_mm), to_mm)
        if sleeve.measured_from == content.ends[1].label:
            ends = (length - ends[1], length - ends[0])
        left, right = (view.along(end, length) for end in ends)
        half = view.thick / 2 + 0.45 * (lane + 1)
        outline = Box(left, view.axis - half, right - left, 2 * half)
        pen.rectangle(outline, 0.4, dash="[1.2 0.8] 0")
        y = box.y + (lane + 0.55) * LANE_MM
        pen.line((left, y), (right, y), 1.2)
        for x in (left, right):
            pen.line((x, y - 0.9), (x, y + 0.9), 0.5)
        end_words = "end" if sleeve.to_mm is None else short_figure(sleeve.to_mm)
        words = f"S{lane + 1}  {short_figure(sleeve.from_mm)} to {end_words} mm"
        pen.text(Box(box.x, y - 1.3, GUTTER_MM - 1, 2.8), words, 6, floor_pt=4.5)


def _draw_end(
    pen: Pen, view: View, end: EndLine, places: tuple[float, float], lean: tuple[float, float]
) -> None:
    cut, seat = places
    outward = -1.0 if seat < cut else 1.0
    thick, axis = view.thick, view.axis
    depth = _depth_mm(end, thick / view.scale) * view.scale
    collar = cut + outward * min(0.3 * thick, 0.3 * abs(seat - cut))
    _draw_shell(pen, axis, cut - outward * depth, collar, thick)
    unit = thick
    if end.shape in (EndShape.BANJO, EndShape.BLOCK):
        pen.tube([(collar, axis), (seat, axis)], 0.55 * unit)
        _draw_eye(pen, (seat, axis), unit, end.shape)
    elif end.shape is EndShape.BENT:
        _draw_bend(pen, view, end, (collar, seat), lean)
    else:
        pen.tube([(collar, axis), (seat, axis)], 0.6 * unit)
        _draw_head(pen, (seat, axis), (outward, 0.0), unit, end.head)


def _draw_shell(pen: Pen, axis: float, inner: float, collar: float, thick: float) -> None:
    left, right = min(inner, collar), max(inner, collar)
    half = 0.62 * thick
    pen.rectangle(Box(left, axis - half, right - left, 2 * half), 0.7, _SHELL_GREY)
    for share in (0.3, 0.5, 0.7):
        x = left + share * (right - left)
        pen.line((x, axis - half), (x, axis + half), 0.3)


def _draw_eye(pen: Pen, seat: Point, unit: float, shape: EndShape) -> None:
    if shape is EndShape.BANJO:
        pen.circle(seat, 0.75 * unit, 0.7, _PART_GREY)
    else:
        pen.rectangle(
            Box(seat[0] - 0.7 * unit, seat[1] - 0.7 * unit, 1.4 * unit, 1.4 * unit), 0.7, _PART_GREY
        )
    pen.circle(seat, 0.36 * unit, 0.5, 1.0)


def _draw_bend(
    pen: Pen, view: View, end: EndLine, places: tuple[float, float], lean: tuple[float, float]
) -> None:
    (collar, seat), axis = places, view.axis
    outward = 1.0 if seat > collar else -1.0
    unit = view.thick
    bend = radians(min(max(end.bend_deg or 90, 15), 135))
    drop = float(end.drop_mm) * view.scale if end.drop_mm else 1.9 * unit
    up = min(max(drop, 1.4 * unit), 10.0)
    run = outward * up * cos(bend) / sin(bend)
    corner = (seat - run, axis)
    if outward * (corner[0] - collar) < 0.2 * unit:
        corner = (collar + outward * 0.2 * unit, axis)
    if abs(lean[0]) < 0.25:
        pen.tube([(collar, axis), (seat, axis)], 0.6 * unit)
        _draw_eye_on(pen, (seat, axis), unit, towards=lean[1] > 0)
        return
    tip = (seat, axis - up * lean[0])
    pen.tube([(collar, axis), corner, tip], 0.6 * unit)
    long = hypot(tip[0] - corner[0], tip[1] - corner[1]) or 1.0
    direction = ((tip[0] - corner[0]) / long, (tip[1] - corner[1]) / long)
    _draw_head(pen, tip, direction, unit, end.head)


def _draw_eye_on(pen: Pen, at: Point, unit: float, *, towards: bool) -> None:
    """An end seen from the front: a dot where it points to the reader, a cross where away."""
    pen.circle(at, 0.7 * unit, 0.7, _PART_GREY)
    if towards:
        pen.circle(at, 0.18 * unit, 0.4, 0.0)
        return
    reach = 0.49 * unit
    for sign in (1, -1):
        pen.line((at[0] - reach, at[1] - sign * reach), (at[0] + reach, at[1] + sign * reach), 0.5)


def _draw_head(pen: Pen, tip: Point, direction: Point, unit: float, head: EndHead) -> None:
    """What meets the port, at the end of a straight or bent tube."""
    back, front, half = {
        EndHead.NUT: (-0.75, 0.2, 0.68),
        EndHead.MALE: (-0.95, -0.5, 0.62),
        EndHead.FLANGE: (-0.35, 0.05, 0.9),
        EndHead.PLAIN: (-0.3, 0.0, 0.36),
    }[head]
    pen.path(
        _turned_box(tip, direction, (back * unit, front * unit), half * unit),
        close=True,
        width_pt=0.7,
        grey=_PART_GREY,
    )
    if head is EndHead.MALE:
        thread = (-0.5 * unit, 0.3 * unit)
        pen.path(
            _turned_box(tip, direction, thread, 0.42 * unit), close=True, width_pt=0.5, grey=1.0
        )
        for share in (0.2, 0.4, 0.6, 0.8):
            at = thread[0] + share * (thread[1] - thread[0])
            pen.path(_turned_box(tip, direction, (at, at), 0.42 * unit)[1:3], width_pt=0.3)
    if head is EndHead.NUT:
        for side in (0.3, -0.3):
            line = [
                _turned(tip, direction, back * unit, side * unit),
                _turned(tip, direction, front * unit, side * unit),
            ]
            pen.path(line, width_pt=0.3)


def _turned_box(
    tip: Point, direction: Point, reach: tuple[float, float], half: float
) -> list[Point]:
    corners = [(reach[0], -half), (reach[0], half), (reach[1], half), (reach[1], -half)]
    return [_turned(tip, direction, along, across) for along, across in corners]


def _turned(tip: Point, direction: Point, along: float, across: float) -> Point:
    return (
        tip[0] + direction[0] * along - direction[1] * across,
        tip[1] + direction[1] * along + direction[0] * across,
    )


def _letter(pen: Pen, at: Point, label: str) -> None:
    pen.circle(at, 2.6, 0.8, 1.0)
    pen.text(Box(at[0] - 2.4, at[1] - 2.1, 4.8, 4.2), label, 9, bold=True, align="centre")


def _draw_lengths(pen: Pen, view: View, content: SheetContent) -> None:
    length = content.length
    cut_y, overall_y = view.cut_y, view.overall_y
    beside = view.seat_b + 0.9 * view.thick + 2.0
    for x in (view.cut_a, view.cut_b):
        draw_extension(pen, x, view.axis + view.half + 0.4, cut_y + 0.8)
    cut_words = (
        f"cut {millimetres(length.cut_length_mm)}" if length.cut_length_mm else "cut: not known"
    )
    draw_dimension(pen, (view.cut_a, view.cut_b), cut_y, cut_words, beside=beside)
    if length.basis is not LengthBasis.CUT:
        past = 0.8 * view.thick if length.basis is LengthBasis.OVERALL else 0.0
        left, right = view.seat_a - past, view.seat_b + past
        for x in (left, right):
            draw_extension(pen, x, view.axis, overall_y + 0.8)
        within = tolerance(length.plus_mm, length.minus_mm)
        words = f"{short_figure(length.length_mm)} {within} mm {length.basis.value}"
        draw_dimension(pen, (left, right), overall_y, words, beside=right + 2.0)


def _say_scale(pen: Pen, box: Box, view: View, sleeves: int) -> None:
    """The scale in words, top left: above the ends, or below the names of the sleeves."""
    kind = "Hose shortened; ends about" if view.broken else "To its own proportions, about"
    ratio = 1 / view.scale
    words = f"{kind} 1 : {ratio:.1f}" if ratio < 10 else f"{kind} 1 : {ratio:.0f}"
    at = Box(box.x, box.y, 60.0, 2.4)
    if sleeves:
        at = Box(box.x, box.y + sleeves * LANE_MM + 0.4, GUTTER_MM - 1, 5.0)
    pen.text(at, words, 5.5)
