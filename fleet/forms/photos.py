"""The form field of photos: several at once, and never needed."""

from collections.abc import Sequence
from typing import Any

from django import forms
from django.core.files.uploadedfile import UploadedFile
from django.http import HttpRequest

MOST_AT_ONCE = 8


class PhotosInput(forms.FileInput):
    """A file box that takes several. Without `capture`: a phone offers camera and gallery."""

    allow_multiple_selected = True

    def __init__(self, attrs: dict[str, Any] | None = None) -> None:
        super().__init__({"accept": "image/jpeg,image/png,image/webp", **(attrs or {})})


class PhotosBox(forms.FileField):
    """Photos of what a form tells; gives a list of uploaded files for `keep_photos`.

    The form needs `enctype="multipart/form-data"` and `request.FILES`; what the server stopped
    for its size is told by `upload_stopped`.
    """

    widget = PhotosInput

    def __init__(self, **options: Any) -> None:
        hint = f"Up to {MOST_AT_ONCE}. Kept small, and without the place where they were taken."
        given = {"label": "Photos", "required": False, "help_text": hint, **options}
        super().__init__(allow_empty_file=True, **given)

    def clean(self, data: Any, initial: Any = None) -> Any:
        sent: Sequence[UploadedFile[Any]] = data if isinstance(data, list | tuple) else [data]
        cleaned = [super(PhotosBox, self).clean(one, None) for one in sent if one]
        if self.required and not cleaned:
            raise forms.ValidationError(self.error_messages["required"], code="required")
        if len(cleaned) > MOST_AT_ONCE:
            raise forms.ValidationError(
                f"{len(cleaned)} photos are more than {MOST_AT_ONCE} at once: leave out some.",
                code="too_many",
            )
        return cleaned


def upload_stopped(form: forms.BaseForm, request: HttpRequest, *, field: str = "photos") -> bool:
    """Whether the upload was stopped for its size; then the form says so. Ask before `is_valid`,
    and save nothing: what came after the file in the request never arrived."""
    sentence = getattr(request, "upload_refusal", "")
    if sentence:
        form.add_error(field, sentence)
    return bool(sentence)
