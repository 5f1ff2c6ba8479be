"""Reading a fleet snapshot of ISO 15143-3: what each machine told of itself, and what is wrong.

Element names as public pages quote them; the numbered tables of the standard were not at hand.
Nothing is dropped: a machine without usable hours comes out with the sentence that says why.
"""

import datetime as dt
import re
import unicodedata
from collections.abc import Iterator
from decimal import ROUND_DOWN, Decimal, InvalidOperation

from fleet.calc.keys import text_key
from fleet.calc.snapshots import Identity, Snapshot, Told
from fleet.telematics.nodes import READERS, Node, PayloadError

MOST_EQUIPMENT = 5000  # pages of the standard hold 100
LONGEST_IDENTITY = 80
LONGEST_KEY = 200
MOST_HOURS = 10**7
_EARLIEST, _LATEST = 1970, 2100
_TENTH = Decimal("0.1")
_FIGURE = re.compile(r"[+-]?[0-9]+(\.[0-9]+)?([eE][+-]?[0-9]{1,3})?")
_NO_DAY = "0001-01-01"


def parse_snapshot(payload: bytes, *, form: str) -> Snapshot:
    """Read one page, `form` being xml or json. Raises `PayloadError` where it is no snapshot."""
    root = READERS[form](payload)
    fleet = next(_named(root, "fleet"), None)
    if fleet is None and ("equipment" in root.bare or any(root.all("equipment"))):
        fleet = root
    if fleet is None:
        raise PayloadError("There is no “Fleet” in it: the address may be of something else.")
    machines = list(fleet.all("equipment"))
    if len(machines) > MOST_EQUIPMENT:
        raise PayloadError(
            f"It holds {len(machines)} machines on one page, more than {MOST_EQUIPMENT}."
        )
    taken = (fleet.texts("snapshottime") or [""])[0][:60]
    return Snapshot(taken, tuple(_told(machine) for machine in machines), _next_of(fleet))


def _named(root: Node, name: str) -> Iterator[Node]:
    """Nodes of a name at the top or just below it: some wrap the snapshot once more."""
    if root.name == name:
        yield root
    for node in root.below:
        if node.name == name:
            yield node
    for node in root.below:
        yield from node.all(name)


def _next_of(fleet: Node) -> str:
    """The address of the next page, or nothing; `Links` may be wrapped in a list of their own."""
    links = [*fleet.all("links"), *fleet.all("link")]
    links += [inner for link in links for inner in (*link.all("links"), *link.all("link"))]
    for link in links:
        if "next" in [rel.casefold() for rel in link.texts("rel")]:
            return (link.texts("href") or [""])[0]
    return ""


def _told(machine: Node) -> Told:
    header = next(machine.all("equipmentheader"), machine)
    identity, wrong = _identity(header)
    if identity is None:
        return Told(None, problem=wrong)
    found = list(machine.all("cumulativeoperatinghours"))
    if not found:
        return Told(identity, problem="It told no operating hours.")
    hours = [text for node in found for text in node.texts("hour")]
    moments = [text for node in found for text in node.texts("datetime")]
    if len(set(hours)) > 1 or len(set(moments)) > 1:
        return Told(identity, problem="It told more than one figure of operating hours.")
    if not hours:
        return Told(identity, problem="It told operating hours without a figure.")
    try:
        figure = read_hours(hours[0])
        read_at, zone_known = read_moment(moments[0] if moments else "")
    except ValueError as error:
        return Told(identity, typed=hours[0][:40], problem=str(error))
    return Told(identity, figure, hours[0][:40], read_at, zone_known)


def _identity(header: Node) -> tuple[Identity | None, str]:
    """By the PIN; without one by make and serial number; without that by the equipment id."""
    names = ("oemname", "model", "equipmentid", "serialnumber", "pin")
    texts = {name: header.texts(name) for name in names}
    if any(len(found) > 1 for found in texts.values()):
        return None, "It names itself twice, and differently."
    maker, model, ref, serial, pin = ((texts[name] or [""])[0] for name in names)
    shown = (maker, model, ref, serial, pin)
    if any(len(text) > LONGEST_IDENTITY or _unprintable(text) for text in shown):
        return None, "It names itself with a text that can't be a name."
    for kind, text in (
        ("pin", pin),
        ("serial", serial and f"{maker} {serial}"),
        ("equipment", ref),
    ):
        if kind == "serial" and not maker:
            continue  # a serial number alone may be another maker's as well
        if len(_key(text)) > LONGEST_KEY:
            return None, "It names itself with a text that can't be a name."
        if key := _key(text):
            return Identity(kind, key, *shown), ""
    return None, "It told neither PIN nor make and serial number nor an equipment id."


def _key(text: str) -> str:
    """The folded text without spaces and strokes; nothing where it says that there is none."""
    key = re.sub(r"[\s\-–/.]", "", text_key(text))
    return "" if key in {"", "na", "none", "null", "unknown"} or set(key) == {"0"} else key


def _unprintable(text: str) -> bool:
    return any(unicodedata.category(sign) in {"Cc", "Cs", "Co", "Cn"} for sign in text)


def read_hours(text: str) -> Decimal:
    """A figure of hours, down to the tenth that a meter shows. Raises ValueError with a sentence.

    >>> read_hours("12450.57"), read_hours("1.2E3")
    (Decimal('12450.5'), Decimal('1200.0'))
    """
    said = text[:40]
    if len(text) > 40 or not _FIGURE.fullmatch(text):
        raise ValueError(f"Its operating hours “{said}” are not a figure.")
    try:
        figure = Decimal(text)
    except InvalidOperation as error:
        raise ValueError(f"Its operating hours “{said}” are not a figure.") from error
    if not 0 <= figure <= MOST_HOURS:
        raise ValueError(f"Its operating hours “{said}” are not between 0 and {MOST_HOURS:,}.")
    return figure.quantize(_TENTH, rounding=ROUND_DOWN)


def read_moment(text: str) -> tuple[dt.datetime, bool]:
    """A moment to the second in UTC, and whether it came with a zone. Raises ValueError.

    Without one it stays naive: the caller takes it as the machine's own time and says so.

    >>> read_moment("2026-03-09T08:00:00.123Z")[0].isoformat()
    '2026-03-09T08:00:00+00:00'
    """
    said = text[:40]
    if not text or text.startswith(_NO_DAY):
        raise ValueError("It told its operating hours without the time they are of.")
    try:
        moment = dt.datetime.fromisoformat(said).replace(microsecond=0)
        if _EARLIEST <= moment.year <= _LATEST:
            known = moment.tzinfo is not None
            return (moment.astimezone(dt.UTC) if known else moment), known
    except (ValueError, OverflowError) as error:
        raise ValueError(f"Its time “{said}” is not a moment.") from error
    raise ValueError(f"Its time “{said}” is not between {_EARLIEST} and {_LATEST}.")
