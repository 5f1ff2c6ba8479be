"""Forms of the import: sending a file, matching its columns, confirming what would happen."""

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from django import forms

from assemblies.actions.register.files import Matching
from assemblies.calc.register.fields import FACTS, Field
from fleet.forms.typed import DayBox
from fleet.models import Site

_NOT_READ = ("", "not read")
_FIELDS = [_NOT_READ, *((field.value, FACTS[field].label) for field in Field)]
LARGEST_ROW = 2_000_000


class UploadForm(forms.Form):
    """A register to be sent."""

    site = forms.ChoiceField(label="Site")
    file = forms.FileField(
        label="The register",
        help_text="XLSX or CSV. Titles, blank rows and your own column names may stay as they are.",
        widget=forms.ClearableFileInput(attrs={"accept": ".xlsx,.csv,.txt,.tsv"}),
    )

    def __init__(self, *args: Any, sites: Sequence[Site], **options: Any) -> None:
        super().__init__(*args, **options)
        self._sites = {str(site.pk): site for site in sites}
        choices = [(pk, site.name) for pk, site in self._sites.items()]
        self.fields["site"].choices = choices  # type: ignore[attr-defined]  # a choice field
        if len(choices) == 1:
            self.fields["site"].initial = choices[0][0]
            self.fields["site"].widget = forms.HiddenInput()

    @property
    def chosen_site(self) -> Site:
        return self._sites[self.cleaned_data["site"]]


class MatchForm(forms.Form):
    """What each column holds, and how what reads more than one way is meant."""

    sheet = forms.ChoiceField(label="Sheet", required=False)
    header_row = forms.IntegerField(
        label="Row with the column names",
        required=False,
        min_value=1,
        max_value=LARGEST_ROW,
        help_text="Leave it empty to let it be found.",
    )
    encoding = forms.ChoiceField(
        label="Which line reads right?", required=False, widget=forms.RadioSelect
    )
    ask_again = forms.BooleanField(label="Ask me everything again", required=False)

    def __init__(
        self,
        *args: Any,
        found: Mapping[str, Any],
        answers: Mapping[str, str],
        remembered: Mapping[str, str],
        **options: Any,
    ) -> None:
        super().__init__(*args, **options)
        self._found, self._answers, self._remembered = found, answers, remembered
        self._set_sheets()
        self._set_letters()
        if not answers.keys() - {"encoding"}:
            del self.fields["ask_again"]
        self._columns = [self._column(column) for column in found.get("columns", ())]
        self._questions = [self._question(question) for question in found.get("questions", ())]

    def _set_sheets(self) -> None:
        sheets = self._found.get("sheets", ())
        if len(sheets) < 2:
            del self.fields["sheet"]
            return
        choices = [("", "the one with the register"), *((name, name) for name in sheets)]
        self.fields["sheet"].choices = choices  # type: ignore[attr-defined]  # a choice field

    def _set_letters(self) -> None:
        letters = self._found.get("letters", ())
        if not letters:
            del self.fields["encoding"]
            return
        choices = [(name, f"{sample} ({label})") for name, label, sample in letters]
        self.fields["encoding"].choices = choices  # type: ignore[attr-defined]  # a choice field

    def _column(self, column: Mapping[str, Any]) -> str:
        name = f"column-{column['letter']}"
        label = column["header"] or f"column {column['letter']}, without a name"
        self.fields[name] = forms.ChoiceField(
            label=label, choices=_FIELDS, required=False, initial=column["field"]
        )
        return name

    def _question(self, question: Mapping[str, Any]) -> str:
        name = f"answer-{question['key']}"
        cells = "1 cell" if question["cells"] == 1 else f"{question['cells']:,} cells"
        hint = f"{cells}, such as {', '.join(question['examples'])}."
        offered = [(value, label) for value, label in question["options"]]
        initial = self._answers.get(question["key"]) or self._remembered.get(question["key"])
        if question["by_day"]:
            self.fields[name] = DayBox(
                label=question["sentence"], help_text=f"{hint} Empty leaves the hours out.",
                required=False,
            )  # fmt: skip
        else:
            self.fields[name] = forms.ChoiceField(
                label=question["sentence"],
                help_text=hint,
                choices=offered,
                widget=forms.RadioSelect,
                initial=initial,
            )
        return name

    def column_rows(self) -> Iterator[tuple[Mapping[str, Any], forms.BoundField]]:
        """Each column of the file with its box."""
        for column, name in zip(self._found.get("columns", ()), self._columns, strict=True):
            yield column, self[name]

    def question_boxes(self) -> list[forms.BoundField]:
        return [self[name] for name in self._questions]

    def said(self) -> Matching:
        """All that was said. Answers given before stand until they are given anew."""
        given = self.cleaned_data
        answers = {"encoding": self._answers.get("encoding", "")}
        answers |= {} if given.get("ask_again") else self._answers
        for question, name in zip(self._found.get("questions", ()), self._questions, strict=True):
            value = given.get(name)
            answers[question["key"]] = value.isoformat() if question["by_day"] and value else (
                "leave_out" if question["by_day"] else str(value or "")
            )  # fmt: skip
        if given.get("encoding"):
            answers["encoding"] = given["encoding"]
        return Matching(
            given.get("sheet", "") or "",
            given.get("header_row"),
            self._said_columns(),
            {key: value for key, value in answers.items() if value},
        )

    def _said_columns(self) -> dict[str, list[str]]:
        """The letters of each field's columns, where a person has changed what was found."""
        moved = self._found.get("columns") and (
            "sheet" in self.changed_data or "header_row" in self.changed_data
        )
        if moved or not self._columns:
            return {}
        said: dict[str, list[str]] = {field.value: [] for field in Field}
        for column, name in zip(self._found["columns"], self._columns, strict=True):
            if self.cleaned_data.get(name):
                said[self.cleaned_data[name]].append(f"[{column['letter']}]")
        return said


class ConfirmForm(forms.Form):
    """All rows or none, or the good rows alone."""

    take = forms.ChoiceField(
        label="Some rows are refused. What shall be written?",
        widget=forms.RadioSelect,
        choices=[
            ("none", "nothing: I mend the file and send it again"),
            ("good", "the good rows; the refused ones come back as a file"),
        ],
        initial="none",
    )

    def __init__(self, *args: Any, refused: int, **options: Any) -> None:
        super().__init__(*args, **options)
        if not refused:
            del self.fields["take"]

    def clean_take(self) -> str:
        if self.cleaned_data["take"] != "good":
            raise forms.ValidationError(
                "Nothing is written while rows are refused, unless you take the good rows."
            )
        return "good"
