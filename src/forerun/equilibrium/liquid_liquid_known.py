"""Which pairs are known to mix in all proportions, and which were measured as two liquids."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from itertools import combinations
from typing import Literal

__all__ = ["KnownMiscibility", "known_miscibility", "miscible_pairs", "past_critical"]


@dataclass(frozen=True, slots=True)
class KnownMiscibility:
    """What is known about a pair of liquids.

    Args:
        names: of the two.
        kind: ``miscible`` in all proportions, or ``two liquids`` at some composition.
        temperature_low_K: lowest temperature for which it is known, None when no limit is [K].
        temperature_high_K: highest temperature, None when no limit is known [K].
        sources: DOIs of the papers, or a sentence.
    """

    names: tuple[str, str]
    kind: Literal["miscible", "two liquids"]
    temperature_low_K: float | None
    temperature_high_K: float | None
    sources: tuple[str, ...]

    def holds_at(self, temperature_K: float) -> bool:
        """Return whether the statement covers a temperature [K]."""
        low = self.temperature_low_K is None or temperature_K >= self.temperature_low_K
        high = self.temperature_high_K is None or temperature_K <= self.temperature_high_K
        return low and high


_ABOVE = 3.0  # K past a critical solution temperature: papers differ by a kelvin or two


@cache
def _mixes_above() -> dict[frozenset[str], float]:
    """Return the upper critical solution temperatures on file [K]."""
    text = (files("forerun.equilibrium") / "data" / "miscibility.json").read_text("utf-8")
    rows = json.loads(text)["upper_critical"]
    for row in rows:
        if not row["source"]:
            raise ValueError(f"critical solution temperature of {row['names']} without a source")
    return {frozenset(row["components"]): float(row["temperature_K"]) for row in rows}


@cache
def _known() -> dict[frozenset[str], KnownMiscibility]:
    text = (files("forerun.equilibrium") / "data" / "miscibility.json").read_text("utf-8")
    known = {}
    for row in json.loads(text)["pairs"]:
        source = row["source"]
        if not source:
            raise ValueError(f"miscibility of {row['names']} without a source")
        known[frozenset(row["components"])] = KnownMiscibility(
            tuple(row["names"]),
            row["kind"],
            row["temperature_low_K"],
            row["temperature_high_K"],
            (source,) if isinstance(source, str) else tuple(source),
        )
    return known


def known_miscibility(first: str, second: str) -> KnownMiscibility | None:
    """Return what is known about the mutual solubility of a pair.

    Args:
        first, second: InChIKeys.

    Returns:
        The record with its source, None when nothing is recorded.
    """
    return _known().get(frozenset((first, second)))


def miscible_pairs(keys: Sequence[str], temperature_K: float) -> frozenset[tuple[int, int]]:
    """Return the pairs of a mixture that are known to mix in all proportions.

    Args:
        keys: (C,) InChIKeys of the components.
        temperature_K: where it is asked [K].

    Returns:
        Pairs of indices (i, j), i < j.

    Source:
        Each record carries its own, see `known_miscibility`.
    """
    return frozenset(
        (i, j)
        for i, j in combinations(range(len(keys)), 2)
        if (known := known_miscibility(keys[i], keys[j])) is not None
        and known.kind == "miscible"
        and known.holds_at(temperature_K)
    )


def past_critical(first: str, second: str, temperature_K: float) -> float | None:
    """Return the upper critical solution temperature of a pair that is past it.

    Args:
        first, second: InChIKeys.
        temperature_K: where it is asked [K].

    Returns:
        It [K]; None where none is on file, or it is not passed by more than papers differ.

    Validity:
        The two alone, near atmospheric pressure; a third liquid may part them above it.

    Source:
        Each record carries its own.
    """
    critical = _mixes_above().get(frozenset((first, second)))
    return critical if critical is not None and temperature_K > critical + _ABOVE else None
