"""Small forms of measured hoses: photos, setting aside."""

from django import forms

from assemblies.forms.boxes import text_box
from fleet.forms.photos import PhotosBox


class CopyPhotosForm(forms.Form):
    """Photos of an old hose: each end, the layline, where it ran."""

    photos = PhotosBox(label="Photos")
    caption = text_box("What they show", 200)
    client_id = forms.CharField(widget=forms.HiddenInput, max_length=40)


class SetAsideForm(forms.Form):
    """Why no spec comes of it."""

    reason = text_box("Why no spec comes of it", 500, required=True)
