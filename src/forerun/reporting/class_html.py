"""One file that opens anywhere: the class page with its own style, script and data."""

from __future__ import annotations

import base64
import hashlib
import json
import re
from collections.abc import Iterable, Mapping, Sequence
from functools import cache
from html import escape
from pathlib import Path
from typing import Any

__all__ = ["html_fold", "html_list", "html_page", "html_policy", "html_table"]

_MANY = 30  # sentences from which they are printed small, in columns
_FOLDER = Path(__file__).parent / "class_page"
_PARTS = ("base", "side", "still", "diagrams", "moment")

_SHARE = re.compile(r"^((?:&[lg]t;)?[\d.]+)( \([^)]*\)\n?)")  # in a cell: purity, then its share


def html_page(words: Mapping[str, str], data: Mapping[str, Any]) -> str:
    """Return the page.

    Args:
        words: HTML by the name that stands between at-signs in the template.
        data: what the script draws from.

    Returns:
        One file; its policy lets nothing run or load but what is in it.
    """
    style, script = _own()
    # "<" is written as an escape, so that no text in the data can end the script element
    packed = json.dumps(dict(data), ensure_ascii=False, allow_nan=False, separators=(",", ":"))
    parts = {
        **words,
        "POLICY": html_policy(),
        "STYLE": style,
        "DATA": packed.replace("<", "\\u003c"),
        "SCRIPT": script,
    }
    pieces = (_FOLDER / "page.html").read_text("utf-8").split("@")
    # every second piece is a name: what is put in is never looked through again
    return "".join(parts[p] if k % 2 else p for k, p in enumerate(pieces))


def html_policy() -> str:
    """Return the content-security policy of the page: its own style and script, nothing else."""
    style, script = _own()
    return (
        f"default-src 'none'; script-src '{_digest(script)}'; style-src '{_digest(style)}'; "
        "base-uri 'none'; form-action 'none'"
    )


@cache
def _own() -> tuple[str, str]:
    """Return style and script; the script is one function, its parts in the order of use."""
    style = (_FOLDER / "page.css").read_text("utf-8")
    parts = "".join((_FOLDER / f"{name}.js").read_text("utf-8") for name in _PARTS)
    return style, f'"use strict";\n(() => {{\n{parts}}})();\n'


def _digest(text: str) -> str:
    return "sha256-" + base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()


def html_list(sentences: Iterable[str]) -> str:
    """Return sentences as a list."""
    return "<ul>" + "".join(f"<li>{escape(s)}</li>" for s in sentences) + "</ul>"


def html_fold(title: str, sentences: Sequence[str]) -> str:
    """Return sentences that are folded away until asked for."""
    if not sentences:
        return ""
    kind = ' class="many"' if len(sentences) > _MANY else ""
    return f"<details{kind}><summary>{escape(title)}</summary>{html_list(sentences)}</details>"


def _cell(text: str) -> str:
    """Return a cell whose share in brackets can stand below the purity where it is narrow."""
    return _SHARE.sub(r'\1<span class="share">\2</span>', escape(text))


def html_table(head: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    """Return a table whose first column names its rows."""
    top = "".join(f'<th scope="col">{escape(h)}</th>' for h in head)
    body = "".join(
        f'<tr><th scope="row">{escape(row[0])}</th>'
        + "".join(f"<td>{_cell(cell)}</td>" for cell in row[1:])
        + "</tr>"
        for row in rows
    )
    return f"<table><thead><tr>{top}</tr></thead><tbody>{body}</tbody></table>"
