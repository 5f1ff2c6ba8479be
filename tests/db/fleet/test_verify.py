"""`manage.py verify`: silent where all holds, and each proof finds what breaks its rule."""

import datetime as dt
import io
from collections.abc import Callable

import pytest
from django.core.management import CommandError, call_command

from assemblies.models import Assembly, Stay, StockItem
from fleet.models import Machine, SiteSpell
from fleet.models.seals import remove_seals
from tests import factories

pytestmark = pytest.mark.django_db
DAY = dt.timedelta(days=1)


def verify() -> str:
    said = io.StringIO()
    call_command("verify", stdout=said)
    return said.getvalue()


@pytest.fixture
def hose() -> Assembly:
    return factories.fitted()


def test_a_sound_register_is_said_to_hold(hose: Assembly) -> None:
    assert verify().rstrip().endswith("All of it holds.")


def _nowhere(hose: Assembly) -> None:
    Stay.objects.update(is_open=False, to_on=factories.TODAY)


def _more_hours(hose: Assembly) -> None:
    Assembly.objects.update(earlier_h=5)


def _other_key(hose: Assembly) -> None:
    Machine.objects.update(number_key="something else")


def _other_site(hose: Assembly) -> None:
    Machine.objects.update(site=factories.site())


def _no_spell(hose: Assembly) -> None:
    SiteSpell.objects.update(to_on=factories.TODAY)


def _no_seal(hose: Assembly) -> None:
    remove_seals(using="default", app_label="fleet")


def _stock_from_nothing(hose: Assembly) -> None:
    StockItem.objects.create(site=factories.site(), name="cap", balance=5)


def _shared_position(hose: Assembly) -> None:
    """Another hose was on the position in a time that the first one's stay covers."""
    now = hose.stays.get()
    since = factories.TODAY - DAY * 9
    Stay.objects.filter(pk=now.pk).update(from_earliest_on=since, from_latest_on=since)
    past = factories.stored(at=hose.site)
    begun = factories.TODAY - DAY * 5
    Stay.objects.create(
        assembly=past,
        place="position",
        position=now.position,
        site=now.site,
        from_earliest_on=begun,
        from_latest_on=begun,
        to_on=begun + DAY,
        is_open=False,
        recorded_at=factories.NOW,
    )


BROKEN: dict[Callable[[Assembly], None], str] = {
    _nowhere: "is in 0 places",
    _more_hours: "has 5.0 h, and 0.0 h in its closed stays",
    _other_key: "is kept under “something else”",
    _other_site: "is at another site than its open spell",
    _no_spell: "has no open spell at a site",
    _no_seal: "the trigger fleet_trailentry_sealed_update is missing",
    _stock_from_nothing: "balance 5.000, movements come to 0.000",
    _shared_position: "while it held another",
}


@pytest.mark.parametrize("broken", BROKEN, ids=lambda broken: broken.__name__)
def test_a_broken_rule_is_named(broken: Callable[[Assembly], None], hose: Assembly) -> None:
    broken(hose)
    said = io.StringIO()
    with pytest.raises(CommandError, match=r"\d+ things do not hold"):
        call_command("verify", stdout=said)
    assert BROKEN[broken] in said.getvalue()


@pytest.mark.sqlite
def test_a_reference_that_leads_nowhere_is_named(hose: Assembly) -> None:
    site_id = hose.site_id
    Assembly.objects.update(site_id=987_654)
    said = io.StringIO()
    with pytest.raises(CommandError):
        call_command("verify", stdout=said)
    assert "names a row of fleet_site that is not there" in said.getvalue()
    Assembly.objects.update(site_id=site_id)
