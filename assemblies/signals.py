"""News from the assemblies. Each carries ids only and is sent in the transaction."""

from django.dispatch import Signal

# machine_ids, assembly_ids: what was fitted, moved or removed, and where. at: the moment.
installation_changed = Signal()
# assembly_ids: assemblies whose dates or parts changed. at: the moment.
assembly_changed = Signal()
# machine_ids: machines whose positions changed. at: the moment.
position_changed = Signal()
# assembly_ids: builds that were signed. at: the moment.
build_signed = Signal()
