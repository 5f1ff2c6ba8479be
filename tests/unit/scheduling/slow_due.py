"""A second, slow way to every due date: one hose at a time, calendar dates and fractions.

Shares nothing with `scheduling.calc` but the meaning of the columns.
"""

import calendar
import datetime as dt
from dataclasses import dataclass, field
from fractions import Fraction
from math import floor
from typing import Any

NONE = 2_147_483_647
EPOCH = dt.date(1970, 1, 1)
SCOPES = ["site", "machine_class", "machine", "circuit", "hose_type", "consequence", "exposure"]
WORDS = [
    "made",
    "built",
    "fitted",
    "storage",
    "hours_fitting",
    "hours_total",
    "reel_age",
    "take_out",
    "replace_by",
    "release",
    "inspect_months",
    "inspect_hours",
    "recheck",
    "unknown_age",
]
NUMBER = {word: i for i, word in enumerate(WORDS, 1)}
FLAGS = {
    word: 1 << i
    for i, word in enumerate(
        [
            "no_rule",
            "unknown_age",
            "built_from_made",
            "uncertain",
            "made_unknown",
            "built_unknown",
            "fitted_unknown",
            "hours_unknown",
            "earlier_unknown",
            "estimated",
            "meter_behind",
            "standing",
            "never_inspected",
            "exempted",
            "take_out_now",
            "released",
        ]
    )
}


def day(number: Any) -> Any:
    return None if number == NONE else EPOCH + dt.timedelta(days=number)


def number(date: Any) -> Any:
    return NONE if date is None else (date - EPOCH).days


def months_later(date: Any, months: Any) -> Any:
    if date is None:
        return None
    year, month = divmod(date.year * 12 + date.month - 1 + months, 12)
    if year > 9999:
        return None
    last = calendar.monthrange(year, month + 1)[1]
    return dt.date(year, month + 1, min(date.day, last))


def days_later(date: Any, days: Any) -> Any:
    try:
        return date + dt.timedelta(days=floor(days))
    except OverflowError:
        return None


@dataclass
class Answer:
    """One trigger's dates (early, likely, late), rule and what is said."""

    dates: tuple[Any, ...] = (None, None, None)
    rule: int = NONE
    limit: int = NONE
    said: set[str] = field(default_factory=set)


class SlowHose:
    """One row, read as a person would read it."""

    def __init__(self, row: Any, rules: Any, exemptions: Any) -> None:
        self.row = row
        self.rules = [r for r in rules if self._matches(r)]
        self.exemptions = [
            e
            for e in exemptions
            if self._matches(e) and all(e[n] in (NONE, row[n]) for n in ("assembly", "position"))
        ]
        self.place = {1: "fitted", 2: "store", 3: "bench", 4: "scrapped"}[row["place"]]
        self.made = self._uncertain("made")
        self.own_built = self._uncertain("built")
        self.stands_in = self.own_built is None and self.made is not None
        self.built = self.made if self.stands_in else self.own_built
        self.placed = self._uncertain("placed")
        self.inspected = day(row["inspected_on"])
        self.known = day(row["known_from_on"])

    def _matches(self, scope: Any) -> Any:
        return all(scope[s] in (NONE, self.row[s]) for s in SCOPES)

    def _uncertain(self, what: Any) -> Any:
        early, late = day(self.row[f"{what}_early_on"]), day(self.row[f"{what}_late_on"])
        if early is None:
            return None
        return (early, max(early, late or early))

    def strictest(self, name: Any) -> Any:
        offers = [(r[name], r["rule"]) for r in self.rules if r[name] != NONE]
        return min(offers) if offers else (None, NONE)

    # ---- one function a trigger -------------------------------------------------------------

    def _age(self, limit_name: Any, start: Any, unknown: Any, *, said: Any = ()) -> Any:
        limit, rule = self.strictest(limit_name)
        if limit is None:
            return Answer()
        if start is None:
            return Answer(rule=rule, limit=limit, said={unknown})
        early, late = (months_later(d, limit) for d in start)
        notes = set(said) | ({"uncertain"} if start[0] != start[1] else set())
        return Answer((early, early, late), rule, limit, notes)

    def made_age(self) -> Any:
        return self._age("made_months", self.made, "made_unknown")

    def built_age(self) -> Any:
        said = {"built_from_made"} if self.stands_in else set()
        return self._age("built_months", self.built, "built_unknown", said=said)

    def fitted_age(self) -> Any:
        if self.place != "fitted":
            return self._not_here("fitted_months")
        return self._age("fitted_months", self.placed, "fitted_unknown")

    def storage_age(self) -> Any:
        if self.place not in ("store", "bench"):
            return self._not_here("storage_months")
        said = {"built_from_made"} if self.stands_in else set()
        return self._age("storage_months", self.built, "built_unknown", said=said)

    def _not_here(self, limit_name: Any) -> Any:
        limit, rule = self.strictest(limit_name)
        return Answer(rule=rule, limit=NONE if limit is None else limit)

    def hours_fitting(self) -> Any:
        if self.place != "fitted":
            return self._not_here("fitting_tenths")
        limit, rule = self.strictest("fitting_tenths")
        if limit is None:
            return Answer()
        return self._run(limit, rule, Fraction(limit, 10), self.row["placed_tenths"], self.placed)

    def hours_total(self) -> Any:
        limit, rule = self.strictest("total_tenths")
        if limit is None:
            return Answer()
        earlier = Fraction(self.row["earlier_tenths"], 10)
        missing = {"earlier_unknown"} if self.row["earlier_missing"] > 0 else set()
        if self.place != "fitted":
            answer = Answer(rule=rule, limit=limit)
            if earlier >= Fraction(limit, 10):
                since = self.placed or (self.known, self.known)
                answer.dates = (since[0], since[0], since[1])
        else:
            left = Fraction(limit, 10) - earlier
            answer = self._run(limit, rule, left, self.row["placed_tenths"], self.placed)
        answer.said |= missing
        return answer

    def inspect_hours(self) -> Any:
        if self.place != "fitted":
            return self._not_here("inspect_tenths")
        limit, rule = self.strictest("inspect_tenths")
        if limit is None:
            return Answer()
        here = self.inspected and (self.placed is None or self.inspected >= self.placed[0])
        if here:
            start, shown = (self.inspected, self.inspected), self.row["inspected_tenths"]
        else:
            start, shown = self.placed or self.built or (self.known, self.known), None
            shown = self.row["placed_tenths"]
        answer = self._run(limit, rule, Fraction(limit, 10), shown, start)
        if self.inspected is None:
            answer.said.add("never_inspected")
        return answer

    def _run(self, limit: Any, rule: Any, allowed: Any, shown_at_start: Any, start: Any) -> Any:
        """`allowed` hours from a start whose counter showed `shown_at_start` tenths."""
        row, answer = self.row, Answer(rule=rule, limit=limit)
        read_on = day(row["meter_on"])
        if NONE not in (shown_at_start, row["meter_tenths"], row["meter_on"]) and (
            start is None or read_on >= start[0]
        ):
            run = Fraction(row["meter_tenths"] - shown_at_start, 10)
            if run >= 0:
                return self._from_reading(answer, allowed - run, read_on, start)
            answer.said.add("meter_behind")
        if start is None:
            answer.said.add("hours_unknown")
            return answer
        answer.said.add("estimated")
        if start[0] != start[1]:
            answer.said.add("uncertain")
        if allowed <= 0:
            answer.dates = (start[0], start[0], start[1])
            return answer
        low, likely, high = self._guessed_rates()
        if likely == 0:
            answer.said.add("hours_unknown")
            return answer
        answer.dates = (
            self._when(start[0], allowed, high),
            self._when(start[0], allowed, likely),
            self._when(start[1], allowed, low),
        )
        return answer

    def _guessed_rates(self) -> Any:
        row = self.row
        if row["rate_milli"] > 0:
            return [Fraction(row[f"rate{b}_milli"], 1000) for b in ("_low", "", "_high")]
        usual = row["class_rate_milli"]
        return [
            Fraction(usual // 2, 1000),
            Fraction(usual, 1000),
            Fraction(min(usual + usual // 2, 24000), 1000),
        ]

    def _from_reading(self, answer: Any, left: Any, read_on: Any, start: Any) -> Any:
        rates = [Fraction(self.row[f"rate{b}_milli"], 1000) for b in ("_high", "", "_low")]
        if left > 0:
            answer.dates = tuple(self._when(read_on, left, rate) for rate in rates)
            if rates[1] == 0:
                answer.said.add("standing")
            return answer
        reached = read_on
        if rates[1] > 0 and start is not None:
            back = floor(left / rates[1])
            earliest = (start[0] - read_on).days
            reached = read_on + dt.timedelta(days=max(back, earliest))
        answer.dates = (reached,) * 3
        return answer

    def _when(self, since: Any, hours: Any, rate: Any) -> Any:
        return None if rate == 0 else days_later(since, hours / rate)

    def reel_age(self) -> Any:
        limit, rule = self.strictest("reel_age_months")
        if limit is None:
            return Answer()
        answer = Answer(rule=rule, limit=limit)
        if self.made is None:
            answer.said.add("made_unknown")
        if self.own_built is None:
            answer.said.add("built_unknown")
        if answer.said:
            return answer
        allowed = [months_later(d, limit) or dt.date.max for d in self.made]
        built = self.own_built
        if built[1] > allowed[0]:
            likely = built[0] if built[0] > allowed[0] else None
            answer.dates = (built[0], likely, built[1] if built[0] > allowed[1] else None)
            if len({*self.made}) + len({*built}) > 2:
                answer.said.add("uncertain")
        return answer

    def take_out(self) -> Any:
        return self._given("take_out_on", "take_out_now")

    def replace_by(self) -> Any:
        return self._given("replace_by_on")

    def release(self) -> Any:
        return self._given("release_on", "released")

    def recheck(self) -> Any:
        return self._given("recheck_on")

    def _given(self, column: Any, word: Any = None) -> Any:
        date = day(self.row[column])
        return Answer((date,) * 3, said={word} if word and date else set())

    def inspect_months(self) -> Any:
        if self.place != "fitted":
            return self._not_here("inspect_months")
        last = self.inspected and (self.inspected, self.inspected)
        start = last or self.placed or self.built or (self.known, self.known)
        said = set() if self.inspected else {"never_inspected"}
        return self._age("inspect_months", start, "?", said=said)

    def unknown_age(self) -> Any:
        if self.built or self.made:
            return Answer()
        answer = Answer(said={"unknown_age"})
        due = self.known
        if self.inspected and self.inspected >= self.known:
            limit, answer.rule = self.strictest("inspect_months")
            answer.limit = 12 if limit is None else limit
            due = months_later(self.inspected, answer.limit)
        answer.dates = (due,) * 3
        return answer

    # ---- together ---------------------------------------------------------------------------

    def answers(self) -> Any:
        named = {
            "made": self.made_age,
            "built": self.built_age,
            "fitted": self.fitted_age,
            "storage": self.storage_age,
        }
        found = {w: (named[w] if w in named else getattr(self, w))() for w in WORDS}
        for word, answer in found.items():
            if self.place == "scrapped":
                answer.dates, answer.said = (None,) * 3, set()
            elif word != "take_out":
                self._put_off(word, answer)
        return found

    def _put_off(self, word: Any, answer: Any) -> Any:
        until = [
            day(e["until_on"])
            for e in self.exemptions
            if not e["triggers"] or e["triggers"] & (1 << NUMBER[word])
        ]
        if not until:
            return
        if answer.dates[0] and max(until) > answer.dates[0]:
            answer.said.add("exempted")
        answer.dates = tuple(d and max(d, *until) for d in answer.dates)

    def result(self) -> Any:
        answers = self.answers()
        replace = {w: a for w, a in answers.items() if NUMBER[w] <= 10}
        inspect = {w: a for w, a in answers.items() if NUMBER[w] > 10}
        flags = sum(FLAGS[word] for word in set().union(*(a.said for a in answers.values())))
        if not self.rules and self.place != "scrapped":
            flags += FLAGS["no_rule"]
        on, trigger, rule = _first(replace)
        inspect_on, inspect_trigger, inspect_rule = _first(inspect)
        return {
            "replace_early": min(number(a.dates[0]) for a in replace.values()),
            "replace_on": on,
            "replace_late": min(number(a.dates[2]) for a in replace.values()),
            "replace_trigger": trigger,
            "replace_rule": rule,
            "inspect_on": inspect_on,
            "inspect_trigger": inspect_trigger,
            "inspect_rule": inspect_rule,
            "flags": flags,
        }


def _first(answers: Any) -> Any:
    dated = [(a.dates[1], NUMBER[w], a.rule) for w, a in answers.items() if a.dates[1]]
    if not dated:
        return NONE, 0, NONE
    date, trigger, rule = min(dated)
    return number(date), trigger, rule
