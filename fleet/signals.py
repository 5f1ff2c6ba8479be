"""News from the fleet, for those above. Each carries ids only and is sent in the transaction."""

from django.dispatch import Signal

# machine_ids: the machines whose hours, usage, site or standing changed. at: the moment.
reading_recorded = Signal()
machine_changed = Signal()
# errand_id: long work that was asked for.
errand_asked = Signal()
