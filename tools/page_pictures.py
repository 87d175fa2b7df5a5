"""Takes the pictures of the page that the README shows, anew, from the demo.

    PYTHONPATH=src python tools/page_pictures.py

Needs a Chromium and the playwright wheel, as the tests of the page do.
"""

from __future__ import annotations

import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
sys.path[:0] = [str(ROOT / "src"), str(ROOT / "tests")]

from journeys.browser import opened, started_browser  # noqa: E402 -- the tests' own tools
from journeys.served import Server  # noqa: E402

PICTURES = ROOT / "docs" / "pictures"
SIZES = {"page-desk.png": (1280, 800), "page-tablet.png": (820, 1060)}
BANDS_MS = 120_000


def main() -> int:
    """Take them; returns the exit code."""
    server = Server()
    try:
        with started_browser() as browser:
            for name, size in SIZES.items():
                with opened(browser, server, size) as look:
                    look.page.get_by_text("8 times in 10 it stays inside").wait_for(
                        state="attached", timeout=BANDS_MS
                    )
                    look.page.screenshot(path=PICTURES / name)
                    whole = PICTURES / name.replace(".png", "-whole.png")
                    look.page.wait_for_load_state("networkidle")
                    look.page.screenshot(path=whole, full_page=True)
                    print(PICTURES / name, whole)
    finally:
        server.close()
    return 0


if __name__ == "__main__":
    sys.exit(main())
