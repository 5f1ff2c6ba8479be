"""Own tags: drawn at random, printed ahead in lots, bound to a hose once."""

import datetime as dt
import secrets

from django.db import IntegrityError, transaction

from assemblies.calc.tags import NotATag, check_tag, draw_tag
from assemblies.models import Assembly, Tag, TagLot
from assemblies.signals import assembly_changed
from fleet import audit
from fleet.actions.refusals import Refused
from fleet.models import Person, Site
from fleet.permissions import require

LARGEST_LOT = 1000


@transaction.atomic
def draw_lot(*, site: Site, size: int, person: Person, at: dt.datetime) -> TagLot:
    """Draw a lot of blank tags. Atomic; the codes are new for ever.

    Refuses: lot_size. Needs `fit_hoses` at the site.
    """
    require(person, "fit_hoses", site)
    if not 1 <= size <= LARGEST_LOT:
        raise Refused("lot_size", f"A lot has 1 to {LARGEST_LOT} tags.", field="size")
    locked = Site.objects.select_for_update().get(pk=site.pk)
    last = TagLot.objects.filter(site=locked).order_by("-number").first()
    number = last.number + 1 if last else 1
    lot = TagLot.objects.create(site=locked, number=number, size=size, drawn_at=at, drawn_by=person)
    for _ in range(size):
        new_tag(lot=lot)
    audit.record(audit.Deed("drew tags", lot, site, {}, {"size": size}), actor=person, at=at)
    return lot


def new_tag(*, lot: TagLot | None = None) -> Tag:
    """One tag that was never drawn before. Call inside a transaction."""
    while True:
        try:
            with transaction.atomic():
                return Tag.objects.create(code=draw_tag(secrets.choice), lot=lot)
        except IntegrityError:
            continue  # drawn before: one in many thousand million


@transaction.atomic
def bind_tag(*, assembly: Assembly, typed: str, person: Person | None, at: dt.datetime) -> Assembly:
    """Bind a blank tag to an assembly that has none; an empty text draws one. Atomic.

    Refuses: not_a_tag, tag_unknown, tag_used, tag_spoiled, tagged_already.
    Sends `assembly_changed`. Needs `fit_hoses` at the assembly's site.
    """
    locked = Assembly.objects.select_for_update().get(pk=assembly.pk)
    if person is not None:
        require(person, "fit_hoses", locked.site_id)
    if locked.tag_id is not None:
        raise Refused("tagged_already", f"This hose has the tag {locked.tag_id} already.")
    tag = blank_tag(typed, locked.site_id) if typed.strip() else new_tag()
    locked.tag = tag
    try:
        with transaction.atomic():
            locked.save(update_fields=["tag"])
    except IntegrityError as error:
        raise Refused("tag_used", f"The tag {tag} is on another hose.", field="tag") from error
    audit.record(
        audit.Deed("bound a tag", locked, locked.site, {}, {"tag": tag.code}), actor=person, at=at
    )
    assembly_changed.send(sender=Assembly, assembly_ids=[locked.pk], at=at)
    return locked


def blank_tag(typed: str, site_id: int) -> Tag:
    """The blank tag of a site's printed lots that was typed. Call inside a transaction.

    Refuses: not_a_tag, tag_unknown, tag_spoiled, tag_used.
    """
    try:
        code = check_tag(typed)
    except NotATag as error:
        raise Refused("not_a_tag", str(error), field="tag") from error
    tag = Tag.objects.filter(code=code).filter(lot__site=site_id).first()
    if tag is None:
        raise Refused("tag_unknown", f"{code} is not from this site's printed lots.", field="tag")
    if tag.spoiled_at is not None:
        raise Refused("tag_spoiled", f"The tag {code} was marked as spoiled.", field="tag")
    if Assembly.objects.filter(tag=tag).exists():
        raise Refused("tag_used", f"The tag {code} is on another hose.", field="tag")
    return tag
