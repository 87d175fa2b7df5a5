"""Build the pages of docs/ into a folder of plain HTML that opens from disk, with search.

    python dev.py site [FOLDER]     (dist/site when left out)

Every page of Markdown becomes a page of HTML in the same place, README.md the first of them; the
reference of the Python functions is read from their docstrings. Nothing is fetched from anywhere:
style, script and the words that are searched lie beside the pages.
"""

from __future__ import annotations

import html
import json
import re
import shutil
import sys
import tomllib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path, PurePosixPath

from markdown_it import MarkdownIt
from markdown_it.token import Token

ROOT = Path(__file__).resolve().parents[2]
HERE = Path(__file__).resolve().parent
sys.path.insert(0, str(HERE))

from python_page import python_page  # noqa: E402 -- after the path is set

GROUPS = {
    "Start": ("README.md", "docs/start.md"),
    "At the bench, step by step": ("docs/how-to/*.md",),
    "Reference": ("docs/reference/*.md", "docs/nomenclature.md", "docs/validation.md"),
    "Why and how well": ("docs/explain/*.md", "docs/promises.md"),
    "Decisions": ("docs/decisions/*.md",),
    "The project": ("CHANGELOG.md", "ARCHITECTURE.md", "CONTRIBUTING.md", "VISION.md"),
}
PYTHON_PAGE = "docs/reference/python.md"
_FIRST = "README.md"
_PICTURE = re.compile(r'(<img[^>]* src=")([^"]+)')  # HTML in a page
_AWAY = re.compile(r"^([a-z]+:|#|//)")


@dataclass
class Page:
    """One page.

    Args:
        source: its path in the repository.
        text: Markdown.
        tokens: the same, parsed.
        sections: anchor, heading and words of each part.
    """

    source: str
    text: str
    tokens: list[Token] = field(default_factory=list)
    sections: list[tuple[str, str, str]] = field(default_factory=list)

    @property
    def address(self) -> str:
        """Where it lies in the built folder."""
        return address_of(self.source)

    @property
    def title(self) -> str:
        """Its first heading."""
        return self.sections[0][1] if self.sections else self.source

    @property
    def root(self) -> str:
        """Way from the page up to the folder."""
        return "../" * (len(PurePosixPath(self.address).parts) - 1)


def address_of(source: str) -> str:
    """Return where a file of the repository lies in the built folder."""
    if source == _FIRST:
        return "index.html"
    return re.sub(r"\.md$", ".html", source)


def main(arguments: Sequence[str]) -> int:
    """Build all pages; returns the exit code."""
    folder = Path(arguments[0]) if arguments else ROOT / "dist" / "site"
    pages = build(folder)
    print(f"{len(pages)} pages: {folder / 'index.html'}")
    return 0


def build(folder: Path) -> list[Page]:
    """Build every page into a folder, emptied before, and return them.

    Raises:
        SystemExit: the folder holds something that is not a built site.
    """
    if folder.exists() and any(folder.iterdir()) and not (folder / "words.js").exists():
        raise SystemExit(f"{folder} holds something else; name an empty or a new folder")
    shutil.rmtree(folder, ignore_errors=True)
    pages = read_pages()
    copied: set[str] = set()
    for page in pages:
        copied |= _relink(page, {p.source for p in pages})
    words = [
        [f"{page.address}#{anchor}" if n else page.address, page.title, heading, text]
        for page in pages
        for n, (anchor, heading, text) in enumerate(page.sections)
    ]
    frame = (HERE / "page.html").read_text("utf-8")
    for page in pages:
        _write(folder / page.address, _framed(frame, page, pages))
    _write(folder / "words.js", f"const forerunWords = {json.dumps(words, ensure_ascii=False)};\n")
    for name in ("style.css", "search.js"):
        _write(folder / name, (HERE / name).read_text("utf-8"))
    for source in sorted(copied):
        (folder / source).parent.mkdir(parents=True, exist_ok=True)
        shutil.copyfile(ROOT / source, folder / source)
    return pages


def read_pages() -> list[Page]:
    """Return all pages in the order of the list beside them."""
    sources = [source for patterns in GROUPS.values() for source in _matching(patterns)]
    pages = [Page(source, _text(source)) for source in sources]
    parser = MarkdownIt("commonmark", {"html": True}).enable("table")
    for page in pages:
        page.tokens = parser.parse(page.text)
        page.sections = list(_sections(page.tokens))
    return pages


def _text(source: str) -> str:
    text = python_page(ROOT) if source == PYTHON_PAGE else (ROOT / source).read_text("utf-8")
    name = PurePosixPath(source).stem.capitalize()
    return text if text.lstrip().startswith("# ") else f"# {name}\n\n{text}"


def _matching(patterns: Sequence[str]) -> list[str]:
    found = [p.relative_to(ROOT).as_posix() for pattern in patterns for p in ROOT.glob(pattern)]
    if patterns == GROUPS["Reference"]:
        found.append(PYTHON_PAGE)
    order = list(patterns)
    return sorted(found, key=lambda s: (order.index(s) if s in order else -1, s))


def _sections(tokens: Sequence[Token]) -> Iterator[tuple[str, str, str]]:
    """Yield anchor, heading and words of each part, and give each heading its anchor."""
    used: dict[str, int] = {}
    anchor, heading, words = "", "", list[str]()
    for n, token in enumerate(tokens):
        if token.type == "heading_open":
            if heading:
                yield anchor, heading, " ".join(words)
            heading, words = _said(tokens[n + 1]), []
            anchor = _anchor(heading, used)
            token.attrSet("id", anchor)
        elif token.type in {"fence", "code_block"} or (
            token.type == "inline" and tokens[n - 1].type != "heading_open"
        ):
            words.append(" ".join(_said(token).split()))
    if heading:
        yield anchor, heading, " ".join(words)


def _said(token: Token) -> str:
    if token.children is None:
        return token.content
    kinds = {"text": None, "code_inline": None, "softbreak": " ", "hardbreak": " "}
    return "".join(kinds[c.type] or c.content for c in token.children if c.type in kinds)


def _anchor(heading: str, used: dict[str, int]) -> str:
    """Return the anchor as the usual hosts of repositories make it, so that links hold in both."""
    plain = re.sub(r"[^\w\- ]", "", heading.lower()).replace(" ", "-")
    count = used.get(plain, 0)
    used[plain] = count + 1
    return f"{plain}-{count}" if count else plain


def _relink(page: Page, pages: set[str]) -> set[str]:
    """Turn links to Markdown into links to pages; return other files that are to be copied."""
    copied = set()

    def picture(match: re.Match[str]) -> str:
        copied.add(_from(page.source, match[2]))
        return f"{match[1]}{page.root}{_from(page.source, match[2])}"

    for token in page.tokens:
        if token.type == "html_block":
            token.content = _PICTURE.sub(picture, token.content)
        for child in token.children or ():
            if child.type == "html_inline":
                child.content = _PICTURE.sub(picture, child.content)
            name = {"link_open": "href", "image": "src"}.get(child.type, "")
            link = str(child.attrGet(name) or "") if name else ""
            if not link or _AWAY.match(link):
                continue
            target, _, part = link.partition("#")
            source = _from(page.source, target)
            if (ROOT / source).is_dir():
                source = sorted(s for s in pages if s.startswith(f"{source}/"))[0]
            elif source not in pages:
                copied.add(source)
            child.attrSet(name, page.root + address_of(source) + (f"#{part}" if part else ""))
    return copied


def _from(source: str, target: str) -> str:
    parts: list[str] = []
    for part in (*PurePosixPath(source).parent.parts, *PurePosixPath(target).parts):
        if part == "..":
            parts.pop()
        elif part != ".":
            parts.append(part)
    return "/".join(parts)


def _framed(frame: str, page: Page, pages: Sequence[Page]) -> str:
    parser = MarkdownIt("commonmark", {"html": True}).enable("table")
    body = str(parser.renderer.render(page.tokens, parser.options, {}))
    body = body.replace("<table>", '<div class="wide"><table>')
    body = body.replace("</table>", "</table></div>")
    project = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]
    words = {
        "root": page.root,
        "title": html.escape(page.title),
        "pages": _list_of(page, pages),
        "body": body,
        "version": str(project["version"]),
    }
    return re.sub(r"\{\{(\w+)\}\}", lambda m: words[m[1]], frame)


def _list_of(page: Page, pages: Sequence[Page]) -> str:
    by_source = {p.source: p for p in pages}
    lines = []
    for group, patterns in GROUPS.items():
        lines.append(f"<h2>{html.escape(group)}</h2><ul>")
        for other in (by_source[source] for source in _matching(patterns)):
            here = ' aria-current="page"' if other is page else ""
            link = f'<a href="{page.root}{other.address}"{here}>{html.escape(other.title)}</a>'
            lines.append(f"<li>{link}</li>")
        lines.append("</ul>")
    return "".join(lines)


def _write(path: Path, text: str) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(text, "utf-8")


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
