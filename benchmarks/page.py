"""How heavy and how quick the page is: weight, time to usable, slide to redraw.

Needs a Chromium and the playwright wheel, as the tests of the page do. Prints one line for each
figure; three components on eight plates for the slide.
"""

from __future__ import annotations

import statistics
import sys
import time
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[1]
sys.path[:0] = [str(ROOT / "src"), str(ROOT / "tests")]

from journeys.browser import started_browser  # noqa: E402 -- the tests' own tools, found above
from journeys.served import Server  # noqa: E402

MOVES = 40
_WATCH = """async ([label, place]) => {
  const slide = document.querySelector(`input[type=range][aria-label="${label}"]`);
  const line = document.querySelector('.answer .line.head');
  const before = line.getAttribute('d');
  const start = performance.now();
  slide.value = String(place);
  slide.dispatchEvent(new Event('input', {bubbles: true}));
  await Promise.race([
    new Promise(done => {
      new MutationObserver((_, watcher) => { watcher.disconnect(); done(); })
        .observe(line, {attributes: true, attributeFilter: ['d']});
    }),
    new Promise(done => setTimeout(done, 3000)),
  ]);
  await new Promise(requestAnimationFrame);
  return [performance.now() - start, before !== line.getAttribute('d')];
}"""


def main() -> int:
    """Measure and print; returns the exit code."""
    server = Server()
    try:
        with started_browser() as browser:
            _loading(browser, server)
            _sliding(browser, server, "three-on-eight", "Reflux, slide", (30.0, 160.0))
            _sliding(browser, server, "class-pair", "Reflux, slide", (30.0, 160.0))
    finally:
        server.close()
    return 0


def _loading(browser: Any, server: Server) -> None:
    times, weights = [], []
    for _ in range(5):
        context = browser.new_context()
        page = context.new_page()
        session = context.new_cdp_session(page)
        session.send("Network.enable")
        sizes: list[float] = []
        session.on("Network.loadingFinished", lambda f, s=sizes: s.append(f["encodedDataLength"]))
        start = time.perf_counter()
        page.goto(server.address)
        page.wait_for_selector('[data-ready="true"]')
        times.append(time.perf_counter() - start)
        weights.append(sum(sizes))
        context.close()
    print(f"on the wire until usable: {max(weights) / 1e3:.0f} kB")
    print(f"usable after {statistics.median(times):.2f} s (median of {len(times)}, no cache)")


def _sliding(
    browser: Any, server: Server, example: str, label: str, span: tuple[float, float]
) -> None:
    context = browser.new_context(viewport={"width": 1280, "height": 860})
    page = context.new_page()
    page.goto(server.address)
    page.wait_for_selector('[data-ready="true"]')
    page.locator("header select").select_option(example)
    page.wait_for_timeout(1500)
    took = []
    for k in range(MOVES):
        place = span[0] + (span[1] - span[0]) * ((k * 7) % MOVES) / MOVES
        milliseconds, moved = page.evaluate(_WATCH, [label, place])
        if not moved:
            print(f"{example}: at {place:g} the line stayed as it was")
            continue
        took.append(milliseconds)
    context.close()
    took.sort()
    p95 = took[int(0.95 * len(took)) - 1]
    print(f"{example}: slide to redraw {statistics.median(took):.0f} ms median, {p95:.0f} ms p95")


if __name__ == "__main__":
    sys.exit(main())
