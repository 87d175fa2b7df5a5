"""The corrections that ship with the package, and the measured points behind them.

A correction belongs to the base that it was fitted on (group tables, groups, vapour pressures):
it says how the base misses.  `base_drift` tells whether the base is still the same.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cache
from typing import Any

import numpy as np
import numpy.typing as npt

from forerun.core.references import Reference
from forerun.equilibrium.arrays import MixtureArrays, scratch_for
from forerun.equilibrium.datafiles import load_data
from forerun.equilibrium.fitting_evidence import ExcessEnthalpy, MutualSolubility
from forerun.equilibrium.fitting_model import MeasuredTable, bare_base
from forerun.equilibrium.kernels import bubble_pressure

__all__ = [
    "DRIFT_ALLOWED",
    "PairCorrection",
    "all_pairs",
    "base_drift",
    "base_probe",
    "find_pair",
    "measured_enthalpies",
    "measured_solubilities",
    "measured_tables",
    "measured_warnings",
    "single_paper_scatter",
]

Floats = npt.NDArray[np.float64]

DRIFT_ALLOWED = 1e-3  # in ln P: 0.03 K, a tenth of what papers disagree by
_PROBES = tuple((t, x) for t in (300.0, 350.0, 400.0) for x in (0.1, 0.5, 0.9))  # K, -


@dataclass(frozen=True, slots=True)
class PairCorrection:
    """A fitted correction of a pair with its record, oriented for `components`.

    Args:
        components: InChIKeys of the first and the second component.
        names: their names.
        terms: a, b of each A_k = a + b (350 K/T - 1) for g_E/RT = x1 x2 sum A_k (x1 - x2)^k [-].
        covariance: of a0, b0, a1, …, the disagreement of papers in it [-].
        scatter_K: standard deviation of this pair's boiling temperature about a paper that was not
            fitted: the band of whatever is computed with it [K].
        base_models: the activity models whose mean is corrected.
        papers: DOIs of the papers of boiling points fitted.
        evidence: DOIs of the papers of mutual solubilities and excess enthalpies fitted.
        printed: sources of the azeotropes in print that joined the fit.
        tables, points: their number.
        rms_before_K, rms_after_K: over the fitted points, base alone and corrected [K].
        left_out: what was left out in turn: ``paper``, ``table``, ``stretch``,
            ``solubility`` or, where nothing could be, ``printed``.
        left_out_before_K, left_out_after_K: mean over what was left out [K].
        note: what a reader must know.
        probe: ln P of the base where `base_probe` looks [-].
    """

    components: tuple[str, str]
    names: tuple[str, str]
    terms: tuple[tuple[float, float], ...]
    covariance: tuple[tuple[float, ...], ...]
    scatter_K: float
    base_models: tuple[str, ...]
    papers: tuple[str, ...]
    evidence: tuple[str, ...]
    printed: tuple[str, ...]
    tables: int
    points: int
    rms_before_K: float
    rms_after_K: float
    left_out: str
    left_out_before_K: float
    left_out_after_K: float
    note: str
    probe: tuple[float, ...]

    @property
    def references(self) -> tuple[Reference, ...]:
        """Return what was fitted, in print and measured, and the archive that recorded it."""
        named = " + ".join(self.names)
        seen = _seen()
        papers = (
            Reference(
                doi,
                f"measured equilibrium of {named}",
                doi,
                seen.get(doi, "numbers from the archive"),
            )
            for doi in (*self.papers, *self.evidence)
        )
        printed = (
            Reference(source, f"azeotrope of {named} in print: {source}") for source in self.printed
        )
        archive = (_archive(),) if self.papers or self.evidence else ()
        return (*printed, *papers, *archive)

    def flipped(self) -> PairCorrection:
        """Return the same correction with the components exchanged: odd terms change sign."""
        terms = tuple((a, b) if k % 2 == 0 else (-a, -b) for k, (a, b) in enumerate(self.terms))
        signs = np.repeat([(-1.0) ** k for k in range(len(terms))], 2)
        covariance = np.asarray(self.covariance) * np.outer(signs, signs)
        return replace(
            self,
            components=(self.components[1], self.components[0]),
            names=(self.names[1], self.names[0]),
            terms=terms,
            covariance=tuple(tuple(row) for row in covariance.tolist()),
            probe=_flip_probe(self.probe),
        )


def find_pair(first: str, second: str) -> PairCorrection | None:
    """Return the shipped correction of a pair, oriented for (first, second), or None.

    Args:
        first, second: InChIKeys.

    Returns:
        The correction; None when nothing better than the base is known.
    """
    found = _by_pair().get(frozenset((first, second)))
    if found is None or first == second:
        return None
    return found if found.components[0] == first else found.flipped()


def all_pairs() -> tuple[PairCorrection, ...]:
    """Return every shipped correction, ordered by names."""
    return tuple(_by_pair().values())


def base_probe(mixture: MixtureArrays) -> tuple[float, ...]:
    """Return ln P of a pair's base at nine places, a fingerprint that tolerates rounding.

    Args:
        mixture: a mixture of two components; its pair correction is left out.

    Returns:
        ln(P/Pa) at 300, 350, 400 K and x1 = 0.1, 0.5, 0.9 [-].

    Not a published model: a fingerprint.
    """
    base = bare_base(mixture)
    scratch, y = scratch_for(base), np.zeros(2)
    return tuple(
        math.log(bubble_pressure(t, np.array([x, 1.0 - x]), base, scratch, y)) for t, x in _PROBES
    )


def base_drift(correction: PairCorrection, mixture: MixtureArrays) -> float:
    """Return how far the base has moved since the correction was fitted.

    Args:
        correction: oriented as the mixture.
        mixture: a mixture of the two components.

    Returns:
        Largest |difference of ln P| at the probes [-]; above `DRIFT_ALLOWED` the corrections must
        be fitted again (``tools/equilibrium/fit_pairs.py``).

    Not a published model: a comparison of fingerprints.
    """
    now = base_probe(mixture)
    return max(abs(a - b) for a, b in zip(correction.probe, now, strict=True))


def measured_tables(first: str, second: str, *, suspect: bool = False) -> tuple[MeasuredTable, ...]:
    """Return the measured tables of a pair, mole fractions of the first component.

    Args:
        first, second: CAS numbers.
        suspect: also those that were left out of fits.

    Returns:
        The tables in the order of their names; none when nothing was measured.
    """
    rows = [
        row
        for row in _measured()["tables"]
        if set(row["cas"]) == {first, second} and (suspect or row["left_out"] is None)
    ]
    return tuple(_table(row, mirrored=row["cas"][0] != first) for row in rows)


def measured_solubilities(first: str, second: str) -> tuple[MutualSolubility, ...]:
    """Return the measured mutual solubilities of a pair, mole fractions of the first component.

    Args:
        first, second: CAS numbers.

    Returns:
        One for each paper that measured both layers; none when nothing was measured.
    """
    found = []
    for row in _evidence()["solubility"]:
        if set(row["cas"]) == {first, second}:
            poor, rich = np.array(row["poor"]), np.array(row["rich"])
            if row["cas"][0] != first:
                poor, rich = 1.0 - rich, 1.0 - poor
            found.append(MutualSolubility(row["doi"], np.array(row["temperature_K"]), poor, rich))
    return tuple(found)


def measured_enthalpies(first: str, second: str) -> tuple[ExcessEnthalpy, ...]:
    """Return the excess enthalpies of a pair, mole fractions of the first component.

    Args:
        first, second: CAS numbers.

    Returns:
        One for each paper; none when nothing is known.
    """
    found = []
    for row in _evidence()["enthalpy"]:
        if set(row["cas"]) == {first, second}:
            x = np.array(row["x1"])
            found.append(
                ExcessEnthalpy(
                    row["doi"],
                    np.array(row["temperature_K"]),
                    x if row["cas"][0] == first else 1.0 - x,
                    np.array(row["excess_enthalpy_J_mol"]),
                )
            )
    return tuple(found)


def measured_warnings() -> Mapping[str, str]:
    """Return why each table that was left out of the fits was left out, by its name."""
    stated = {r["name"]: r["left_out"] for r in _measured()["tables"] if r["left_out"]}
    return {**stated, **_judged()["left_out"]}


def single_paper_scatter() -> float:
    """Return the scatter about a new paper when a pair was fitted to one paper alone.

    Returns:
        One standard deviation of the boiling temperature [K].

    Not a published model: measured over the pairs with several papers.
    """
    return float(_judged()["single_paper_scatter_K"])


def _table(row: Mapping[str, Any], *, mirrored: bool) -> MeasuredTable:
    x = np.asarray(row["x1"], dtype=float)
    y = None if row["y1"] is None else np.asarray(row["y1"], dtype=float)
    return MeasuredTable(
        name=row["name"],
        paper=row["doi"],
        temperature_K=np.broadcast_to(np.asarray(row["temperature_C"]) + 273.15, x.shape).copy(),
        pressure_Pa=np.broadcast_to(np.asarray(row["pressure_kPa"]) * 1e3, x.shape).copy(),
        liquid_fraction=1.0 - x if mirrored else x,
        vapour_fraction=y if y is None or not mirrored else 1.0 - y,
    )


def _flip_probe(probe: tuple[float, ...]) -> tuple[float, ...]:
    order = [_PROBES.index((t, round(1.0 - x, 9))) for t, x in _PROBES]
    return tuple(probe[i] for i in order)


@cache
def _measured() -> Any:
    return load_data("pairs_measured.json.gz")


@cache
def _evidence() -> Any:
    return load_data("pairs_evidence.json.gz")


@cache
def _seen() -> Mapping[str, str]:
    """Return how numbers were seen that are not from the archive, by DOI."""
    rows = (*_measured()["tables"], *_evidence()["enthalpy"])
    return {row["doi"]: row["seen"] for row in rows if "seen" in row}


@cache
def _shipped() -> Any:
    return load_data("pairs.json.gz")


@cache
def _judged() -> Any:
    return load_data("pairs_judged.json.gz")


@cache
def _archive() -> Reference:
    archive = _measured()["archive"]
    return Reference(
        "thermoml", archive["citation"], archive["doi"], provenance=archive["provenance"]
    )


@cache
def _by_pair() -> Mapping[frozenset[str], PairCorrection]:
    found = {}
    for row in _shipped():
        values = {
            **row,
            "components": tuple(row["components"]),
            "names": tuple(row["names"]),
            "terms": tuple((float(a), float(b)) for a, b in row["terms"]),
            "covariance": tuple(tuple(line) for line in row["covariance"]),
            "base_models": tuple(row["base_models"]),
            "papers": tuple(row["papers"]),
            "evidence": tuple(row["evidence"]),
            "printed": tuple(row["printed"]),
            "probe": tuple(row["probe"]),
        }
        correction = PairCorrection(**values)
        found[frozenset(correction.components)] = correction
    return found
