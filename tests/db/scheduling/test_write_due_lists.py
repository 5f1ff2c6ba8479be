import datetime as dt
from pathlib import Path
from typing import Any

import pdfplumber
import pytest
from django.core.management import CommandError, call_command

from scheduling.actions.due_dates import refresh_all
from tests import factories as make

pytestmark = pytest.mark.django_db


def _hose(site: Any, built: dt.date | None, **facts: Any) -> Any:
    days = {"built_earliest_on": built, "built_latest_on": built} if built else {}
    place = make.position(on=make.machine(at=site), place="Boom lift, left")
    return make.fitted(on=place, **days, **facts)


def test_writes_every_sites_list_as_csv_and_pdf(tmp_path: Path, time_machine: Any) -> None:
    time_machine.move_to(make.NOW, tick=False)
    make.life_rule(built_months=72)
    here, there = make.site(code="BQ"), make.site(code="SW")
    _hose(here, dt.date(2020, 3, 1), owner_mark="OVER")
    _hose(here, None, owner_mark="UNKNOWN")
    _hose(here, dt.date(2026, 1, 1), owner_mark="YOUNG")
    _hose(there, dt.date(2020, 4, 1), owner_mark="THEIRS")
    refresh_all()
    call_command("write_due_lists", "--out", str(tmp_path))
    names = {path.name for path in tmp_path.iterdir()}
    assert names == {
        f"due-{code}-2026-03-09.{kind}" for code in ["BQ", "SW"] for kind in ("csv", "pdf")
    }
    written = (tmp_path / "due-BQ-2026-03-09.csv").read_text("utf-8-sig")
    assert [mark in written for mark in ("OVER", "UNKNOWN", "YOUNG", "THEIRS")] == [1, 1, 1, 0]
    with pdfplumber.open(tmp_path / "due-BQ-2026-03-09.pdf") as paper:
        text = "".join(page.extract_text() for page in paper.pages)
    assert [mark in text for mark in ("OVER", "UNKNOWN", "YOUNG")] == [1, 1, 0]
    assert "2 hoses, 1 overdue" in text


def test_one_site_can_be_written_alone(tmp_path: Path) -> None:
    make.site(code="BQ")
    make.site(code="SW")
    call_command("write_due_lists", "--out", str(tmp_path), "--site", "SW")
    assert {path.name[:6] for path in tmp_path.iterdir()} == {"due-SW"}
    with pytest.raises(CommandError, match="no site XX"):
        call_command("write_due_lists", "--out", str(tmp_path), "--site", "XX")
