"""A file to read, whether it lies on disk or in memory."""

import io
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO


@dataclass(frozen=True)
class Source:
    """Bytes, or the path of a file, with the name its owner gave it."""

    content: bytes | Path
    name: str

    @property
    def size(self) -> int:
        if isinstance(self.content, Path):
            return self.content.stat().st_size
        return len(self.content)

    @property
    def ending(self) -> str:
        """The last part of the name in small letters, with its dot; empty without one."""
        return Path(self.name.replace("\0", "")).suffix.lower()

    def open(self) -> BinaryIO:
        if isinstance(self.content, Path):
            return self.content.open("rb")
        return io.BytesIO(self.content)

    def head(self, count: int) -> bytes:
        with self.open() as stream:
            return stream.read(count)
