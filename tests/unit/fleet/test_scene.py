"""Pictures as SVG: escaped, named, and without anything a strict policy bars."""

import re
from xml.etree import ElementTree as ET

from fleet.calc.scene import Line, Poly, Rect, Scene, Strokes, Text, box_of
from fleet.calc.svg import svg_of

SCENE = Scene(
    100,
    50,
    "A <title>",
    "1 & 2",
    (
        Rect(0, 0, 10, 5, "cover", 2),
        Line(0, 0, 10, 10, "wire", 1.5, "2 3"),
        Strokes(((0, 0, 5, 2.5), (1, 0, 6, 2.5)), "wire", 1.6),
        Poly(((0, 0), (1, 2), (3, 1)), "now", closed=True),
        Text(5, 5, 'R2AT<SC> "P&ID"', anchor="middle"),
    ),
)


def test_is_well_formed_and_keeps_every_text() -> None:
    root = ET.fromstring(svg_of(SCENE, prefix="p"))
    assert [node.text for node in root if node.tag in {"title", "desc", "text"}] == [
        "A <title>",
        "1 & 2",
        'R2AT<SC> "P&ID"',
    ]


def test_names_itself_by_ids_of_its_own_prefix() -> None:
    root = ET.fromstring(svg_of(SCENE, prefix="life7"))
    assert root.attrib["aria-labelledby"].split() == [node.attrib["id"] for node in root[:2]]


def test_has_no_style_and_no_handler() -> None:
    assert not re.search(r"\b(style|on\w+)=", svg_of(SCENE, prefix="p"))


def test_draws_each_shape_once() -> None:
    tags = [node.tag for node in ET.fromstring(svg_of(SCENE, prefix="p"))]
    assert tags == ["title", "desc", "rect", "line", "path", "polygon", "text"]


def test_strokes_of_one_look_are_one_path() -> None:
    (path,) = (node for node in ET.fromstring(svg_of(SCENE, prefix="p")) if node.tag == "path")
    assert path.attrib["d"] == "M0.00 0.00L5.00 2.50M1.00 0.00L6.00 2.50"
    assert (path.attrib["class"], path.attrib["stroke-width"]) == ("pic-wire", "1.6")


def test_a_text_box_lies_about_its_anchor() -> None:
    left, _, right, _ = box_of(Text(50, 20, "abcd", size=10, anchor="middle"))
    assert (left + right) / 2 == 50
