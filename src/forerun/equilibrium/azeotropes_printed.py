"""What print says of an azeotrope of a pair, beside what was found: it decides what is open."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from forerun.equilibrium.mixture import Mixture
from forerun.equilibrium.printed import PrintedAzeotrope, printed_azeotropes

__all__ = ["PRINT_RIGHT", "Printed", "printed_of", "printed_words"]

# How likely a printed kind is right: two handbooks disagree about 2 of the some 130 pairs that
# both list (acetone + water, acetic acid + water); own judgement.
PRINT_RIGHT = 0.98
_SAME_PRESSURE = 0.06  # of ln P: what a barometer does, and what rounding in print leaves
_ZERO_C = 273.15

Kind = Literal["minimum", "maximum", "none"]


@dataclass(frozen=True, slots=True)
class Printed:
    """What is printed of a pair at a pressure.

    Args:
        rows: everything printed there.
        kind: what all of them say, or None where they disagree.
    """

    rows: tuple[PrintedAzeotrope, ...]
    kind: Kind | None

    def differs(
        self, kind: str, temperature_K: tuple[float, float], fraction: tuple[float, float]
    ) -> bool:
        """Return whether a row says another kind, or a number outside of a band.

        Args:
            kind: of the azeotrope that was found.
            temperature_K: its band [K].
            fraction: band of the mole fraction of the first [-].
        """
        return self.kind != kind or any(
            value is not None and not low <= value <= high
            for row in self.rows
            for value, (low, high) in (
                (row.temperature_K, temperature_K),
                (row.mole_fraction, fraction),
            )
        )


def printed_of(mixture: Mixture, pair: tuple[int, int], pressure_Pa: float) -> Printed | None:
    """Return what print says of a pair of a mixture within some 6 % of a pressure.

    Args:
        mixture: the mixture.
        pair: indices of the two; mole fractions are those of the first.
        pressure_Pa: [Pa].

    Returns:
        The rows; None where nothing was found in print, where the pair rests on one's own points,
        or where its correction, the print in it, was left out.

    Validity:
        Pressures within 6 % of those printed; nothing is carried from one pressure to another.

    Source:
        Each row carries its own.
    """
    basis = next(p for p in mixture.pairs if p.components == pair)
    if basis.origin == "own points" or not mixture.corrected:
        return None
    first, second = (mixture.substances[k].inchikey for k in pair)
    rows = tuple(
        row
        for row in printed_azeotropes(first, second)
        if abs(math.log(row.pressure_Pa / pressure_Pa)) < _SAME_PRESSURE
    )
    if not rows:
        return None
    kinds = {row.kind for row in rows}
    return Printed(rows, kinds.pop() if len(kinds) == 1 else None)


def printed_words(printed: Printed, name: str) -> str:
    """Return what is printed, row by row, for a note beside the computed azeotrope.

    Args:
        printed: from `printed_of`.
        name: of the first component.

    Returns:
        A clause that begins with ``print:``.

    Not a published model: words only.
    """
    said = dict.fromkeys(_row_words(row, name) for row in printed.rows)
    return "print: " + "; ".join(said)


def _row_words(row: PrintedAzeotrope, name: str) -> str:
    if row.kind == "none":
        what = "no azeotrope"
    else:
        parts = []
        if row.temperature_K is not None:
            parts.append(f"{row.temperature_K - _ZERO_C:.4g} °C")
        if row.mole_fraction is not None:
            parts.append(f"{100.0 * row.mole_fraction:.3g} mol% {name}")
        what = ", ".join((f"a {row.kind}", *parts))
    memory = ", from memory" if "memory" in row.provenance else ""
    return f"{what} ({row.source}{memory})"
