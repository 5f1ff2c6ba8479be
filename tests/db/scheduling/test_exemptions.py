import datetime as dt
from typing import Any

import pytest

from assemblies.models import Assembly, Position
from fleet.actions.refusals import Refused
from fleet.permissions import NotAllowed
from scheduling.actions.exemptions import end_exemption, grant_exemption
from scheduling.actions.stale import work_off_marks
from scheduling.models import Due, Exemption
from tests import factories as make

pytestmark = pytest.mark.django_db
NOW, TODAY = make.NOW, make.TODAY
UNTIL = dt.date(2026, 6, 1)


@pytest.fixture
def hose() -> Assembly:
    make.life_rule(built_months=12)
    day = dt.date(2024, 1, 1)
    return make.fitted(built_earliest_on=day, built_latest_on=day)


def _grant(covers: dict[str, Any], *triggers: str, **facts: Any) -> Exemption:
    usual = {"reason": "part on order", "until_on": UNTIL, "person": make.person("planner")}
    return grant_exemption(
        covers=covers, triggers=triggers, today=TODAY, at=NOW, **{**usual, **facts}
    )


def _place(hose: Assembly) -> Position:
    return Position.objects.get(stays__assembly=hose)


@pytest.mark.parametrize("by", ["assembly", "position", "machine", "site", "circuit"])
def test_puts_off_what_it_covers(hose: Assembly, by: str) -> None:
    place = _place(hose)
    covered = {
        "assembly": hose,
        "position": place,
        "machine": place.machine,
        "site": hose.site,
        "circuit": place.circuit,
    }
    _grant({by: covered[by]}, "built")
    work_off_marks()
    assert Due.objects.get(assembly=hose).replace_on == UNTIL


def test_ending_it_brings_the_date_back_at_once(hose: Assembly) -> None:
    granted = _grant({"assembly": hose})
    end_exemption(exemption=granted, person=make.person("planner"), at=NOW)
    assert Due.objects.get(assembly=hose).replace_on == dt.date(2025, 1, 1)
    with pytest.raises(Refused, match="ended before"):
        end_exemption(exemption=granted, person=make.person("planner"), at=NOW)


@pytest.mark.parametrize(
    ("triggers", "facts", "code"),
    [
        ([], {"reason": " "}, "reason_missing"),
        ([], {"until_on": dt.date(2026, 3, 8)}, "until_past"),
        (["take_out"], {}, "trigger_unknown"),
        (["moonrise"], {}, "trigger_unknown"),
    ],
)
def test_refuses_what_no_exemption_may_do(
    hose: Assembly, triggers: list[str], facts: dict[str, Any], code: str
) -> None:
    with pytest.raises(Refused) as refused:
        _grant({"assembly": hose}, *triggers, **facts)
    assert refused.value.code == code


def test_refuses_to_cover_nothing() -> None:
    with pytest.raises(Refused, match="which hose"):
        _grant({})


def test_needs_the_right_where_the_hose_is(hose: Assembly) -> None:
    _grant({"assembly": hose}, person=make.person("manager", at=hose.site))
    for stranger in (make.person("manager", at=make.site()), make.person("fitter", at=hose.site)):
        with pytest.raises(NotAllowed):
            _grant({"assembly": hose}, person=stranger)
    with pytest.raises(NotAllowed):
        _grant({"circuit": "other"}, person=make.person("manager", at=hose.site))
