"""The command that writes the sheets of what falls due next."""

import datetime as dt
from pathlib import Path
from typing import Any

import pytest
import time_machine
from django.core.management import CommandError, call_command

from assemblies.models import FrozenSheet
from scheduling.actions.due_dates import refresh_all
from tests import factories as make
from tests.db.assemblies import spec_shop as shop

pytestmark = pytest.mark.django_db


def due_hose(site: Any, built_on: dt.date, **facts: Any) -> Any:
    position = make.position(on=make.machine(at=site), **facts)
    return make.fitted(on=position, built_earliest_on=built_on, built_latest_on=built_on)


@time_machine.travel(make.NOW, tick=False)
def test_writes_what_falls_due_first_for_each_site(tmp_path: Path) -> None:
    make.life_rule()
    site = make.site(code="BQ")
    spec = shop.approved()
    due_hose(site, dt.date(2019, 1, 1))
    for year in (2022, 2019, 2020):
        due_hose(site, dt.date(year, 1, 1), required_spec=spec.header)
    refresh_all()
    call_command("write_due_sheets", out=str(tmp_path), most=2)
    assert sorted(path.name for path in tmp_path.iterdir()) == ["sheet-BQ-1.pdf", "sheet-BQ-2.pdf"]
    needed = [sheet.content["need_by"] for sheet in FrozenSheet.objects.order_by("number")]
    assert needed == ["2026-03-09", "2026-03-09"], "what is overdue is needed today"


def test_names_the_papers_there_are(tmp_path: Path) -> None:
    with pytest.raises(CommandError, match="A4 or Letter"):
        call_command("write_due_sheets", out=str(tmp_path), page="A5")
