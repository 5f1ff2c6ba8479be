"""What callers send: parameters and bodies with known names only, each given once."""

from typing import Any, Self

from rest_framework import serializers
from rest_framework.request import Request

from fleet.api.problems import BadRequest
from fleet.calc.keys import text_key
from fleet.models import Person, Site

MOST_ROWS = 200
LARGEST_ID = 2**63 - 1


class Parameters(serializers.Serializer[Any]):
    """The query of an endpoint. An unknown name is refused: a filter is never left out unsaid."""

    @classmethod
    def read(cls, request: Request) -> dict[str, Any]:
        known = cls().fields
        for name, values in request.query_params.lists():
            if name not in known:
                raise BadRequest(
                    "unknown_parameter",
                    f"There is no parameter “{name[:40]}” here. There are: {', '.join(known)}.",
                    field=name[:40],
                )
            if len(values) > 1:
                raise BadRequest("given_twice", f"“{name}” is given twice.", field=name)
        return _valid(cls(data=request.query_params.dict()))


class PageParameters(Parameters):
    """The query of a list: which page of it."""

    cursor = serializers.CharField(
        required=False, default="", max_length=600, help_text="“next” of the page before."
    )
    page_size = serializers.IntegerField(
        required=False, default=50, min_value=1, max_value=MOST_ROWS, help_text="Rows a page."
    )


class NoParameters(Parameters):
    """The query of an endpoint that takes none."""


class Body(serializers.Serializer[Any]):
    """The body of a request. An unknown name is refused: nothing is dropped unsaid."""

    @classmethod
    def read(cls, request: Request) -> dict[str, Any]:
        return cls.read_data(request.data)

    @classmethod
    def read_data(cls, data: Any) -> dict[str, Any]:
        """The same of one object among several."""
        known = cls().fields
        for name in data:
            if name not in known:
                raise BadRequest(
                    "unknown_field",
                    f"There is no field “{name[:40]}” here. There are: {', '.join(known)}.",
                    field=name[:40],
                )
        return _valid(cls(data=data))


class PageOut(serializers.Serializer[Any]):
    """A page of a list."""

    next = serializers.CharField(
        allow_null=True, help_text="The cursor of the next page; null on the last."
    )


def _valid(serializer: serializers.Serializer[Any]) -> dict[str, Any]:
    serializer.is_valid(raise_exception=True)
    found: dict[str, Any] = dict(serializer.validated_data)
    return found


class Chosen(serializers.ChoiceField):
    """One of some words; a wrong one is answered with those that there are."""

    def fail(self, key: str, **kwargs: Any) -> Any:
        if key == "invalid_choice":
            words = ", ".join(str(choice) for choice in self.choices)
            raise serializers.ValidationError(
                f"“{str(kwargs['input'])[:40]}” is none of: {words}.", code="unknown_word"
            )
        return super().fail(key, **kwargs)

    @classmethod
    def of(cls, words: Any, **options: Any) -> Self:
        return cls(choices=list(words), **options)


def row_id(**options: Any) -> serializers.IntegerField:
    """The id of a row, within what a database can hold."""
    return serializers.IntegerField(min_value=1, max_value=LARGEST_ID, **options)


def site_id_of(person: Person, code: str) -> int | None:
    """The id of a site by its code; None where no code is given. Another's site is no site."""
    if not code:
        return None
    found = Site.objects.visible_to(person).filter(code_key=text_key(code)).first()
    if found is None:
        raise BadRequest("unknown_site", f"No site of yours has the code “{code}”.", field="site")
    return int(found.pk)
