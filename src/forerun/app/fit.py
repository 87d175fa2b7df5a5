"""`forerun fit`: a pair corrected by points of one's own, kept and handed on as one file."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from forerun.app.ready import kernels_ready
from forerun.core.errors import BadInput
from forerun.core.quantities import parse_quantity
from forerun.reporting.fit import Fit, Taken
from forerun.substances.catalogue import find
from forerun.substances.model import Substance

if TYPE_CHECKING:
    from forerun.equilibrium.fitting_own import OwnFit, OwnPoints
    from forerun.equilibrium.mixture import Mixture
    from forerun.equilibrium.own_pairs import OwnPair
    from forerun.reporting.fit import Isotherm

__all__ = ["fit", "forget_pair", "take_pair"]

_HELD_K = 0.5  # K: temperatures that differ by less were held


def fit(
    *substances: str,
    points: str | Path | bytes,
    pressure: str | None = None,
    temperature: str | None = None,
    calibration: str | Path | bytes | None = None,
    label: str = "own points",
    keep: bool = True,
) -> Fit:
    """Fit the activity of two substances to points of one's own.

    Args:
        substances: two, each a name, synonym, CAS number, InChIKey or SMILES; the first is number
            1 of the headings.
        points: a path, the text of a table, or its bytes; headings such as ``x1,y1,T_C``.
        pressure: of all points, where the table has no column for it.
        temperature: of all points, where the table has no column for it.
        calibration: a table of composition against refractive index or density.
        label: what the points are called in later answers, e.g. where they are printed.
        keep: save the fit in the user's library, so that ``mix`` and ``foresee`` use it.

    Returns:
        Coefficients with covariance, misses, consistency, and the azeotrope that follows.

    Raises:
        BadInput: two substances are not given, or a row cannot be used.
        CalculationFailed: the fit did not settle.
    """
    pair = _two(substances)
    at = (
        None
        if pressure is None
        else parse_quantity(pressure, "pressure", "--pressure", low_excluded=True).value
    )
    warm = (
        None
        if temperature is None
        else parse_quantity(temperature, "temperature", "--temperature").value
    )
    from forerun.app.fit_reading import points_from

    given = points_from(points, pair, pressure=at, temperature=warm, calibration=calibration)
    kernels_ready()
    from forerun.equilibrium.fitting_own import fit_own_points
    from forerun.equilibrium.mixture import mixture_of
    from forerun.equilibrium.own_pairs import own_pair_file
    from forerun.equilibrium.pairs import base_probe

    mixture = mixture_of(pair, corrections=False)
    found = fit_own_points(given.points, mixture)
    own = replace(
        _as_own(pair, mixture.models, given.points, found, label),
        notes=(*given.notes, *found.notes),
        references=tuple(str(r) for r in given.references),
        probe=base_probe(mixture.arrays),
    )
    file = None
    if keep:
        file = own_pair_file(*own.components)
        _write(file, own.text())
    asked = {
        "command": "fit",
        "substances": list(substances),
        "points": given.text,
        "pressure": pressure,
        "temperature": temperature,
        "calibration": given.calibration or None,
        "label": label,
    }
    asked = {key: value for key, value in asked.items() if value is not None}
    return _answer(pair, own, given.points, found, file, asked)


def take_pair(file: str | Path) -> Taken:
    """Take a fitted pair from a file that somebody handed on into the user's library.

    Args:
        file: as ``forerun fit`` wrote it.

    Raises:
        BadInput: it cannot be read, or its substances are not those of its names.
    """
    from forerun.equilibrium.own_pairs import own_pair_file, read_own_pair

    own = read_own_pair(Path(file), "--take")
    for key, smiles, name in zip(own.components, own.smiles, own.names, strict=True):
        found = find(smiles, "--take")
        if found.inchikey != key:
            raise BadInput("--take", name, f"a file whose structures are known; {smiles} is not")
    place = own_pair_file(*own.components)
    replaced = place.is_file()
    _write(place, own.text())
    return Taken(own, place, replaced)


def forget_pair(*substances: str) -> Taken:
    """Remove the user's own fit of two substances from the library.

    Args:
        substances: two, by any name.

    Raises:
        BadInput: there is none.
    """
    from forerun.equilibrium.own_pairs import own_pair, own_pair_file

    pair = _two(substances)
    keys = (pair[0].inchikey, pair[1].inchikey)
    own = own_pair(*keys)
    if own is None:
        names = f"{pair[0].name}, {pair[1].name}"
        raise BadInput("--forget", names, "a pair that was fitted to own points before")
    place = own_pair_file(*keys)
    place.unlink()
    return Taken(own, place, replaced=False, forgotten=True)


def _two(substances: tuple[str, ...]) -> tuple[Substance, Substance]:
    if len(substances) != 2:
        raise BadInput("substances", ", ".join(substances), "two substances, a space between them")
    first, second = (find(t, f"substance {n}") for n, t in enumerate(substances, start=1))
    if first.inchikey == second.inchikey:
        raise BadInput("substances", ", ".join(substances), f"different ones; both are {first}")
    return first, second


def _as_own(
    pair: tuple[Substance, Substance],
    models: tuple[str, ...],
    points: OwnPoints,
    found: OwnFit,
    label: str,
) -> OwnPair:
    from dataclasses import asdict

    from forerun.equilibrium.own_pairs import OwnPair
    from forerun.reporting.plain import number

    columns = (points.temperature_K, points.pressure_Pa, points.liquid_fraction)
    rows = [
        {
            "row": float(row),
            "temperature_K": number(t),
            "pressure_Pa": number(p),
            "x1": number(x),
            "y1": number(y),
        }
        for row, t, p, x, y in zip(points.rows, *columns, points.vapour_fraction, strict=True)
    ]
    terms = tuple((float(a), float(b)) for a, b in found.fit.terms)
    return OwnPair(
        components=(pair[0].inchikey, pair[1].inchikey),
        names=(pair[0].name, pair[1].name),
        smiles=(pair[0].smiles, pair[1].smiles),
        terms=terms,
        covariance=tuple(tuple(row) for row in found.fit.covariance.tolist()),
        base_models=models,
        scatter_K=found.scatter_K,
        label=" ".join(label.split())[:200] or "own points",
        points=tuple(rows),
        rms={
            "temperature_before_K": found.rms_before_K,
            "temperature_K": found.rms_after_K,
            "vapour_mole_fraction_before": found.rms_vapour_before,
            "vapour_mole_fraction": found.rms_vapour_after,
        },
        consistency=tuple(asdict(test) for test in found.tests),
        probe=(),
    )


def _answer(
    pair: tuple[Substance, Substance],
    own: OwnPair,
    points: OwnPoints,
    found: OwnFit,
    file: Path | None,
    asked: dict[str, Any],
) -> Fit:
    import numpy as np

    from forerun.equilibrium.azeotropes import find_azeotropes
    from forerun.equilibrium.bubble import boiling_curve
    from forerun.equilibrium.mixture import mixture_of

    corrected = mixture_of(pair, own=own)
    bare = mixture_of(pair, corrections=False)
    isobaric = float(np.ptp(points.pressure_Pa)) <= 0.02 * float(points.pressure_Pa.max())
    pressure = float(np.median(points.pressure_Pa))
    search = find_azeotropes(corrected, pressure)
    curves = (boiling_curve(corrected, pressure, 101), boiling_curve(bare, pressure, 101))
    return Fit(
        own,
        points,
        found,
        corrected,
        pressure,
        isobaric,
        search.azeotropes,
        curves,
        None if isobaric else _isotherm(points, corrected, bare),
        file,
        asked,
    )


def _isotherm(points: OwnPoints, corrected: Mixture, bare: Mixture) -> Isotherm | None:
    """Return pressures over composition where the temperature was held."""
    import numpy as np

    from forerun.equilibrium.kernels import bubble_pressure
    from forerun.reporting.fit import Isotherm

    t = points.temperature_K
    if not np.isfinite(t).all() or float(np.ptp(t)) > _HELD_K:
        return None
    grid, middle = np.linspace(0.0, 1.0, 101), float(np.median(t))
    y = np.zeros(2)
    lines = [
        np.array(
            [
                bubble_pressure(middle, np.array([x, 1.0 - x]), m.arrays, m.scratch(), y)
                for x in grid
            ]
        )
        for m in (corrected, bare)
    ]
    return Isotherm(middle, grid, lines[0], lines[1])


def _write(file: Path, text: str) -> None:
    try:
        file.parent.mkdir(parents=True, exist_ok=True)
        aside = file.with_name(f"{file.name}.part")
        aside.write_text(text, encoding="utf-8")
        aside.replace(file)
    except OSError as problem:
        reason = (problem.strerror or type(problem).__name__).lower()
        raise BadInput("FORERUN_DATA", str(file), f"a folder that can be written ({reason})") from (
            problem
        )
