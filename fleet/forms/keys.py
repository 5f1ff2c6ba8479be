"""The form of an API key."""

from typing import Any

from django import forms

from fleet.actions.keys import LONGEST_DAYS
from fleet.models import Person, Site


class KeyForm(forms.Form):
    """What the key is for, what it may see and do, and how long."""

    name = forms.CharField(
        label="What it is for", max_length=80, help_text="The program, and where it runs."
    )
    site = forms.ModelChoiceField(
        Site.objects.none(), label="Site", required=False, empty_label="all that I see"
    )
    may_write = forms.BooleanField(label="It may record, not only read", required=False)
    days = forms.IntegerField(
        label="It lasts",
        min_value=1,
        max_value=LONGEST_DAYS,
        initial=90,
        widget=forms.TextInput(attrs={"inputmode": "numeric"}),
    )

    def __init__(self, *args: Any, person: Person, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        sites: Any = self.fields["site"]
        sites.queryset = Site.objects.visible_to(person).filter(withdrawn_at=None)
