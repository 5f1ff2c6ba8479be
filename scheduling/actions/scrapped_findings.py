"""Findings end with their hose: what is scrapped asks for nothing more."""

import datetime as dt
from collections.abc import Iterable
from typing import Final

from django.db import transaction

from fleet import audit
from scheduling.models import Finding

MOST_NAMED: Final = 2000  # of more than these every scrapped hose is looked at: findings are few


@transaction.atomic
def settle_scrapped(*, assembly_ids: Iterable[int], at: dt.datetime) -> int:
    """Settle the open findings of those hoses that are scrapped. Atomic; safe to repeat.

    Who scrapped the hose settled them. Returns how many there were.
    """
    ids = list(assembly_ids)
    still_open = Finding.objects.filter(assembly__withdrawn_at__isnull=False, dealt_with_at=None)
    if len(ids) <= MOST_NAMED:
        still_open = still_open.filter(assembly__in=ids)
    rows = list(still_open.select_related("assembly__withdrawn_by", "site"))
    for row in rows:
        row.dealt_with_at, row.dealt_with_by = at, row.assembly.withdrawn_by
        row.dealt_with_how = f"scrapped: {row.assembly.withdrawal_reason}"[:300]
    Finding.objects.bulk_update(rows, ["dealt_with_at", "dealt_with_by", "dealt_with_how"])
    for row in rows:
        deed = audit.Deed("dealt with a finding", row, row.site, {}, {"how": row.dealt_with_how})
        audit.record(deed, actor=row.assembly.withdrawn_by, at=at)
    return len(rows)
