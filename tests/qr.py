"""Read a code back with a reader that shares nothing with what drew it (zxing-cpp)."""

import re
from urllib.parse import unquote
from xml.etree import ElementTree

import numpy as np
import zxingcpp

PIXELS_PER_MODULE = 6
STEP = re.compile(r"([mMhHvVzZ])|(-?\d+(?:\.\d+)?)")


def svg_of(data_uri: str) -> str:
    head, _, body = data_uri.partition(",")
    assert head.startswith("data:image/svg+xml"), head
    return unquote(body)


def painted(svg: str) -> np.ndarray:
    """The picture in grey, from its strokes, each a run of dark modules."""
    root = ElementTree.fromstring(svg)  # noqa: S314 - our own drawing
    size = int(root.get("viewBox").split()[2])
    grid = np.full((size, size), 255, np.uint8)
    strokes = [path for path in root.iter() if path.get("stroke")]
    for left, right, row in _runs(strokes[0].get("d")):
        grid[row, left:right] = 0
    return np.kron(grid, np.ones((PIXELS_PER_MODULE, PIXELS_PER_MODULE), np.uint8))


def _runs(drawing: str):
    """Horizontal runs of a path of M, m and h steps."""
    words = [letter or float(number) for letter, number in STEP.findall(drawing)]
    x = y = 0.0
    while words:
        step = words.pop(0)
        if step == "h":
            length = words.pop(0)
            yield int(x), int(x + length), int(y)
            x += length
        else:
            assert step in "mM", step
            dx, dy = words.pop(0), words.pop(0)
            x, y = (dx, dy) if step == "M" else (x + dx, y + dy)


def read(image: np.ndarray) -> list[str]:
    found = zxingcpp.read_barcodes(image, formats=zxingcpp.BarcodeFormat.QRCode)
    return [code.text for code in found]


def read_data_uri(data_uri: str) -> str:
    (text,) = read(painted(svg_of(data_uri)))
    return text
