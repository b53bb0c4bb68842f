"""Small pictures, whole and otherwise."""

import struct
import zlib
from hashlib import sha256
from io import BytesIO
from random import Random
from uuid import uuid4

from django.urls import reverse
from PIL import Image


def picture(kind="JPEG", size=(64, 48), seed=1) -> bytes:
    """Noise, which no compression makes small."""
    pixels = Random(seed).randbytes(size[0] * size[1] * 3)
    out = BytesIO()
    Image.frombytes("RGB", size, pixels).save(out, kind)
    return out.getvalue()


def png_that_claims(width, height) -> bytes:
    """A few bytes that say they unpack to a wall of pixels."""

    def chunk(name, data):
        check = zlib.crc32(name + data)
        return struct.pack(">I", len(data)) + name + data + struct.pack(">I", check)

    header = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    chunks = ((b"IHDR", header), (b"IDAT", zlib.compress(bytes(1000))), (b"IEND", b""))
    return b"\x89PNG\r\n\x1a\n" + b"".join(chunk(*one) for one in chunks)


class Upload:
    """One photo on its way, as a phone sends it."""

    def __init__(self, client, of, data, **said):
        self.client, self.data = client, data
        self.uuid = said.pop("uuid", uuid4())
        self.said = {"of": of, "sha256": sha256(data).hexdigest(), "total": len(data)} | said

    @property
    def address(self) -> str:
        return reverse("field:photo_intake", args=[self.uuid])

    def put(self, at, end=None, **said):
        """The bytes from there on, whatever is said of them besides."""
        query = "&".join(f"{key}={value}" for key, value in {**self.said, "at": at, **said}.items())
        start = at if isinstance(at, int) else 0
        return self.client.put(
            f"{self.address}?{query}",
            self.data[start:end],
            content_type="application/octet-stream",
        )

    def received(self):
        return self.client.get(self.address).json()

    def whole(self, step=65_536):
        """The answer to the last piece."""
        for at in range(0, len(self.data), step):
            answer = self.put(at, at + step)
        return answer
