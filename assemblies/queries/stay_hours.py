"""Machine hours of a stay in a query, as they are known now: corrected where they were."""

from typing import Final

from django.db.models import F, Q
from django.db.models.functions import Coalesce

BEGAN_H: Final = Coalesce("from_corrected_h", "from_machine_h")
ENDED_H: Final = Coalesce("to_corrected_h", "to_machine_h")
# Over a query that has them as `begin_h` and `end_h`.
RAN: Final = Q(end_h__gte=F("begin_h"))
NOT_KNOWN: Final = Q(begin_h__isnull=True) | Q(end_h__isnull=True) | Q(end_h__lt=F("begin_h"))
