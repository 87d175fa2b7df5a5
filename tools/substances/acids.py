"""Vapour-phase dimers of carboxylic acids: ln(K Pa) = A + B/T."""

from __future__ import annotations

import numpy as np
from constants import R, digits
from structure import is_plain_carboxylic_acid

MMHG = 133.322387415  # Pa
LN10 = np.log(10.0)
# log10(K mmHg) = a + b/T
PRINTED = {
    "64-18-6": (-10.743, 3083.0, "coolidge1928"),
    "64-19-7": (-10.4184, 3164.0, "taylor1951"),
    "79-09-4": (-10.834, 3316.0, "taylor1952"),
}
MEASURED_1999 = {"107-92-6", "79-31-2", "109-52-4"}  # butyric, isobutyric, valeric


def dimerisation(cas: str, smiles: str) -> dict[str, object] | None:
    """Return the constants of the dimer, estimated from the lower acids for homologues."""
    if cas in PRINTED:
        a, b, source = PRINTED[cas]
        value = [LN10 * a - np.log(MMHG), LN10 * b]
        return _entry(value, [source], "measured")
    if not is_plain_carboxylic_acid(smiles):
        return None
    value = [-136.0 / R - np.log(1.0e5), 58500.0 / R]
    return _entry(value, ["flow1999"], "measured" if cas in MEASURED_1999 else "estimated")


def _entry(value: list[float], sources: list[str], method: str) -> dict[str, object]:
    return {"value": [digits(v, 7) for v in value], "sources": sources, "method": method}


def apparent_compressibility(dimer: dict[str, object] | None, t: float, p: float) -> float:
    """Return the volume of the vapour per mole of monomer over R T/P, 1 without association."""
    if dimer is None:
        return 1.0
    a, b = dimer["value"]
    k = float(np.exp(a + b / t))
    p1 = (np.sqrt(1.0 + 4.0 * k * p) - 1.0) / (2.0 * k)
    return float(p / (p1 + 2.0 * (p - p1)))
