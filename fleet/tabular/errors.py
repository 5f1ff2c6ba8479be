"""Why a file is not read: one sentence a person can act on, and a word a program can test."""

from dataclasses import dataclass


class TableRefused(Exception):
    """A file that is not read. `sentence` says what is wrong and what would be right."""

    def __init__(self, code: str, sentence: str) -> None:
        super().__init__(sentence)
        self.code = code
        self.sentence = sentence


@dataclass(frozen=True)
class EncodingReading:
    """One way to read a text, with the first doubtful line as it would then look."""

    encoding: str
    label: str
    sample: str


class EncodingAsked(TableRefused):
    """The text is not UTF-8 and does not say what it is: a person has to say."""

    def __init__(self, line_number: int, readings: tuple[EncodingReading, ...]) -> None:
        names = ", ".join(f"{reading.label} ({reading.encoding})" for reading in readings)
        super().__init__(
            "encoding",
            f"Line {line_number} holds letters that are not UTF-8. Say which table of letters "
            f"the file uses ({names}), or save it again as “CSV UTF-8”.",
        )
        self.line_number = line_number
        self.readings = readings
