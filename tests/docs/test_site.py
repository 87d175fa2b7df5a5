"""The built documents: every page there, links lead somewhere, nothing is fetched, search finds."""

from __future__ import annotations

import importlib.util
import re
import sys
from html.parser import HTMLParser
from pathlib import Path
from types import ModuleType
from urllib.parse import unquote

import pytest

import forerun
from docs._public import ROOT
from journeys.browser import started_browser


@pytest.fixture(scope="module")
def builder() -> ModuleType:
    path = ROOT / "tools" / "site" / "build.py"
    spec = importlib.util.spec_from_file_location("site_build", path)
    assert spec
    assert spec.loader
    module = importlib.util.module_from_spec(spec)
    sys.modules["site_build"] = module
    spec.loader.exec_module(module)
    return module


@pytest.fixture(scope="module")
def site(builder: ModuleType, tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("pages") / "site"
    builder.build(folder)
    return folder


class _Links(HTMLParser):
    """Every address and every anchor of a page."""

    def __init__(self, page: Path) -> None:
        super().__init__()
        self.links: list[str] = []
        self.loads: list[str] = []
        self.anchors: set[str] = set()
        self.headings = 0
        self.feed(page.read_text("utf-8"))

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = {name: value or "" for name, value in attrs}
        self.headings += tag == "h1"
        if "id" in given:
            assert given["id"] not in self.anchors, f"two of {given['id']}"
            self.anchors.add(given["id"])
        if tag == "a":
            self.links.append(given["href"])
        elif tag in {"script", "link", "img", "iframe", "source"}:
            self.loads.append(given.get("src") or given.get("href") or "")


def test_every_page_of_the_documents_is_built(site: Path) -> None:
    sources = [p.relative_to(ROOT) for p in (ROOT / "docs").rglob("*.md")]
    assert len(sources) > 40
    assert [s for s in sources if not (site / s.with_suffix(".html")).exists()] == []
    first = (site / "index.html").read_text("utf-8")
    assert [s for s in sources if f'href="{s.with_suffix(".html").as_posix()}"' not in first] == []


def test_every_link_leads_to_a_page_and_a_place_in_it(site: Path) -> None:
    pages = {path: _Links(path) for path in site.rglob("*.html")}
    broken = []
    for path, page in pages.items():
        assert page.headings == 1, path
        for link in (*page.links, *page.loads):
            if link.startswith(("http:", "https:", "mailto:")):
                continue
            target, _, part = unquote(link).partition("#")
            place = (path.parent / target).resolve() if target else path
            anchors = pages[place].anchors if place in pages else set()
            if not place.exists() or (part and part not in anchors):
                broken.append(f"{path.relative_to(site)}: {link}")
    assert broken == []


def test_nothing_is_loaded_from_elsewhere(site: Path) -> None:
    for path in site.rglob("*.html"):
        assert [load for load in _Links(path).loads if re.match(r"[a-z]+:|//", load)] == []
    for name in ("style.css", "search.js"):
        text = (site / name).read_text("utf-8")
        assert not re.search(r"https?:|@import|fetch\(|url\(", text), name


def test_every_function_stands_with_all_that_it_takes(site: Path) -> None:
    page = (site / "docs" / "reference" / "python.html").read_text("utf-8")
    for name in forerun.__all__:
        assert f'id="forerun{name}"' in page, name
    assert "<code>calibration</code>" in page


def test_what_is_not_a_site_is_not_emptied(builder: ModuleType, tmp_path: Path) -> None:
    (tmp_path / "thesis.txt").write_text("years of work")
    with pytest.raises(SystemExit, match="something else"):
        builder.build(tmp_path)
    assert (tmp_path / "thesis.txt").exists()


def test_a_word_is_found_from_disk_in_a_real_browser(site: Path) -> None:
    with started_browser() as browser:
        page = browser.new_page(viewport={"width": 1280, "height": 860})
        asked: list[str] = []
        said: list[str] = []
        page.on("request", lambda request: asked.append(request.url))
        page.on("pageerror", lambda problem: said.append(str(problem)))
        page.goto((site / "docs" / "start.html").as_uri())
        page.keyboard.press("/")
        page.keyboard.type("azeotrope")
        first = page.locator("#found a").first
        first.wait_for()
        assert page.locator("#found li").count() >= 5
        assert "azeotrope" in page.locator("#found mark").first.inner_text().lower()
        page.keyboard.press("Enter")
        page.wait_for_function("document.querySelector('#found').hidden && !document.hidden")
        page.wait_for_load_state()
        assert "azeotrope" in page.locator("article").inner_text().lower()
        page.fill("#words", "zyxwvutsr")
        assert "Nothing found" in page.locator("#found").inner_text()
        assert [address for address in asked if not address.startswith("file:")] == []
        assert said == []
