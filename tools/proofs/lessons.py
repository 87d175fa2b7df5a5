"""Every ready lesson: made, its numbers worked out again, opened, run, printed; figures written.

Run with `python tools/proofs/lessons.py`; it rewrites docs/explain/lessons.md. Needs Chromium.
"""

from __future__ import annotations

import gzip
import re
import sys
import tempfile
import time
from datetime import date
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
sys.path[:0] = [str(ROOT / "tests"), str(ROOT / "src")]

from forerun.app.lesson import folder_files, lesson  # noqa: E402
from forerun.sheets.topics import topics  # noqa: E402
from journeys.browser import started_browser  # noqa: E402
from unit.reporting.class_claims import wrong_numbers  # noqa: E402

PAGE = ROOT / "docs" / "explain" / "lessons.md"
AXE = ROOT / "tests" / "journeys" / "assets" / "axe.min.js.gz"
RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
WIDTHS = (1280, 820)
PACES = {"1": "1 min", "4": "4 min"}  # of the run in a second
WATCHED = 3500  # ms
LEAST = 30  # pictures a second


def looked_at(browser: object, address: str, width: int) -> tuple[list[str], list[str]]:
    """Return what axe finds and what else is wrong with a page at a width."""
    page = browser.new_context(  # type: ignore[attr-defined]
        viewport={"width": width, "height": 1000}, bypass_csp=True
    ).new_page()
    said: list[str] = []
    page.on("console", lambda line: said.append(line.text))
    page.on("pageerror", lambda problem: said.append(str(problem)))
    page.goto(address)
    page.wait_for_selector("html[data-ready=true]", timeout=60_000)
    page.evaluate(gzip.decompress(AXE.read_bytes()).decode())
    run = f"axe.run(document, {{runOnly: {RULES}}}).then(r => r.violations.map(v => v.id))"
    found = page.evaluate(run)
    if page.evaluate("document.documentElement.scrollWidth") > width:
        said.append("something sticks out at the side")
    page.context.close()
    return found, said


def frames(browser: object, address: str) -> dict[str, int]:
    """Return pictures a second of the largest column at each pace."""
    page = browser.new_context(  # type: ignore[attr-defined]
        viewport={"width": 1280, "height": 1000}
    ).new_page()
    page.goto(address)
    page.wait_for_selector("html[data-ready=true]", timeout=60_000)
    page.check('input[name="way"][value="3"]')
    page.locator("#views").scroll_into_view_if_needed()
    told = {}
    for pace in PACES:
        page.select_option("#pace", pace)
        page.click("#play")
        page.wait_for_timeout(WATCHED)
        told[pace] = int(page.evaluate("document.documentElement.dataset.frames || 0"))
        page.click("#play")
    page.context.close()
    return told


def pages(browser: object, address: str) -> int:
    """Return how many pages it prints on."""
    page = browser.new_context().new_page()  # type: ignore[attr-defined]
    page.goto(address)
    page.wait_for_selector("html[data-ready=true]", timeout=60_000)
    printed = page.pdf(format="A4", prefer_css_page_size=True)
    page.context.close()
    return len(re.findall(rb"/Type\s*/Page\b", printed))


def main() -> int:
    """Look at every lesson; 1 when something is wrong."""
    rows, bad = [], []
    with tempfile.TemporaryDirectory() as folder, started_browser() as browser:
        for name in topics():
            started = time.monotonic()
            found = lesson(name)
            made = time.monotonic() - started
            numbers, wrong = wrong_numbers(found)
            path = Path(folder) / f"{name}.html"
            path.write_bytes(folder_files(found)["page.html"])
            seen = {width: looked_at(browser, path.as_uri(), width) for width in WIDTHS}
            axe = sum(len(violations) for violations, _ in seen.values())
            rate, sheets = frames(browser, path.as_uri()), pages(browser, path.as_uri())
            bad += [f"{name}: {one}" for one in wrong]
            for width, (violations, said) in seen.items():
                bad += [f"{name} at {width} px: {one}" for one in (*violations, *said)]
            told = " / ".join(str(rate[pace]) for pace in PACES)
            rows.append(f"| `{name}` | {numbers} | {len(wrong)} | {axe} | {told} | {sheets} |")
            print(f"{name}: {made:.1f} s, {rows[-1]}", flush=True)
    write(rows)
    print("\n".join(bad))
    return 1 if bad else 0


def write(rows: list[str]) -> None:
    """Write the page."""
    head = (
        "# The ready lessons, looked at\n\n"
        "Written by `python tools/proofs/lessons.py` "
        f"on {date.today().isoformat()}, with headless Chromium on two cores without a graphics "
        "card that other work shared.\n\n"
        "*Numbers*: those in the sentences of the page, each worked out again from the trace, the "
        "ledger or the equilibrium, apart from the table of all cuts, every cell of which is "
        "compared too. *axe*: violations of WCAG 2.0 to 2.2 A and AA and of good practice, at "
        f"{' and '.join(str(w) for w in WIDTHS)} px together. *Pictures a second*: of the running "
        f"still with ten plates, at {' and '.join(PACES.values())} of the run in a second; below "
        "29 for three seconds the page goes on in steps and says so. *Paper*: A4 pages when it "
        "is printed.\n\n"
        "| lesson | numbers | wrong | axe | pictures a second | paper |\n"
        "|---|---|---|---|---|---|\n"
    )
    PAGE.write_text(head + "\n".join(rows) + "\n", encoding="utf-8")


if __name__ == "__main__":
    sys.exit(main())
