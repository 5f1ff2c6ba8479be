"""Proofs of the schedule: what is kept beside the dues is what follows from them."""

from collections.abc import Iterator

from fleet.queries.proofs import register_proof
from scheduling.queries.tallies import wrong_tallies


@register_proof("every kept count of dues is what is counted")
def tallies_are_counted() -> Iterator[str]:
    for site in wrong_tallies():
        yield f"the counts kept of {site.code}: run manage.py refresh_dues"
