"""A user's table of points: headings, units, readings of an instrument turned into composition."""

from __future__ import annotations

import difflib
import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from forerun.core.errors import BadInput
from forerun.core.references import Reference
from forerun.equilibrium.fitting_own import OwnPoints
from forerun.records.tables import Table, number_from, read_table
from forerun.reviewing.ethanol_water import OIML_R22, mass_fraction_from_density_oiml_r22
from forerun.reviewing.mixture_curves import (
    LORENTZ_LORENZ,
    MeasuredCurve,
    index_at_20,
    refraction,
)
from forerun.substances.correlations import density
from forerun.substances.model import Substance

__all__ = ["COLUMNS", "Given", "calibration_curves", "points_from"]

_PRESSURES = {
    "p_pa": 1.0,
    "p_kpa": 1e3,
    "p_mbar": 1e2,
    "p_bar": 1e5,
    "p_atm": 101325.0,
    "p_mmhg": 133.322387415,
    "p_torr": 101325.0 / 760.0,
}
_LIQUID = ("x1", "x2", "w1", "w2", "n_x", "rho_x_g_ml")
_VAPOUR = ("y1", "y2", "wy1", "wy2", "n_y", "rho_y_g_ml")
_TEMPERATURES = ("t_c", "t_k")
_OTHER = ("reading_c", "run")
COLUMNS = (*_LIQUID, *_VAPOUR, *_TEMPERATURES, *_PRESSURES, *_OTHER)
_SHOWN = (
    "x1 (or x2, w1, w2 by mass, n_x, rho_x_g_mL), y1 (or y2, wy1, wy2, n_y, rho_y_g_mL), T_C (or "
    "T_K), P_mmHg (or P_torr, P_mbar, P_bar, P_kPa, P_Pa, P_atm), reading_C, run"
)
_COLDEST, _HOTTEST = 150.0, 700.0  # K
_LOWEST, _HIGHEST = 10.0, 4.0e5  # Pa; beyond, the vapour is no ideal gas
_TWENTY = 293.15  # K
_LEAST_INDEX, _LEAST_DENSITY = 0.008, 8.0  # -, kg/m3: pure liquids must differ by this much
_BEYOND = 0.03  # of a volume fraction outside 0 to 1 that is put down to the reading


@dataclass(frozen=True, slots=True)
class Given:
    """What was read.

    Args:
        points: in SI, mole fractions of the first substance.
        notes: sentences about conversions.
        references: what the conversions rest on.
        text: the table as it was read.
        calibration: the table of the calibration likewise; empty without one.
    """

    points: OwnPoints
    notes: tuple[str, ...]
    references: tuple[Reference, ...]
    text: str = ""
    calibration: str = ""


@dataclass(slots=True)
class _Context:
    """What a cell needs to become a number."""

    pair: tuple[Substance, Substance]
    pressure: float | None
    temperature: float | None
    curves: Mapping[str, tuple[str, MeasuredCurve]]
    notes: dict[str, None]
    references: dict[str, Reference]


def points_from(
    source: str | Path | bytes,
    pair: Sequence[Substance],
    *,
    pressure: float | None = None,
    temperature: float | None = None,
    calibration: str | Path | bytes | None = None,
) -> Given:
    """Read a table of points of two substances.

    Args:
        source: a path, the text itself or its bytes; headings as in `COLUMNS`.
        pair: the two substances; the first is number 1 of the headings.
        pressure: of all points where the table has no column for it [Pa].
        temperature: of all points where the table has no column for it [K].
        calibration: a table of ``x1`` or ``w1`` against ``n`` or ``rho_g_mL``.

    Returns:
        The points and what was done to them.

    Raises:
        BadInput: the first row that cannot be used, with its number, column and value.
    """
    if pressure is not None and not _LOWEST <= pressure <= _HIGHEST:
        raise BadInput("--pressure", f"{pressure:.6g} Pa", "a pressure from 0.1 mbar to 4 bar")
    if temperature is not None and not _COLDEST <= temperature <= _HOTTEST:
        accepted = f"a temperature from {_COLDEST:.0f} to {_HOTTEST:.0f} K"
        raise BadInput("--temperature", f"{temperature:.6g} K", accepted)
    table = read_table(source, "--points")
    _check_headings(table, pressure, temperature)
    curves = {} if calibration is None else calibration_curves(calibration, pair)
    context = _Context((pair[0], pair[1]), pressure, temperature, curves, {}, {})
    rows = [_row(number, cells, context) for number, cells in table.rows]
    if not rows:
        raise BadInput("--points", "no rows", "at least three rows of points under the headings")
    temperatures, pressures, x, y, runs = (list(column) for column in zip(*rows, strict=True))
    numbers = tuple(number for number, _ in table.rows)
    points = OwnPoints(
        np.array(temperatures), np.array(pressures), np.array(x), np.array(y), numbers, tuple(runs)
    )
    curve = "" if calibration is None else read_table(calibration, "--calibration").text
    references_used = tuple(context.references.values())
    return Given(points, tuple(context.notes), references_used, table.text, curve)


def _check_headings(table: Table, pressure: float | None, temperature: float | None) -> None:
    for column in table.columns:
        if column not in COLUMNS:
            near = difflib.get_close_matches(column, COLUMNS, n=1, cutoff=0.6)
            hint = f"; did you mean {near[0]}?" if near else ""
            raise BadInput("--points, heading", column, f"{_SHOWN}{hint}")
    if table.flags:
        flag = table.flags[0]
        raise BadInput(f"row {flag.row}", flag.value, flag.accepted)
    held = set(table.columns)
    for what, columns in (
        ("liquid composition", _LIQUID),
        ("vapour composition", _VAPOUR),
        ("temperature", _TEMPERATURES),
        ("pressure", tuple(_PRESSURES)),
    ):
        many = [c for c in table.columns if c in columns]
        if len(many) > 1:
            raise BadInput("--points, headings", ", ".join(many), f"one column for the {what}")
    if not held & set(_LIQUID):
        raise BadInput(
            "--points, headings", ", ".join(table.columns), "a column x1, such as x1,T_C"
        )
    if not held & set(_PRESSURES) and pressure is None:
        raise BadInput(
            "--points, headings",
            ", ".join(table.columns),
            'a column P_mmHg, or --pressure "760 mmHg"',
        )
    with_temperature = bool(held & set(_TEMPERATURES)) or temperature is not None
    if not with_temperature and not held & set(_VAPOUR):
        raise BadInput(
            "--points, headings",
            ", ".join(table.columns),
            "a column T_C or y1 beside x1, or --temperature",
        )


def _row(
    number: int, cells: Mapping[str, str], context: _Context
) -> tuple[float, float, float, float, str]:
    t = _temperature(number, cells, context)
    p = _pressure(number, cells, context)
    x = _fraction(number, cells, _LIQUID, context)
    if x is None:
        raise BadInput(f"row {number}", "no liquid composition", "a number under x1")
    y = _fraction(number, cells, _VAPOUR, context)
    if not math.isfinite(t) and y is None:
        raise BadInput(f"row {number}", "neither T_C nor y1", "one of the two")
    return t, p, x, math.nan if y is None else y, cells.get("run", "").strip() or "own points"


def _number(number: int, column: str, text: str, low: float, high: float, accepted: str) -> float:
    value = number_from(text)
    if value is None or not low <= value <= high:
        raise BadInput(f"row {number}, {column}", text, accepted)
    return value


def _temperature(number: int, cells: Mapping[str, str], context: _Context) -> float:
    for column, shift in (("t_c", 273.15), ("t_k", 0.0)):
        text = cells.get(column, "").strip()
        if text:
            low, high = _COLDEST - shift, _HOTTEST - shift
            accepted = f"a temperature from {low:.0f} to {high:.0f}"
            return _number(number, _heading(column), text, low, high, accepted) + shift
    return math.nan if context.temperature is None else context.temperature


def _pressure(number: int, cells: Mapping[str, str], context: _Context) -> float:
    for column, unit in _PRESSURES.items():
        text = cells.get(column, "").strip()
        if text:
            low, high = _LOWEST / unit, _HIGHEST / unit
            accepted = f"a pressure from {low:.3g} to {high:.3g} (0.1 mbar to 4 bar)"
            return _number(number, _heading(column), text, low, high, accepted) * unit
    if context.pressure is None:
        raise BadInput(f"row {number}", "no pressure", "a number under the heading of the pressure")
    return context.pressure


def _heading(column: str) -> str:
    return _HEADINGS.get(column, column)


_HEADINGS = {
    "t_c": "T_C",
    "t_k": "T_K",
    "p_pa": "P_Pa",
    "p_kpa": "P_kPa",
    "p_mmhg": "P_mmHg",
    "reading_c": "reading_C",
} | {c: c.replace("p_", "P_") for c in ("p_mbar", "p_bar", "p_atm", "p_torr")}
_HEADINGS |= {c: c.replace("_ml", "_mL") for c in ("rho_x_g_ml", "rho_y_g_ml")}


def _fraction(
    number: int, cells: Mapping[str, str], columns: Sequence[str], context: _Context
) -> float | None:
    column = next((c for c in columns if cells.get(c, "").strip()), None)
    if column is None:
        return None
    text = cells[column].strip()
    if column.startswith("n_"):
        return _by_instrument(number, column, text, cells, context, "index", (1.2, 1.9))
    if column.startswith("rho_"):
        return _by_instrument(number, column, text, cells, context, "density", (0.4, 4.0))
    value = _number(number, column, text, 0.0, 1.0, "a fraction from 0 to 1 (not per cent)")
    share = value if column.endswith("1") else 1.0 - value
    return _moles(share, context.pair) if column.startswith("w") else share


def _moles(mass_fraction: float, pair: tuple[Substance, Substance]) -> float:
    first, second = mass_fraction / pair[0].molar_mass, (1.0 - mass_fraction) / pair[1].molar_mass
    return first / (first + second)


def _by_instrument(
    number: int,
    column: str,
    text: str,
    cells: Mapping[str, str],
    context: _Context,
    kind: str,
    limits: tuple[float, float],
) -> float:
    """Turn a refractive index or a density [g/mL] into the mole fraction of the first."""
    heading = _heading(column)
    accepted = f"a reading from {limits[0]} to {limits[1]}"
    value = _number(number, heading, text, *limits, accepted)
    written = cells.get("reading_c", "").strip()
    celsius = 20.0
    if written:
        accepted = "the temperature of the reading, 0 to 60 °C"
        celsius = _number(number, "reading_C", written, 0.0, 60.0, accepted)
    make = {"index": _from_index, "density": _from_density}[kind]
    try:
        return make(context)(value, celsius + 273.15)
    except BadInput as problem:
        raise BadInput(f"row {number}, {heading}", text, problem.accepted) from problem


def _from_index(context: _Context) -> Callable[[float, float], float]:
    first, second = context.pair
    if "n" in context.curves:
        basis, curve = context.curves["n"]
        return lambda value, t: _on(curve, basis, context, index_at_20(value, t))
    _refuse_water(context, "refractive index")
    if first.refractive_index is None or second.refractive_index is None:
        name = (first if first.refractive_index is None else second).name
        raise BadInput("", "", f"mole fractions: no refractive index of {name} is on file")
    ends = (first.refractive_index.value, second.refractive_index.value)
    if abs(ends[0] - ends[1]) < _LEAST_INDEX:
        raise BadInput(
            "", "", f"mole fractions: the pure indices, {ends[0]:.4f} and {ends[1]:.4f}, are alike"
        )
    context.references["lorentz_lorenz"] = LORENTZ_LORENZ
    context.notes[
        f"Refractive indices became compositions by Lorentz and Lorenz between {ends[0]:.4f} "
        f"and {ends[1]:.4f} with volumes added; 0.0005 is "
        f"{0.0005 / abs(ends[0] - ends[1]):.3f} of a volume fraction."
    ] = None
    low, high = refraction(ends[1]), refraction(ends[0])
    return lambda value, t: _share(
        (refraction(index_at_20(value, t)) - low) / (high - low), context
    )


def _from_density(context: _Context) -> Callable[[float, float], float]:
    first, second = context.pair
    if "rho_g_ml" in context.curves:
        basis, curve = context.curves["rho_g_ml"]
        return lambda value, _t: _on(curve, basis, context, value)
    names = [first.name, second.name]
    if sorted(names) == ["ethanol", "water"]:
        context.references["oiml_r22"] = OIML_R22
        sign = names.index("ethanol") == 0

        def by_table(value: float, t: float) -> float:
            spirit = mass_fraction_from_density_oiml_r22(1e3 * value, t)
            return _moles(spirit if sign else 1.0 - spirit, context.pair)

        return by_table
    _refuse_water(context, "density")
    context.notes["Densities became compositions with volumes added."] = None

    def added(value: float, t: float) -> float:
        ends = density(t, first), density(t, second)
        if abs(ends[0] - ends[1]) < _LEAST_DENSITY:
            raise BadInput("", "", "mole fractions: the pure densities are alike")
        return _share((1e3 * value - ends[1]) / (ends[0] - ends[1]), context)

    return added


def _refuse_water(context: _Context, what: str) -> None:
    if any(s.formula == "H2O" for s in context.pair):
        raise BadInput(
            "",
            "",
            f"mole fractions, or --calibration with your own curve: with water the {what} does not "
            "follow from the pure liquids",
        )


def _share(volume_fraction: float, context: _Context) -> float:
    if not -_BEYOND <= volume_fraction <= 1.0 + _BEYOND:
        raise BadInput("", "", "a reading between those of the pure liquids")
    share = min(max(volume_fraction, 0.0), 1.0)
    first = share / context.pair[0].molar_volume.v0
    second = (1.0 - share) / context.pair[1].molar_volume.v0
    return first / (first + second)


def _on(curve: MeasuredCurve, basis: str, context: _Context, value: float) -> float:
    context.notes["Readings became compositions by your own calibration curve."] = None
    found = curve.fraction(value)
    return found if basis == "x1" else _moles(found, context.pair)


def calibration_curves(
    source: str | Path | bytes, pair: Sequence[Substance]
) -> dict[str, tuple[str, MeasuredCurve]]:
    """Read a measured curve of two substances.

    Args:
        source: a path, the text itself or its bytes: ``x1`` or ``w1`` against ``n`` or
            ``rho_g_mL``.
        pair: the two substances; the first is number 1 of the headings.

    Returns:
        Basis (``x1`` or ``w1``) and curve by its kind (``n`` or ``rho_g_ml``).

    Raises:
        BadInput: headings or rows that cannot be used.
    """
    table = read_table(source, "--calibration")
    basis = next((c for c in ("x1", "w1") if c in table.columns), None)
    kind = next((c for c in ("n", "rho_g_ml") if c in table.columns), None)
    if basis is None or kind is None:
        raise BadInput(
            "--calibration, headings",
            ", ".join(table.columns),
            "x1 or w1, and n or rho_g_mL, such as x1,n",
        )
    rows = []
    for number, cells in table.rows:
        at = _number(number, basis, cells[basis], 0.0, 1.0, "a fraction from 0 to 1")
        rows.append((at, _number(number, kind, cells[kind], 0.1, 5.0, "a reading")))
    rows.sort()
    if len(rows) < 3 or len({r[0] for r in rows}) < len(rows):
        raise BadInput("--calibration", f"{len(rows)} rows", "three rows or more, all different")
    reference = Reference("calibration", f"own calibration of {pair[0].name} and {pair[1].name}")
    fractions, values = (np.array(c) for c in zip(*rows, strict=True))
    return {kind: (basis, MeasuredCurve(fractions, values, 0.0005, _TWENTY, reference))}
