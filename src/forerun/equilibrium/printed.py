"""Azeotropes, and pairs without one, as handbooks and papers print them."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cache
from importlib.resources import files
from typing import Literal

__all__ = ["PrintedAzeotrope", "all_printed", "printed_azeotropes"]


@dataclass(frozen=True, slots=True)
class PrintedAzeotrope:
    """What is printed of an azeotrope of a pair at a pressure.

    Args:
        components: InChIKeys of the first and the second component.
        pressure_Pa: [Pa].
        kind: ``minimum``, ``maximum``, or ``none`` where it is printed that there is none.
        temperature_K: where it is printed [K].
        mole_fraction: of the first component, where it is printed [-].
        liquids: 1, or 2 for a heteroazeotrope.
        rich_layer: mole fraction of the first in the layer rich in it, where that is printed and no
            solubility was measured [-].
        source: the handbook or paper.
        provenance: how it came here.
    """

    components: tuple[str, str]
    pressure_Pa: float
    kind: Literal["minimum", "maximum", "none"]
    temperature_K: float | None
    mole_fraction: float | None
    liquids: int
    source: str
    provenance: str
    rich_layer: float | None = None

    def flipped(self) -> PrintedAzeotrope:
        """Return the same with the components exchanged."""
        x = self.mole_fraction
        return replace(
            self,
            components=(self.components[1], self.components[0]),
            mole_fraction=None if x is None else 1.0 - x,
            rich_layer=None,  # of the first, which is the other one now
        )


def printed_azeotropes(first: str, second: str) -> tuple[PrintedAzeotrope, ...]:
    """Return what is printed of a pair, mole fractions of the first component.

    Args:
        first, second: InChIKeys.

    Returns:
        By pressure, as the file has them; none where nothing was found in print.

    Source:
        Each row carries its own.
    """
    found = _by_pair().get(frozenset((first, second)), ())
    return tuple(row if row.components[0] == first else row.flipped() for row in found)


def all_printed() -> tuple[PrintedAzeotrope, ...]:
    """Return every printed row."""
    return tuple(row for rows in _by_pair().values() for row in rows)


@cache
def _by_pair() -> Mapping[frozenset[str], tuple[PrintedAzeotrope, ...]]:
    text = (files("forerun.equilibrium") / "data" / "printed_azeotropes.json").read_text("utf-8")
    found: dict[frozenset[str], list[PrintedAzeotrope]] = {}
    tree = json.loads(text)
    for row in tree["azeotropes"]:
        source, provenance = tree["sources"][row["source"]]
        found.setdefault(frozenset(row["components"]), []).append(
            PrintedAzeotrope(
                (row["components"][0], row["components"][1]),
                row["pressure_Pa"],
                row["kind"],
                row["temperature_K"],
                row["mole_fraction"],
                row["liquids"],
                source,
                provenance,
                row.get("rich_layer"),
            )
        )
    return {
        pair: tuple(sorted(rows, key=lambda r: (r.pressure_Pa, r.source)))
        for pair, rows in found.items()
    }
