"""What a record taught of each unknown, and what it did not."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from forerun.forecast.drawing import Prior
from forerun.forecast.unknowns import Unknown

__all__ = ["Learned", "Tied", "learned_from", "nominal_of", "tied_in"]

Floats = npt.NDArray[np.float64]

_LEARNED = math.sqrt(0.5)  # a record that has not halved the variance has taught nothing precise
_TIED = 0.7  # correlation; chance gives 0.13 with 64 members and hardly ever 0.5
_TAIL = 1.2815515655446004  # standard normal deviate of 90 %

_UNITS = {
    "charge": "mol",
    "heat_transfer": "W/K",
    "heat_loss": "W/K",
    "plates": "",
    "holdup": "m3",
    "pressure": "Pa",
    "thermometer": "K",
    "room": "K",
    "charge_temperature": "K",
    "thermometer_lag": "s",
    "bath": "K",
}


@dataclass(frozen=True, slots=True)
class Learned:
    """One unknown before and after the record.

    Args:
        name: as in `forerun.forecast.unknowns.Unknown`.
        unit: of the values; empty for plates and for what is counted in standard deviations of
            the prior (activity and vapour pressure).
        prior_low: 10 % quantile before [unit].
        prior_high: 90 % quantile before [unit].
        low: 10 % quantile after [unit].
        median: after [unit].
        high: 90 % quantile after [unit].
        width_ratio: standard deviation after over before [-].
        learned: whether the record halved the variance at least.
        says: the same in one sentence.
    """

    name: str
    unit: str
    prior_low: float
    prior_high: float
    low: float
    median: float
    high: float
    width_ratio: float
    learned: bool
    says: str


@dataclass(frozen=True, slots=True)
class Tied:
    """Two unknowns that the record knows only together.

    Args:
        first: name of one.
        second: name of the other.
        correlation: of the two after the record [-].
        says: the same in one sentence.
    """

    first: str
    second: str
    correlation: float
    says: str


def nominal_of(prior: Prior, unknown: Unknown) -> tuple[float, str]:
    """Return the value that an unknown is varied around, and its unit.

    Args:
        prior: what is not known.
        unknown: one of it.

    Returns:
        Value [unit] and unit; 0 and no unit for what is counted in standard deviations.
    """
    sheet = prior.prepared.sheet
    kind, _, which = unknown.name.partition(":")
    rig = sheet.rig
    values = {
        "heat_transfer": rig.heat_transfer_W_K.value,
        "heat_loss": rig.heat_loss_W_K.value,
        "plates": rig.plates.value,
        "holdup": rig.holdup_m3.value,
        "pressure": min(value for _, value in sheet.programme.pressure_Pa.points),
        "thermometer": rig.thermometer_offset_K.value,
        "room": rig.room_temperature_K.value,
        "charge_temperature": rig.room_temperature_K.value,
        "thermometer_lag": rig.thermometer_lag_s.value,
    }
    if kind == "charge":
        return sheet.charge[sheet.names.index(which)].amount_mol.value, _UNITS[kind]
    return values.get(kind, 0.0), _UNITS.get(kind, "")


def _value(nominal: float, unknown: Unknown, z: float) -> float:
    """Return an unknown's value at a deviate; without a nominal value, the deviate itself."""
    if unknown.distribution == "normal":
        return nominal + unknown.sigma * z
    if nominal == 0.0:
        return z
    return nominal * math.exp(unknown.sigma * z)


def learned_from(prior: Prior, z: Floats) -> tuple[Learned, ...]:
    """Return what a record left of every unknown.

    Args:
        prior: what was not known.
        z: (N, D) members after the record, standard normal deviates of the prior [-].

    Returns:
        One for each unknown, in the order of the prior.
    """
    found = []
    for k, unknown in enumerate(prior.unknowns):
        nominal, unit = nominal_of(prior, unknown)
        low, median, high = (
            _value(nominal, unknown, float(q)) for q in np.quantile(z[:, k], (0.1, 0.5, 0.9))
        )
        ratio = float(np.std(z[:, k], ddof=1))
        before = (_value(nominal, unknown, -_TAIL), _value(nominal, unknown, _TAIL))
        learned = ratio <= _LEARNED
        says = _says(unknown, unit, (low, median, high), before, learned)
        found.append(Learned(unknown.name, unit, *before, low, median, high, ratio, learned, says))
    return tuple(found)


def _says(
    unknown: Unknown,
    unit: str,
    after: tuple[float, float, float],
    before: tuple[float, float],
    learned: bool,
) -> str:
    tail = f" {unit}" if unit else ""
    if not learned:
        return (
            f"{unknown.name}: not learned from this record; it stays between {before[0]:.3g} and "
            f"{before[1]:.3g}{tail}, as before."
        )
    low, median, high = after
    return f"{unknown.name}: {median:.3g}{tail}, between {low:.3g} and {high:.3g}{tail}."


def tied_in(prior: Prior, z: Floats) -> tuple[Tied, ...]:
    """Return the pairs of unknowns that a record does not tell apart, most closely tied first.

    Args:
        prior: what was not known.
        z: (N, D) members after the record [-].

    Returns:
        Pairs whose correlation is at least 0.7.
    """
    if z.shape[1] < 2:
        return ()
    matrix = np.atleast_2d(np.corrcoef(z, rowvar=False))
    names = [unknown.name for unknown in prior.unknowns]
    found = []
    for i, first in enumerate(names):
        for j in range(i + 1, len(names)):
            r = float(matrix[i, j])
            if abs(r) >= _TIED:
                way = "more of one looks like less of the other"
                if r > 0.0:
                    way = "more of one hides more of the other"
                says = f"This record does not tell {first} from {names[j]}: {way}."
                found.append(Tied(first, names[j], r, says))
    return tuple(sorted(found, key=lambda t: -abs(t.correlation)))
