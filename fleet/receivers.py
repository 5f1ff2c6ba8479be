"""What fleet does when it hears news."""

from typing import Any

from django.db import transaction
from django.dispatch import receiver

from fleet.signals import errand_asked
from fleet.tasks import kick


@receiver(errand_asked)
def nudge_the_worker(errand_id: int, **_: Any) -> None:
    def nudge() -> None:
        kick(errand_id)

    # Robust: the errand stands in the table, so a broker that is away costs a minute, not a 500.
    # A named function and no partial: Django puts its name into the log, and a partial has none.
    transaction.on_commit(nudge, robust=True)
