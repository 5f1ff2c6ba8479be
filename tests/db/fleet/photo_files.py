"""Files as phones send them, and as nobody should."""

import io
import struct
import zlib
from typing import Any

from django.core.files.uploadedfile import SimpleUploadedFile
from PIL import Image

GPS_DIRECTORY, ORIENTATION, MAKER = 0x8825, 0x0112, 0x010F
LATITUDE = 2


def picture(form: str = "JPEG", size: tuple[int, int] = (80, 40), **options: Any) -> bytes:
    """A small picture: the left half dark, the right half light."""
    drawn = Image.new("RGB", size, "black")
    drawn.paste("white", (size[0] // 2, 0, *size))
    out = io.BytesIO()
    drawn.save(out, form, **options)
    return out.getvalue()


def from_a_phone(orientation: int = 1) -> bytes:
    """A JPEG that says where it was taken, with what, and how the phone was held."""
    words = Image.Exif()
    words[MAKER] = "Maker of phones"
    words[ORIENTATION] = orientation
    words.get_ifd(GPS_DIRECTORY)[LATITUDE] = (51.0, 12.0, 7.0)
    return picture(exif=words, comment=b"Gate code 4711")


def bomb_of_dots(width: int = 30_000, height: int = 30_000) -> bytes:
    """A PNG of a few kilobytes that unpacks to 900 million dots."""

    def chunk(kind: bytes, body: bytes) -> bytes:
        return (
            struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body))
        )

    head = struct.pack(">IIBBBBB", width, height, 1, 0, 0, 0, 0)
    rows = zlib.compress(bytes((width // 8 + 1) * 64))
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", rows) + chunk(b"IEND", b"")


def many_scans() -> bytes:
    """A progressive JPEG whose last scan is repeated a hundred times."""
    plain = picture(progressive=True)
    last = plain.rindex(b"\xff\xda")
    return plain[:-2] + plain[last:-2] * 100 + plain[-2:]


SVG = b'<svg xmlns="http://www.w3.org/2000/svg"><script>alert(1)</script></svg>'
HTML = b"<!doctype html><script>alert(1)</script>"


def sent(content: bytes, name: str = "hose.jpg") -> SimpleUploadedFile:
    return SimpleUploadedFile(name, content, content_type="image/jpeg")
