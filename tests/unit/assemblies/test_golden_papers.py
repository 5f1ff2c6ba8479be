"""What papers said once they say for ever: contents as they were frozen, read and drawn again.

The files hold canonical texts as a register stores them. A file is never written anew: a change
of a content's shape must still read the old text; give the new shape a file of its own beside it.
"""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from assemblies.calc import certificate, fitting_sheet, sheet
from assemblies.pdf.build_sheet import draw_build_sheet
from assemblies.pdf.certificate import draw_certificate
from assemblies.pdf.fitting_sheet import draw_fitting_sheet
from tests.paper_reading import read_pages, squeeze
from tests.unit.assemblies import certificate_samples, fitting_samples, sheet_samples

FILES = Path(__file__).parent / "golden"
PAPERS: dict[str, tuple[Any, Callable[[Any], bytes], Callable[[], Any]]] = {
    "build_sheet": (sheet, draw_build_sheet, sheet_samples.everyday),
    "build_sheet_by_trial": (sheet, draw_build_sheet, sheet_samples.trial_sheet),
    "fitting_up": (fitting_sheet, draw_fitting_sheet, fitting_samples.everyday),
    "certificate": (certificate, draw_certificate, certificate_samples.everyday),
    "certificate_by_trial": (certificate, draw_certificate, certificate_samples.by_trial),
}
every_paper = pytest.mark.parametrize("name", list(PAPERS))


def kept(name: str) -> str:
    return (FILES / f"{name}.json").read_text().rstrip("\n")


@every_paper
def test_is_frozen_as_it_was_frozen_before(name: str) -> None:
    module, _, sample = PAPERS[name]
    assert module.to_json(sample()) == kept(name)


@every_paper
def test_is_read_from_an_old_text_and_says_the_same(name: str) -> None:
    module, draw, sample = PAPERS[name]
    old = module.from_json(kept(name))
    assert old == sample()
    assert draw(old) == draw(sample())


@every_paper
def test_stands_on_the_paper_under_its_own_checksum(name: str) -> None:
    module, draw, _ = PAPERS[name]
    old = module.from_json(kept(name))
    foot = squeeze(f"{old.number} · checksum {old.checksum[:4]}-{old.checksum[4:8]}-")
    assert all(foot in page.text for page in read_pages(draw(old)))
