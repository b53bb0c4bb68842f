"""The phone's icons out of our own drawings, by Chromium: `python -m tests.icons`."""

import base64
import sys
from io import BytesIO
from pathlib import Path

from PIL import Image
from playwright.sync_api import sync_playwright

from tests import chromium

IMAGES = Path(__file__).resolve().parents[1] / "static" / "img"
COLOURS = 48
ICONS = (
    ("thawline.svg", "phone-192.png", 192),
    ("thawline.svg", "phone-512.png", 512),
    ("phone-maskable.svg", "phone-512-maskable.png", 512),
)


def _page(drawing: Path, size: int) -> str:
    data = base64.b64encode(drawing.read_bytes()).decode()
    style = f"margin:0;width:{size}px;height:{size}px;display:block"
    return f'<body style="margin:0"><img style="{style}" src="data:image/svg+xml;base64,{data}">'


def main() -> int:
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(
            executable_path=chromium.require(), args=["--no-sandbox"]
        )
        for drawing, icon, size in ICONS:
            page = browser.new_page(viewport={"width": size, "height": size})
            page.set_content(_page(IMAGES / drawing, size))
            drawn = page.screenshot(omit_background=True)
            # Flat colours and their edges: a small palette shows no difference and halves the file.
            with Image.open(BytesIO(drawn)) as picture:
                picture.quantize(COLOURS).save(IMAGES / icon, optimize=True)
        browser.close()
    return 0


if __name__ == "__main__":
    sys.exit(main())
