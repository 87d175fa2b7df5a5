"""From what was analysed to what the balances can use: linear statements on mass fractions.

Every method becomes sum_c a_c w_c = v with a standard deviation, so that several methods, even
for more than two components, enter one adjustment.  Area per cent is never taken for mass per
cent: without a response factor for every component it is reported and not used.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from forerun.core.errors import BadInput
from forerun.core.references import Reference
from forerun.records.assays import AssayRow, Assays
from forerun.reviewing.ethanol_water import (
    OIML_R22,
    density_oiml_r22,
    mass_fraction_from_density_oiml_r22,
)
from forerun.reviewing.mixture_curves import (
    LORENTZ_LORENZ,
    MeasuredCurve,
    index_at_20,
    refraction,
)
from forerun.substances.catalogue import find
from forerun.substances.correlations import density as pure_density
from forerun.substances.model import Substance

__all__ = ["Statement", "Statements", "statements_of"]

Floats = npt.NDArray[np.float64]

# One standard deviation where a row states none; common practice, no source.
_GC_MASS = (0.01, 0.002)  # relative, absolute [-]
_GC_RESPONSE = 0.02  # relative, of an area over its response factor
_GC_AREA = 0.002  # absolute, of a share
_TITRATION = (0.02, 2e-5)  # relative, absolute [-]
_DENSITY = 0.5  # kg/m3, pycnometer or oscillating tube at a bench
_DENSITY_IDEAL = 0.002  # relative, excess volume that ideal mixing leaves out; from memory
_INDEX = 0.0003  # refractometer with its thermometer
_INDEX_IDEAL = 0.0006  # Lorentz-Lorenz with ideal volumes; from memory
_OTHER_TEMPERATURE = 0.6  # K
_WHOLE = 0.02  # by how much area per cent may miss 100


@dataclass(frozen=True, slots=True)
class Statement:
    """One linear statement on the mass fractions of a cut.

    Args:
        cut: receiver or place.
        method: as in the file.
        label: in words, e.g. ``toluene in cut 2 by gas chromatography``.
        weights: (C,) a of sum a w = value [unit of the value].
        value: [see weights].
        sigma: one standard deviation [as the value].
        row: line of the file [-].
        fraction: the mass fraction of ``component`` that it stands for alone [-]; NaN where it
            needs others beside it.
        component: index of that component [-].
    """

    cut: str
    method: str
    label: str
    weights: Floats
    value: float
    sigma: float
    row: int
    fraction: float
    component: int


@dataclass(frozen=True, slots=True)
class Statements:
    """What a file of assays says of compositions.

    Args:
        rows: the statements.
        not_used: sentences on results that could not be converted, with the reason.
        references: sources of the conversions that were used.
    """

    rows: tuple[Statement, ...]
    not_used: tuple[str, ...]
    references: tuple[Reference, ...] = ()


def statements_of(
    assays: Assays,
    substances: Sequence[Substance],
    curves: Mapping[str, MeasuredCurve] | None = None,
) -> Statements:
    """Return what the assays say of the compositions.

    Args:
        assays: the file.
        substances: C components of the charge, in their order.
        curves: of a pair, measured: ``density`` [kg/m3] or ``refractive_index`` [-] against the
            mass fraction of the first component; they go before the ideal ones.

    Returns:
        Statements, and a sentence for every result that says nothing about the composition.
    """
    found: list[Statement] = []
    not_used: list[str] = []
    used: dict[str, Reference] = {}
    for cut in assays.cuts:
        found += _areas(assays.of(cut, "gc_area"), substances, not_used)
        for row in assays.of(cut, "gc_mass"):
            found += _fraction(row, row.substance, substances, _GC_MASS, not_used)
        for row in assays.of(cut, "titration"):
            found += _fraction(row, row.substance or "water", substances, _TITRATION, not_used)
        for method, curve in (curves or {}).items():
            for row in assays.of(cut, method):
                found += _on_curve(row, curve, substances, not_used, used)
        for row in () if "density" in (curves or {}) else assays.of(cut, "density"):
            found += _density(row, substances, not_used, used)
        known = "refractive_index" in (curves or {})
        for row in () if known else assays.of(cut, "refractive_index"):
            found += _index(row, substances, not_used, used)
    return Statements(tuple(found), tuple(not_used), tuple(used.values()))


def _place(cut: str) -> str:
    return f"cut {cut}" if cut.isdecimal() else f"the {cut}"


def _component(text: str, substances: Sequence[Substance]) -> int | None:
    try:
        wanted = find(text, "substance")
    except BadInput:
        return None
    names = [substance.name for substance in substances]
    return names.index(wanted.name) if wanted.name in names else None


def _fraction(
    row: AssayRow,
    name: str,
    substances: Sequence[Substance],
    usual: tuple[float, float],
    not_used: list[str],
) -> list[Statement]:
    k = _component(name, substances)
    if k is None:
        not_used.append(f"Line {row.row}: {name or 'no substance'} is not in the charge.")
        return []
    sigma = row.sigma or float(np.hypot(usual[0] * row.value, usual[1]))
    weights = np.zeros(len(substances))
    weights[k] = 1.0
    label = f"{substances[k].name} in {_place(row.cut)} by {_by(row.method)}"
    return [Statement(row.cut, row.method, label, weights, row.value, sigma, row.row, row.value, k)]


def _by(method: str) -> str:
    return {
        "gc_area": "gas chromatography",
        "gc_mass": "gas chromatography",
        "refractive_index": "refractive index",
    }.get(method, method)


def _areas(
    rows: Sequence[AssayRow], substances: Sequence[Substance], not_used: list[str]
) -> list[Statement]:
    """Mass fractions from area shares over response factors, if every component has both."""
    if not rows:
        return []
    where = f"Line {rows[0].row}: area % of {_place(rows[0].cut)}"
    places = [_component(row.substance, substances) for row in rows]
    if None in places or len(set(places)) < len(places):
        not_used.append(f"{where} names a substance that is not in the charge, or one twice.")
        return []
    lacking = [row.substance for row in rows if row.response is None]
    if lacking:
        names = " and ".join(lacking)
        not_used.append(f"{where} stays area %: no response factor is given for {names}.")
        return []
    if abs(sum(row.value for row in rows) - 1.0) > _WHOLE:
        not_used.append(f"{where} does not add up to 100 %, so what is missing has no factor.")
        return []
    masses = np.array([row.value / (row.response or 1.0) for row in rows])
    errors = np.array([(row.sigma or _GC_AREA) / (row.response or 1.0) for row in rows])
    errors = np.hypot(errors, _GC_RESPONSE * masses)
    total = float(masses.sum())
    shares = masses / total
    found = []
    # the last component follows from the others
    for row, k, share, error in list(zip(rows, places, shares, errors, strict=True))[:-1]:
        assert k is not None
        others = float(np.sqrt(np.sum(errors**2) - error**2))
        sigma = float(np.hypot((1.0 - share) * error, share * others)) / total
        weights = np.zeros(len(substances))
        weights[k] = 1.0
        label = f"{substances[k].name} in {_place(row.cut)} by gas chromatography"
        found.append(
            Statement(
                row.cut, row.method, label, weights, float(share), sigma, row.row, float(share), k
            )
        )
    return found


def _is_spirit(substances: Sequence[Substance]) -> int | None:
    """Return which of two components is ethanol when the other is water."""
    names = [substance.name for substance in substances]
    return names.index("ethanol") if sorted(names) == ["ethanol", "water"] else None


def _density(
    row: AssayRow, substances: Sequence[Substance], not_used: list[str], used: dict[str, Reference]
) -> list[Statement]:
    label = f"density of {_place(row.cut)}"
    spirit = _is_spirit(substances)
    if spirit is not None:
        try:
            share = mass_fraction_from_density_oiml_r22(row.value, row.temperature_K)
        except BadInput as problem:
            not_used.append(f"Line {row.row}: {problem}")
            return []
        used[OIML_R22.key] = OIML_R22
        step = 1e-4 if share < 0.5 else -1e-4
        slope = (density_oiml_r22(share + step, row.temperature_K) - row.value) / step
        weights = np.zeros(2)
        weights[spirit] = 1.0
        sigma = (row.sigma or _DENSITY) / abs(slope)
        return [
            Statement(row.cut, row.method, label, weights, share, sigma, row.row, share, spirit)
        ]
    pure = np.array([pure_density(row.temperature_K, substance) for substance in substances])
    spread = float(np.ptp(1.0 / pure))
    error = float(np.hypot(row.sigma or _DENSITY, _DENSITY_IDEAL * row.value)) / row.value**2
    if error > 0.25 * spread:
        not_used.append(f"Line {row.row}: the components' densities lie too near to each other.")
        return []
    share, k = _two(1.0 / pure, 1.0 / row.value)
    return [
        Statement(row.cut, row.method, label, 1.0 / pure, 1.0 / row.value, error, row.row, share, k)
    ]


def _index(
    row: AssayRow, substances: Sequence[Substance], not_used: list[str], used: dict[str, Reference]
) -> list[Statement]:
    indices = [substance.refractive_index for substance in substances]
    if any(index is None for index in indices):
        names = [s.name for s, index in zip(substances, indices, strict=True) if index is None]
        not_used.append(f"Line {row.row}: no refractive index is known of {' and '.join(names)}.")
        return []
    if "water" in {substance.name for substance in substances}:
        not_used.append(
            f"Line {row.row}: mixtures with water contract, and with alcohols two of them share a "
            "refractive index; a density or a titration tells them apart."
        )
        return []
    pure = np.array([pure_density(293.15, substance) for substance in substances])
    parts = np.array([refraction(index.value) for index in indices if index is not None])
    whole = refraction(index_at_20(row.value, row.temperature_K))
    weights = (parts - whole) / pure * float(pure.mean())  # of the order of a difference in L
    step = 1e-4
    slope = (refraction(row.value + step) - whole) / step
    error = float(np.hypot(row.sigma or _INDEX, _INDEX_IDEAL)) * abs(slope)
    if error > 0.25 * float(np.ptp(parts)):
        not_used.append(f"Line {row.row}: the refractive indices lie too near to each other.")
        return []
    used[LORENTZ_LORENZ.key] = LORENTZ_LORENZ
    share, k = _two(weights, 0.0)
    label = f"refractive index of {_place(row.cut)}"
    return [Statement(row.cut, row.method, label, weights, 0.0, error, row.row, share, k)]


def _on_curve(
    row: AssayRow,
    curve: MeasuredCurve,
    substances: Sequence[Substance],
    not_used: list[str],
    used: dict[str, Reference],
) -> list[Statement]:
    """Return the composition at which a measured curve has a value."""
    if len(substances) != 2:
        not_used.append(f"Line {row.row}: a measured curve tells the composition of a pair only.")
        return []
    if abs(row.temperature_K - curve.temperature_K) > _OTHER_TEMPERATURE:
        not_used.append(f"Line {row.row}: the measured curve is of another temperature.")
        return []
    try:
        share = curve.fraction(row.value)
    except BadInput as problem:
        not_used.append(f"Line {row.row}: {problem}")
        return []
    used[curve.reference.key] = curve.reference
    own = _DENSITY if row.method == "density" else _INDEX
    error = float(np.hypot(row.sigma or own, curve.sigma)) / max(abs(curve.slope(share)), 1e-12)
    label = f"{row.method.replace('_', ' ')} of {_place(row.cut)}"
    weights = np.array([1.0, 0.0])
    return [Statement(row.cut, row.method, label, weights, share, error, row.row, share, 0)]


def _two(weights: Floats, value: float) -> tuple[float, int]:
    """Return the first of two mass fractions, NaN for more components."""
    if weights.size != 2:
        return float("nan"), 0
    return float((value - weights[1]) / (weights[0] - weights[1])), 0
