"""Citations that travel inside results."""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["Reference"]


@dataclass(frozen=True, slots=True)
class Reference:
    """One published source.

    Args:
        key: short name used in data files, e.g. ``poling2001``.
        citation: authors, title, place, year, page or table.
        doi: the DOI where there is one.
        provenance: how the numbers came here, e.g. ``copy of the source seen`` or ``from memory``.
    """

    key: str
    citation: str
    doi: str | None = None
    provenance: str = ""

    def __str__(self) -> str:
        known = not self.doi or self.doi in self.citation
        return self.citation if known else f"{self.citation} doi:{self.doi}"
