"""The crimp figures of a released sheet are its recipe's, never an estimate from geometry."""

import ast
import re
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest

from assemblies.actions.sheets import issue_sheet
from assemblies.actions.specs import EndChoice
from assemblies.calc import crimping
from assemblies.calc.sheet import SheetContent, to_json
from assemblies.models import SpecRevision
from assemblies.pdf.build_sheet import draw_build_sheet
from assemblies.queries.sheets import SheetOrder, content_of
from fleet.pdf.pen import Placed
from tests import factories as make
from tests.db.assemblies import spec_shop as shop
from tests.db.assemblies.test_longest_papers import trial

pytestmark = pytest.mark.django_db
D = Decimal
ROOT = Path(__file__).resolve().parents[3]
GEOMETRY = {"assemblies.calc.crimping", "assemblies.calc.trial_start"} | {
    "assemblies.calc.crimp_estimates"
}
# A worked example of the geometry: shell 27/21, hose bore 12.7, reinforcement 19.8, tail 12.9 mm.
JOINT = crimping.Joint(27, 21, 12.7, 19.8, 12.9)


def estimates() -> set[str]:
    """Every crimp OD that geometry or the trade's rule would give, as a sheet would write it."""
    shares = [share / 100 for share in range(30, 61)]
    found = [
        crimping.contact_od_mm(JOINT),
        *crimping.trade_estimate_mm(JOINT, 2),
        *(crimping.crimp_od_for_compression_mm(JOINT, share) for share in shares),
        *(crimping.shop_sum_od_mm(JOINT, share) for share in shares),
    ]
    return {f"{figure:.2f}" for figure in found} | {f"{figure:.1f}" for figure in found}


def measured_parts() -> tuple[Any, Any, Any]:
    """Hose, end and shell with every size that geometry asks for."""
    hose = make.hose(bore_mm=D("12.70"), reinforcement_diameter_mm=D("19.80"))
    end = make.fitting(one_piece=False, tail_od_mm=D("12.90"), tail_bore_mm=D("9.90"))
    shell = shop.shell(outside_diameter_mm=D("27.00"), inside_diameter_mm=D("21.00"))
    return hose, end, shell


def sheet_of(spec: SpecRevision) -> SheetContent:
    order = SheetOrder(make.site())
    return content_of(issue_sheet(spec=spec, order=order, address="", person=None, at=make.NOW))


def printed(content: SheetContent) -> str:
    """Every text as it is placed, each in a line of its own."""
    log: list[Placed] = []
    draw_build_sheet(content, log=log)
    return "\n".join(placed.text.replace("\u00a0", " ") for placed in log)


def spec_of(hose: Any, end: Any, shell: Any) -> SpecRevision:
    content = shop.content(hose=hose, near=end, far=end)
    choice = EndChoice(end.header, shell.header)
    return shop.approve(shop.draft(of=type(content)(content.facts, choice, choice, ())))


@pytest.mark.parametrize("state", ["none", "draft", "provisional"])
def test_a_joint_without_an_approved_recipe_has_no_crimp_figure_at_all(state: str) -> None:
    hose, end, shell = measured_parts()
    spec = spec_of(hose, end, shell)
    if state != "none":
        drafted = shop.recipe(hose, end, shell, crimp_od_mm=D("23.99"))
        type(drafted).objects.filter(pk=drafted.pk).update(state=state)
    content = sheet_of(spec)
    text = printed(content)
    assert not content.can_be_crimped
    assert "NO CRIMP RECIPE. DO NOT CRIMP THIS END." in text
    assert not re.search(r"crimp[^\n]*Ø|CRIMP OD|passes from", text)
    for figure in estimates() | {"23.99"}:
        assert f'"{figure}"' not in to_json(content)
        assert not re.search(rf"(?<![\d.]){re.escape(figure)}(?![\d.])", text), figure


@pytest.mark.parametrize("basis", ["published", "trial"])
def test_an_approved_recipe_is_the_only_source_of_its_figures(basis: str) -> None:
    hose, end, shell = measured_parts()
    if basis == "published":
        shop.approved_recipe(hose, end, shell, pin_mm=D("9.80"))
    else:
        trial(hose, end, shell, make.person(display_name="R. Aldous"))
    content = sheet_of(spec_of(hose, end, shell))
    own = {"24.60", "24.50", "24.70"} if basis == "published" else {"26.25", "26.15", "26.35"}
    text = printed(content)
    assert all(figure in text for figure in own)
    for figure in estimates() - own:
        assert not re.search(rf"Ø\s*{re.escape(figure)}(?![\d.])", text), figure
    words = "Harrow crimp chart 7, page 3" if basis == "published" else "crimped down to tail"
    assert words in text
    assert f"pin must {'ENTER' if basis == 'published' else 'REFUSE'}, and did" in text


def test_nothing_that_makes_a_sheet_reaches_for_the_geometry() -> None:
    makers = [
        *(ROOT / "assemblies" / "pdf").glob("*.py"),
        *(ROOT / "assemblies" / "calc").glob("sheet*.py"),
        *(ROOT / "assemblies" / "calc").glob("certificate*.py"),
        *(ROOT / "assemblies" / "queries").glob("sheet*.py"),
        ROOT / "assemblies" / "queries" / "certificates.py",
        ROOT / "assemblies" / "actions" / "sheets.py",
    ]
    assert len(makers) > 15
    assert {
        path.name: _imported(path) & GEOMETRY for path in makers if _imported(path) & GEOMETRY
    } == {}


def _imported(path: Path) -> set[str]:
    found = set()
    for node in ast.walk(ast.parse(path.read_text())):
        if isinstance(node, ast.ImportFrom) and node.module:
            found.add(node.module)
            found |= {f"{node.module}.{name.name}" for name in node.names}
        if isinstance(node, ast.Import):
            found |= {name.name for name in node.names}
    return found
