"""The pairs as they would ship had nobody printed their azeotropes, so that print can test them.

`tools/equilibrium/fit_pairs.py` writes data/unprinted_pairs.json.gz beside the shipped corrections:
for every pair with an azeotrope in print, the fit to everything else, or nothing where that would
not ship.
"""

from __future__ import annotations

import gzip
import json
from collections.abc import Iterator
from contextlib import contextmanager
from functools import cache
from pathlib import Path
from typing import Any
from unittest.mock import patch

from forerun.equilibrium import azeotropes_printed, corrections

_DATA = Path(__file__).parent / "data/unprinted_pairs.json.gz"


@cache
def unprinted_pairs() -> dict[frozenset[str], dict[str, Any]]:
    """Return every correction, those that print joined replaced by what would ship without it."""
    pairs = dict(corrections._pairs())
    for row in json.loads(gzip.decompress(_DATA.read_bytes())):
        both = frozenset(row["components"])
        pairs.pop(both, None)
        if row["shipped"] is not None:
            pairs[both] = row["shipped"]
    return pairs


@contextmanager
def without_print() -> Iterator[None]:
    """Let mixtures be made, and azeotropes be judged, as if no azeotrope were printed."""
    pairs = unprinted_pairs()
    with (
        patch.object(corrections, "_pairs", lambda: pairs),
        patch.object(azeotropes_printed, "printed_azeotropes", lambda *_: ()),
    ):
        yield
