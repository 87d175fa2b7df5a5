"""Rows of a source, waited for, as the conformance tests look at them."""

from __future__ import annotations

import time
from collections.abc import Sequence

from forerun.running.sources import Row, Source

__all__ = ["heads", "rows"]


def rows(source: Source, count: int, patience: float = 5.0) -> list[Row]:
    """Return so many rows."""
    found: list[Row] = []
    until = time.monotonic() + patience
    while len(found) < count and time.monotonic() < until:
        found += source.read()
        time.sleep(0.01)
    return found


def heads(found: Sequence[Row]) -> list[str]:
    return [str(row["head_C"]) for row in found if "head_C" in row]
