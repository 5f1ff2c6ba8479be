"""Numbers of papers: one run for each site and kind. Gaps are allowed, repeats are not."""

from fleet.models import PaperCounter, Site


def hold_numbers(site: Site, kind: str) -> PaperCounter:
    """Hold the counter of a kind of paper at a site until the transaction ends.

    Who holds it sees every paper of the kind that was issued there, and nobody issues another
    meanwhile. Call inside a transaction.
    """
    PaperCounter.objects.get_or_create(site=site, kind=kind)
    return PaperCounter.objects.select_for_update().get(site=site, kind=kind)


def next_number(counter: PaperCounter) -> int:
    """The next number of a counter that is held."""
    counter.last_number += 1
    counter.save(update_fields=["last_number"])
    return counter.last_number
