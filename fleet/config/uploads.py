"""A bound on what may be uploaded, held while it arrives and not after."""

from typing import IO, Any

from django.conf import settings
from django.core.files.uploadhandler import FileUploadHandler, StopUpload


class UploadLimit(FileUploadHandler):
    """Stops an upload that is announced as too large, or turns out to be.

    The view finds no file; `request.upload_refusal` is the sentence to show.
    """

    def handle_raw_input(
        self,
        input_data: IO[bytes],
        META: dict[str, str],  # noqa: N803  # Django calls it by this name
        content_length: int,
        boundary: str,
        encoding: str | None = None,
    ) -> Any:
        # Nothing can be refused from here yet: Django catches StopUpload only further on.
        self.announced_bytes, self.received_bytes = content_length, 0
        return None

    def new_file(self, *args: Any, **kwargs: Any) -> None:
        super().new_file(*args, **kwargs)
        if self.announced_bytes > settings.UPLOAD_LIMIT_BYTES:
            self._refuse()

    def receive_data_chunk(self, raw_data: bytes, start: int) -> bytes:
        self.received_bytes += len(raw_data)
        if self.received_bytes > settings.UPLOAD_LIMIT_BYTES:
            self._refuse()
        return raw_data

    def file_complete(self, file_size: int) -> None:
        return None

    def _refuse(self) -> None:
        megabytes = settings.UPLOAD_LIMIT_BYTES // 2**20
        if self.request is not None:
            self.request.upload_refusal = (  # type: ignore[attr-defined]  # read by the view
                f"The file is larger than {megabytes} MB: split it, or leave out its pictures."
            )
        raise StopUpload(connection_reset=False)
