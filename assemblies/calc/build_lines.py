"""The lines of a judgement: what was wanted, what was got, and what that comes to in words."""

from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum


class Verdict(StrEnum):
    """How one line stands. Only *good* and *doubtful* can be signed, *doubtful* with a note."""

    GOOD = "good"
    DOUBTFUL = "doubtful"
    OUT = "out"
    MISSING = "missing"


@dataclass(frozen=True, slots=True)
class Line:
    """One thing judged. `field` is the box it was typed in; `sentence` says what to do."""

    step: str
    field: str
    what: str
    wanted: str
    got: str
    verdict: Verdict
    sentence: str = ""

    @property
    def named(self) -> str:
        """What it is, with its end where it is of one.

        >>> Asked("end A", "a_pin", "Pin").missing("Try the pin.").named
        'End A, pin'
        """
        if not self.step.startswith("end "):
            return self.what
        return f"End {self.step[4:]}, {self.what[:1].lower()}{self.what[1:]}"


@dataclass(frozen=True, slots=True)
class Asked:
    """One thing that the sheet asks for: which step, which box, what, and how much."""

    step: str
    field: str
    what: str
    wanted: str = ""

    def good(self, got: str) -> Line:
        """It is as it is wanted.

        >>> Asked("cut", "cut_square", "Cut square").good("yes").verdict.value
        'good'
        """
        return self._line(got, Verdict.GOOD, "")

    def doubtful(self, got: str, sentence: str) -> Line:
        """It can't be told whether it is."""
        return self._line(got, Verdict.DOUBTFUL, sentence)

    def out(self, got: str, sentence: str) -> Line:
        """It is not."""
        return self._line(got, Verdict.OUT, sentence)

    def missing(self, sentence: str) -> Line:
        """Nothing is written yet."""
        return self._line("", Verdict.MISSING, sentence)

    def _line(self, got: str, verdict: Verdict, sentence: str) -> Line:
        return Line(self.step, self.field, self.what, self.wanted, got, verdict, sentence)


@dataclass(frozen=True, slots=True)
class Judgement:
    """All lines of one piece."""

    lines: tuple[Line, ...]

    @property
    def obstacles(self) -> tuple[Line, ...]:
        """What stands in the way of signing it as good."""
        return self._with(Verdict.OUT, Verdict.MISSING)

    @property
    def out(self) -> tuple[Line, ...]:
        """What is out of tolerance or wrong."""
        return self._with(Verdict.OUT)

    @property
    def doubts(self) -> tuple[Line, ...]:
        """What can be signed only with a note that says what was decided."""
        return self._with(Verdict.DOUBTFUL)

    @property
    def good(self) -> bool:
        """Whether it can be signed."""
        return not self.obstacles

    def of(self, *steps: str) -> tuple[Line, ...]:
        """The lines of some steps.

        >>> cut = Asked("cut", "cut_square", "Cut square").good("yes")
        >>> Judgement((cut,)).of("end A")
        ()
        """
        return tuple(line for line in self.lines if line.step in steps)

    def _with(self, *verdicts: Verdict) -> tuple[Line, ...]:
        return tuple(line for line in self.lines if line.verdict in verdicts)


def judgement_of(lines: Iterable[Line | None]) -> Judgement:
    """A judgement of the lines that there are."""
    return Judgement(tuple(line for line in lines if line is not None))
