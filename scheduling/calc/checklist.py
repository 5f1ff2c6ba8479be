"""What is looked for at a hose, what each thing found means, and what to do at once."""

import datetime as dt
from dataclasses import dataclass
from typing import Final, Literal

Verdict = Literal["keep", "recheck", "replace", "out_now"]
VERDICTS: Final[tuple[Verdict, ...]] = ("keep", "recheck", "replace", "out_now")


@dataclass(frozen=True, slots=True)
class CheckItem:
    """One line of the checklist: its verdict unless a person says otherwise, and by when.

    `days` counts from the look. An item without a verdict leaves it to the person.
    """

    words: str
    verdict: Verdict | None
    days: int | None = None
    at_once: str = ""


WEEP: Final = "weep at the connection"
_WEEP_WORDS: Final = (
    "Stop the machine, lower the load, let the pressure out. Then look at seal and seat and "
    "torque it by its maker’s figure. Never tighten harder to stop a weep."
)
# Seen in DIN 20066, DGUV Regel 113-020 and SAE J1273 alike: any of these, and the hose comes off.
TAKE_OUT: Final = (
    CheckItem("cover damaged to the wire", "out_now"),
    CheckItem("brittle or cracked", "out_now"),
    CheckItem("blistered or soft", "out_now"),
    CheckItem("crushed, kinked or deformed", "out_now"),
    CheckItem("twisted", "out_now"),
    CheckItem("leak at the body", "out_now"),
    CheckItem("leak at the crimp", "out_now"),
    CheckItem("end damaged", "out_now"),
    CheckItem("end creeping out of the shell", "out_now"),
    CheckItem("corrosion that weakens", "out_now"),
    CheckItem("past its limits", "out_now"),
)
# Days are common practice, no published source.
WATCH: Final = (
    CheckItem(WEEP, "recheck", 0, _WEEP_WORDS),
    CheckItem("light cover wear", "recheck", 90),
    CheckItem("clamp loose", "recheck", 30),
    CheckItem("guard missing", "recheck", 30),
    CheckItem("rubs on something", "recheck", 30),
    CheckItem("bend too tight", "recheck", 30),
    CheckItem("stretched or too short", "recheck", 30),
)
OTHER: Final = (CheckItem("wrong part fitted", None), CheckItem("something else", None))
# Beyond the interval: seen in DIN 20066 and DGUV Regel 113-020.
OCCASIONS: Final = ("an accident", "long idleness", "overheating", "a pressure shock")
CHECKLIST: Final = (*TAKE_OUT, *WATCH, *OTHER)
_GRAVEST_FIRST: Final = {"out_now": 0, "replace": 1, "recheck": 2, "keep": 3}


@dataclass(frozen=True, slots=True)
class Judged:
    """What a thing found comes to: a verdict, and the day where one belongs to it."""

    verdict: Verdict
    by_on: dt.date | None


def item_named(words: str) -> CheckItem | None:
    """The checklist's item of these words.

    >>> item_named("twisted").verdict
    'out_now'
    """
    return next((item for item in CHECKLIST if item.words == words), None)


def judged(words: str, on: dt.date) -> Judged | None:
    """What the checklist makes of a thing found on a day; None where a person must say.

    Parameters: the item's words; the day of the look. Take out now has no day: it is that day.
    Source: DIN 20066, DGUV Regel 113-020, SAE J1273 for what is taken out now; the days of the
    other items are common practice, no published source.

    >>> judged("light cover wear", dt.date(2026, 3, 9))
    Judged(verdict='recheck', by_on=datetime.date(2026, 6, 7))
    >>> judged("something else", dt.date(2026, 3, 9)) is None
    True
    """
    item = item_named(words)
    if item is None or item.verdict is None:
        return None
    dated = item.days is not None
    return Judged(item.verdict, on + dt.timedelta(days=item.days or 0) if dated else None)


def is_milder(verdict: Verdict, words: str) -> bool:
    """Whether a person's verdict is milder than the checklist's: then a reason is asked for.

    >>> is_milder("recheck", "twisted"), is_milder("out_now", "clamp loose")
    (True, False)
    """
    item = item_named(words)
    if item is None or item.verdict is None:
        return False
    return _GRAVEST_FIRST[verdict] > _GRAVEST_FIRST[item.verdict]


def at_once(words: str) -> str:
    """What must be done at once about a thing found; empty where nothing beyond its verdict.

    >>> at_once(WEEP).endswith("Never tighten harder to stop a weep.")
    True
    """
    item = item_named(words)
    return item.at_once if item else ""
