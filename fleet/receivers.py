"""What fleet does when it hears news."""

from functools import partial
from typing import Any

from django.db import transaction
from django.dispatch import receiver

from fleet.signals import errand_asked
from fleet.tasks import kick


@receiver(errand_asked)
def nudge_the_worker(errand_id: int, **_: Any) -> None:
    # Robust: the errand stands in the table, so a broker that is away costs a minute, not a 500.
    transaction.on_commit(partial(kick, errand_id), robust=True)
