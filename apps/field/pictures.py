"""What a picture is by its content; its name and what the phone says of it count for nothing."""

from dataclasses import dataclass
from io import BytesIO

from PIL import Image

MOST_PIXELS = 40_000_000
# By what Pillow calls them; a picture with a second one for depth inside is a JPEG to everybody.
KINDS = {"JPEG": "jpeg", "MPO": "jpeg", "PNG": "png", "WEBP": "webp"}
TOO_LARGE = f"The picture has over {MOST_PIXELS // 1_000_000} million pixels."
BOMBS = (Image.DecompressionBombError, Image.DecompressionBombWarning)


class NotAPicture(ValueError):
    """The bytes are no picture that can be kept; the message says why and what to do."""


@dataclass(frozen=True)
class Picture:
    """What was found in the bytes."""

    kind: str
    width_px: int
    height_px: int


def examine(data: bytes) -> Picture:
    """Read the picture to its last line; its size is asked before a pixel is unpacked."""
    try:
        with Image.open(BytesIO(data), formats=("JPEG", "PNG", "WEBP")) as image:
            found = Picture(KINDS[image.format or ""], image.width, image.height)
            if image.width * image.height <= MOST_PIXELS:
                image.load()
                return found
    except BOMBS as bomb:
        raise NotAPicture(TOO_LARGE) from bomb
    except Exception as error:
        # Damaged files break a decoder in as many ways as it has lines; all of them say the same.
        raise NotAPicture(
            "This is no whole JPEG, PNG or WebP picture: take the photo again."
        ) from error
    raise NotAPicture(TOO_LARGE)
