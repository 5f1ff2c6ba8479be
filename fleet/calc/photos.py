"""Drawing a sent picture anew: smaller, upright, and with nothing in it but what it shows.

What is sent may be damaged, enormous, or something else under a picture's name. It is therefore
never kept as it came: its dots are read once, within bounds, and written as a fresh JPEG. The
place where it was taken, the phone it was taken with and whatever else hides in the file is gone.
"""

import io
from dataclasses import dataclass
from typing import Final

from PIL import Image, ImageOps

LONGEST_SIDE: Final = 1600
MOST_BYTES: Final = 15 * 2**20
MOST_DOTS: Final = 50_000_000
MOST_DOTS_READ_WHOLE: Final = 25_000_000
MOST_SCANS: Final = 64
QUALITY: Final = 82
_FORMS: Final = ("JPEG", "PNG", "WEBP")
_START_OF_SCAN: Final = b"\xff\xda"


class PhotoUnreadable(ValueError):
    """It is no picture of a known form, or not a whole one."""


class PhotoTooLarge(ValueError):
    """It has more bytes or more dots than are read."""


@dataclass(frozen=True, slots=True)
class Drawn:
    """A picture drawn anew: JPEG, and its size in dots."""

    content: bytes
    width: int
    height: int


def drawn_anew(content: bytes, *, longest_side: int = LONGEST_SIDE) -> Drawn:
    """A JPEG of what a sent picture shows, upright, its longer side `longest_side` dots at most.

    `content`: the bytes of a JPEG, PNG or WebP, up to 15 MB; up to 50 million dots where the
    form can be read at a smaller scale (a plain JPEG), else 25 million. A smaller picture keeps
    its size. Of a moving picture the first frame is kept; what is clear is drawn on white.

    Raises `PhotoTooLarge`, `PhotoUnreadable`. Bounds: the project's own.

    >>> sent = io.BytesIO()
    >>> Image.new("RGB", (3200, 1200), "grey").save(sent, "PNG")
    >>> drawn = drawn_anew(sent.getvalue())
    >>> drawn.width, drawn.height, drawn.content[:3].hex()
    (1600, 600, 'ffd8ff')
    """
    if len(content) > MOST_BYTES:
        raise PhotoTooLarge(f"It has {len(content) / 2**20:.0f} MB")
    try:
        with Image.open(io.BytesIO(content), formats=_FORMS) as sent:
            _refuse_large(sent, content)
            sent.draft("RGB", (longest_side, longest_side))
            small = _on_white(_upright(sent))
    except (PhotoTooLarge, PhotoUnreadable):
        raise
    except Image.DecompressionBombError as error:
        raise PhotoTooLarge("It has too many dots") from error
    except Exception as error:  # a decoder of damaged bytes may fail in any way
        raise PhotoUnreadable(str(error)) from error
    small.thumbnail((longest_side, longest_side), Image.Resampling.LANCZOS)
    return _written(small)


def _refuse_large(sent: Image.Image, content: bytes) -> None:
    scaled = sent.format in ("JPEG", "MPO") and not sent.info.get("progressive")
    bound = MOST_DOTS if scaled else MOST_DOTS_READ_WHOLE
    if sent.width * sent.height > bound:
        raise PhotoTooLarge(f"It has {sent.width} × {sent.height} dots")
    # Each scan of a JPEG goes over all its dots: thousands of empty ones would take minutes.
    if content.count(_START_OF_SCAN) > MOST_SCANS:
        raise PhotoUnreadable("It is written in too many layers")


def _upright(sent: Image.Image) -> Image.Image:
    """Turned as the camera said it was held; as it came where the camera's words can't be read."""
    sent.load()
    try:
        turned = ImageOps.exif_transpose(sent)
    except Exception:  # damaged words of a camera don't make the picture worthless
        return sent
    return turned or sent


def _on_white(picture: Image.Image) -> Image.Image:
    """A fresh picture with the dots alone: words that came with the file stay behind."""
    fresh = Image.new("RGB", picture.size, "white")
    if picture.has_transparency_data:
        seen = picture.convert("RGBA")
        fresh.paste(seen, mask=seen.getchannel("A"))
    else:
        fresh.paste(picture.convert("RGB"))
    return fresh


def _written(picture: Image.Image) -> Drawn:
    out = io.BytesIO()
    picture.save(out, "JPEG", quality=QUALITY, optimize=True)
    return Drawn(out.getvalue(), picture.width, picture.height)
