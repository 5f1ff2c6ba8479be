"""Old hoses that were measured: the list, the page of one, and what in the catalogue fits it."""

import datetime as dt
import json
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from assemblies.calc.connections import hose_type_named
from assemblies.calc.measured_hose import MeasuredEnd, MeasuredHose, open_points
from assemblies.calc.thread_names import is_end
from assemblies.models import (
    Assembly,
    CopyPhoto,
    FittingRevision,
    HoseRevision,
    Position,
    SpecCopy,
    SpecRevision,
)
from assemblies.queries.parts import counting
from assemblies.queries.side_by_side import size_words
from fleet.calc.frozen import from_json
from fleet.models import Person, Photo
from fleet.queries.keyset import Order, Page, page_of

NEWEST = Order("id", down=True)
MOST_ITEMS = 500
MOST_SHOWN = 12


@dataclass(frozen=True, slots=True)
class CopyLine:
    """One measured hose of the list."""

    copy_id: int
    title: str
    site: str
    words: str
    measured_by: str
    measured_at: dt.datetime
    open_count: int


@dataclass(frozen=True, slots=True)
class Item:
    """An item of the catalogue that fits, with what it is."""

    item_id: int
    code: str
    words: str
    approved: bool


@dataclass(frozen=True, slots=True)
class EndMatch:
    """One end as it was measured, with the fittings that fit it."""

    end: MeasuredEnd
    form: str
    turns: str
    fittings: tuple[Item, ...]


@dataclass(frozen=True, slots=True)
class CopyPage:
    """One measured hose, whole."""

    copy: SpecCopy
    measured: MeasuredHose | None
    typed: tuple[tuple[str, str], ...]
    open: tuple[str, ...]
    ends: tuple[EndMatch, ...]
    hoses: tuple[Item, ...]
    size: str
    basis: str
    photos: tuple[Photo, ...]
    state: str

    @property
    def waits(self) -> bool:
        return self.state == "held"


def waiting_copies(person: Person, *, after: tuple[Any, ...] | None, size: int) -> Page[CopyLine]:
    """The measured hoses that wait for a spec at the person's sites, the newest first."""
    found = SpecCopy.objects.visible_to(person).filter(spec=None, withdrawn_at=None)
    page = page_of(
        found.select_related("site", "measured_by"), order=NEWEST, after=after, size=size
    )
    return Page(tuple(_line(copy) for copy in page.rows), page.after)


def copy_for(person: Person, copy_id: int) -> SpecCopy | None:
    """The measured hose, where the person may see its site."""
    found = SpecCopy.objects.visible_to(person).filter(pk=copy_id)
    copy: SpecCopy | None = found.select_related(
        *("site", "assembly__tag", "position__machine", "spec__header", "measured_by"),
        "withdrawn_by",
    ).first()
    return copy


def copy_of(person: Person, revision: SpecRevision) -> SpecCopy | None:
    """The old hose that a spec was copied from, where the person may see it."""
    copy: SpecCopy | None = SpecCopy.objects.visible_to(person).filter(spec=revision).first()
    return copy


def copy_page(copy: SpecCopy) -> CopyPage:
    """One measured hose with what fits it in the catalogue. A fixed number of queries."""
    measured = measured_of(copy)
    links = CopyPhoto.objects.filter(copy=copy).select_related("photo").defer("photo__content")
    return CopyPage(
        copy=copy,
        measured=measured,
        typed=tuple(copy.measured.get("typed", {}).items()),
        open=open_points(measured) if measured else (),
        ends=tuple(_matches(measured)) if measured else (),
        hoses=_hoses(measured) if measured else (),
        size=size_words(measured.size_dn) if measured and measured.size_dn else "",
        basis=SpecRevision.Basis(measured.length_basis).label if measured else "",
        photos=tuple(link.photo for link in links.order_by("pk")),
        state="withdrawn" if copy.withdrawn_at else "fine" if copy.spec_id else "held",
    )


def measured_of(copy: SpecCopy) -> MeasuredHose | None:
    """What was measured, as it was read; None for a hose that was copied by its own spec."""
    read = copy.measured.get("read")
    return from_json(MeasuredHose, json.dumps(read)) if read else None


def facts_to_measure(hose: Assembly | None, position: Position | None) -> dict[str, Any]:
    """What the register knows of a hose and its place, to begin a measure with."""
    place = f"{position.machine}, {position}" if position else ""
    if hose is None:
        return {"title": place}
    kind = hose_type_named(hose.hose_type)
    ends = [f"end {w}: {text}" for w, text in (("A", hose.end_a), ("B", hose.end_b)) if text]
    return {
        "title": place or str(hose),
        "layline": hose.layline,
        "size": hose.size_typed or (f"DN{hose.size_dn}" if hose.size_dn else ""),
        "made": "" if hose.layline else hose.made_typed,
        "hose_type": kind.type if kind else "",
        "length_mm": hose.length_mm,
        "marks": str(hose) if hose.tag_id or hose.owner_mark else "",
        "note": f"The register says {'; '.join(ends)}." if ends else "",
    }


def open_place_of(hose: Assembly) -> Position | None:
    """The position that a hose is on now."""
    stay = hose.stays.filter(is_open=True).select_related("position__machine").first()
    return stay.position if stay else None


def _line(copy: SpecCopy) -> CopyLine:
    measured = measured_of(copy)
    words = ""
    if measured is not None:
        size = size_words(measured.size_dn) if measured.size_dn else "size not told"
        kind = measured.hose_type or "type not told"
        words = f"{kind}, {size}, {measured.length_mm.normalize():f} mm"
    return CopyLine(
        copy.pk,
        copy.title,
        copy.site.name,
        words,
        str(copy.measured_by),
        copy.measured_at,
        len(open_points(measured)) if measured else 0,
    )


def _matches(measured: MeasuredHose) -> list[EndMatch]:
    """The fittings that fit each end: by connection, size and form, and by tail where known."""
    forms = {end.form for end in measured.ends if end.end}
    rows = FittingRevision.objects.filter(
        form__in=forms, state__in=("approved", "draft"), header__withdrawn_at=None
    )
    if measured.size_dn is not None:
        rows = rows.filter(tail_dn=measured.size_dn)
    headers = list(rows.order_by("header_id").values_list("header_id", flat=True)[:MOST_ITEMS])
    fittings = list(counting(FittingRevision, headers).values()) if headers else []
    return [
        EndMatch(
            end,
            str(FittingRevision.Form(end.form).label),
            str(FittingRevision.Turns(end.turns).label) if end.turns else "",
            _fitting(end, fittings),
        )
        for end in measured.ends
    ]


def _fitting(end: MeasuredEnd, fittings: Sequence[FittingRevision]) -> tuple[Item, ...]:
    if not end.end:
        return ()
    fits = [
        one
        for one in fittings
        if one.form == end.form
        and (not end.turns or one.turns == end.turns)
        and is_end(one.connection, one.connection_size, end=end.end, size=end.size)
    ]
    return tuple(
        Item(
            one.header_id,
            one.header.code,
            f"{one.connection} {one.connection_size}, {one.get_form_display()}, "
            f"{one.get_turns_display()}, tail DN{one.tail_dn}",
            one.state == "approved",
        )
        for one in fits[:MOST_SHOWN]
    )


def _hoses(measured: MeasuredHose) -> tuple[Item, ...]:
    """The hoses of the catalogue of this size, and of this type where it is known."""
    if measured.size_dn is None:
        return ()
    rows = HoseRevision.objects.filter(
        size_dn=measured.size_dn, state__in=("approved", "draft"), header__withdrawn_at=None
    )
    if measured.hose_type:
        rows = rows.filter(standard_type=measured.hose_type)
    headers = list(rows.order_by("header_id").values_list("header_id", flat=True)[:MOST_SHOWN])
    found = counting(HoseRevision, headers).values() if headers else ()
    return tuple(
        Item(
            one.header_id,
            one.header.code,
            f"{one.maker} {one.product}, {one.standard_type or 'outside every standard'}, "
            f"{one.working_pressure_bar.normalize():f} bar",
            one.state == "approved",
        )
        for one in found
        if one.size_dn == measured.size_dn
    )
