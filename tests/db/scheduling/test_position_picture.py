"""The position page shows the life of its hose as a picture, with words that stand for it."""

import datetime as dt

import pytest
from django.test import Client
from django.urls import reverse

from tests import factories
from tests.db.scheduling.yard import yard

pytestmark = pytest.mark.django_db


def test_the_picture_says_each_limit_in_words(client: Client) -> None:
    where = yard()
    factories.life_rule(site=where.site, built_months=72)
    where.hose.built_earliest_on = where.hose.built_latest_on = dt.date(2020, 2, 29)
    where.hose.built_precision = "day"
    where.hose.save()
    client.force_login(where.planner)
    page = client.get(reverse("scheduling:position", args=[where.position.pk])).content.decode()
    assert "built 29 Feb 2020; today" in page
    assert "Age of the assembly, 6 years: 28 Feb 2026" in page
    assert page.count('role="img"') == 2


def test_no_picture_is_drawn_of_a_hose_of_unknown_age(client: Client) -> None:
    where = yard()
    place = factories.position(on=where.machine)
    factories.fitted(on=place)
    client.force_login(where.planner)
    page = client.get(reverse("scheduling:position", args=[place.pk])).content.decode()
    assert 'role="img"' not in page


def test_the_why_page_shows_the_sum_and_the_rule(client: Client) -> None:
    where = yard()
    rule = factories.life_rule(site=where.site, built_months=72, source="DIN 20066, 2021")
    where.hose.built_earliest_on = where.hose.built_latest_on = dt.date(2020, 2, 29)
    where.hose.built_precision = "day"
    where.hose.save()
    client.force_login(where.planner)
    page = client.get(reverse("scheduling:why", args=[where.hose.pk])).content.decode()
    plain = page.replace("\u00a0", " ")
    assert "Assembly built 29 Feb 2020 + 6 years = 28 Feb 2026." in plain
    assert rule.header.name in page
    assert "DIN 20066, 2021" in page
