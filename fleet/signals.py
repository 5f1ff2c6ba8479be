"""News from the fleet, for those above. Each carries ids only and is sent in the transaction."""

from django.dispatch import Signal

# machine_ids: the machines whose hours, usage, site or standing changed. at: the moment.
reading_recorded = Signal()
machine_changed = Signal()
# A reading that counts took the place of a wrong one: machine_id, counts, read_on, was_h and now_h
# (machine hours), person. at: the moment.
reading_corrected = Signal()
# errand_id: long work that was asked for.
errand_asked = Signal()
