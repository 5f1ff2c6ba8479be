"""The addresses of styles, scripts and signs: by what is in them, looked up once."""

from typing import Any

from django.conf import settings
from django.contrib.staticfiles.storage import ManifestStaticFilesStorage


class KeptNames(ManifestStaticFilesStorage):
    """As Django's own, but a name is looked up once: every page asks for a dozen."""

    def __init__(self, *given: Any, **named: Any) -> None:
        super().__init__(*given, **named)
        self._kept: dict[str, str] = {}

    def url(self, name: str | None, force: bool = False) -> str:
        if settings.DEBUG or force or not name:
            return str(super().url(name or "", force))
        if name not in self._kept:
            self._kept[name] = str(super().url(name))
        return self._kept[name]

    def post_process(self, *given: Any, **named: Any) -> Any:
        """Name the files anew: what was kept of the old names is forgotten."""
        self._kept.clear()
        return super().post_process(*given, **named)
