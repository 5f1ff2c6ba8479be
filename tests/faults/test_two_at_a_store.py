"""Two at one store press at the same moment: a photo, a lot, a reel's number come to one end."""

from decimal import Decimal
from typing import Any

import pytest

from assemblies.actions.reels import Delivery, receive_reel
from assemblies.actions.stores import Parts, receive_parts
from assemblies.models import Reel, StockItem
from assemblies.queries.proofs import balances_add_up
from fleet.actions.photos import keep_photo
from fleet.models import Photo
from tests import factories as make
from tests.db.fleet.photo_files import picture, sent
from tests.faults.test_two_at_a_desk import at_once

pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.timeout(300)]
ROUNDS = 20


def test_a_photo_sent_twice_at_once_is_one_photo() -> None:
    site = make.site()
    person = make.person("fitter", at=site)
    for number in range(ROUNDS):

        def keep(number: int = number) -> Any:
            photo = keep_photo(
                site=site,
                sent=sent(picture()),
                client_id=f"photo-{number}",
                person=person,
                at=make.NOW,
            )
            return photo.pk

        first, second = at_once(keep, keep)
        assert first == second is not None
    assert Photo.objects.count() == ROUNDS


def test_a_lot_begun_by_two_at_once_is_one_lot_with_all_its_pieces() -> None:
    site = make.site()
    keeper, fitting = make.person("storeman", at=site), make.fitting().header
    for number in range(ROUNDS):

        def receive(number: int = number) -> Any:
            parts = Parts(Decimal(5), fitting=fitting, lot=f"L-{number}")
            return receive_parts(site=site, parts=parts, person=keeper, at=make.NOW).pk

        first, second = at_once(receive, receive)
        assert first == second is not None
    assert set(StockItem.objects.values_list("balance", flat=True)) == {Decimal("10.000")}
    assert list(balances_add_up()) == []


def test_two_reels_received_at_once_get_two_numbers() -> None:
    site = make.site()
    keeper, hose = make.person("storeman", at=site), make.hose().header

    def receive() -> Any:
        delivery = Delivery(hose=hose, delivered_m=Decimal(60), received_on=make.TODAY)
        reel = receive_reel(
            site=site, delivery=delivery, person=keeper, at=make.NOW, today=make.TODAY
        )
        return reel.code

    for _ in range(ROUNDS):
        first, second = at_once(receive, receive)
        assert first != second
    assert Reel.objects.count() == 2 * ROUNDS
