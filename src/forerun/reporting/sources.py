"""Where numbers come from, short enough to be read."""

from __future__ import annotations

from collections.abc import Sequence

from forerun.core.references import Reference
from forerun.reporting.paper import Paper
from forerun.reporting.table import paragraph
from forerun.reporting.words import shortened

__all__ = ["source_lines", "source_object", "sources_printed"]

_SHOWN_PAPERS = 3
_SHOWN_LINES = 8
_PAPER = "doi:"
_INDENT = 4  # of the list below "From"


def sources_printed(references: Sequence[Reference], paper: Paper) -> list[str]:
    """Return the list of sources for a person, one line each."""
    room = paper.width - _INDENT
    lines = [shortened(paper.spelled(line), room) for line in source_lines(references)]
    if len(lines) > _SHOWN_LINES:
        left = len(lines) - _SHOWN_LINES
        lines = [*lines[:_SHOWN_LINES], f"and {left} more"]
    return paragraph("From (--json gives all in full)", lines, paper, "bold")


def source_lines(references: Sequence[Reference]) -> list[str]:
    """Return one line per book or data collection and one for all papers together.

    Args:
        references: in any order; doubles are left out, parts of one book are put together.
    """
    every = list(dict.fromkeys(references))
    books: dict[str, list[str]] = {}
    for reference in (r for r in every if not _is_paper(r)):
        book, part = _split(reference.citation)
        parts = books.setdefault(book, [])
        parts += [part] if part else []
    papers = [r for r in every if _is_paper(r)]
    lines = [book + (f": {'; '.join(parts)}" if parts else "") for book, parts in books.items()]
    if len(papers) > _SHOWN_PAPERS:
        return [*lines, f"{len(papers)} papers with measured points"]
    return [*lines, *(r.citation if r.doi and r.doi in r.citation else str(r) for r in papers)]


def _split(citation: str) -> tuple[str, str]:
    """Return book and part of it where a year stands between them, else the whole citation."""
    head, comma, part = citation.rpartition(", ")
    return (head, part) if comma and head[-4:].isdecimal() else (citation, "")


def _is_paper(reference: Reference) -> bool:
    """Return whether a reference is a paper whose measured points were used, known by its DOI."""
    return reference.key.startswith(_PAPER) or reference.key == reference.doi


def source_object(references: Sequence[Reference]) -> list[dict[str, str | None]]:
    """Return references as plain objects, each once."""
    return [
        {"key": r.key, "citation": r.citation, "doi": r.doi, "provenance": r.provenance}
        for r in dict.fromkeys(references)
    ]
