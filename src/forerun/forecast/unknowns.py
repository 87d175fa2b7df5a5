"""What is not known about a run, as distributions with a name each.

Every unknown has a default that the sheet's table ``uncertain`` replaces.  Positive quantities
are log-normal with the stated relative standard deviation, errors that can have either sign are
normal.  How far the mixture is from what the models say is drawn pair by pair: the models'
disagreement times one factor per model, plus an error of its own for every pair, which remains
where all models agree.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from forerun.core.errors import BadInput
from forerun.equilibrium.arrays import scratch_for
from forerun.equilibrium.band_rules import (
    EIGHTY,
    boiling_half_width,
    ln_pressure_half_width,
    origin_of,
    rule_of,
)
from forerun.equilibrium.kernels import ln_activity
from forerun.equilibrium.mixture import Mixture
from forerun.equilibrium.projecting import redlich_kister_terms
from forerun.sheets.model import RunSheet, Setting
from forerun.substances.model import Substance

__all__ = ["ModelError", "Unknown", "model_error", "unknowns_of"]

Floats = npt.NDArray[np.float64]

# Relative standard deviations where a sheet states a value without its doubt; from memory.
_MEASURED_AMOUNT = 0.01  # a measuring cylinder or a quick weighing
_STATED = {"heat_transfer": 0.15, "heat_loss": 0.25, "plates": 0.10, "holdup": 0.20}
_LEAST_VAPOUR_PRESSURE = 0.003  # relative; 0.09 K, the miss of pure ends of 700 measured tables

_MOST_DOUBT = 3.0  # relative; beyond, exp(sigma z) says nothing of a real run and overflows
_TERMS = 3
_LEAST_SPREAD = 1e-3  # K, so that models that agree are not divided by zero
_SLOPE = 0.035  # 1/K, d ln P / dT of an organic liquid near its boiling point (Trouton's rule)
_MIDDLE = 0.25  # d ln P / dA_0 at x = 1/2


@dataclass(frozen=True, slots=True)
class Unknown:
    """One thing that a forecast varies.

    Args:
        name: as in `forerun.sheets.model.UNKNOWNS`, with the component or pair after a colon.
        distribution: ``log-normal`` (sigma is relative), ``normal`` (sigma has the unit) or
            ``factor`` (sigma multiplies a computed band).
        sigma: one standard deviation [unit].
        unit: of sigma; empty for relative ones.
        origin: ``sheet`` or where the default comes from.
    """

    name: str
    distribution: str
    sigma: float
    unit: str = ""
    origin: str = ""


@dataclass(frozen=True, slots=True)
class ModelError:
    """How a mixture's pairs may differ from the mean of the models.

    Args:
        models: (M,) names.
        deviations: (M, C, C, K, 2) model minus mean in Redlich-Kister terms, scaled so that
            independent standard normal factors give the widened spread; zero for fitted pairs [-].
        floors: (C, C) standard deviation of A_0 of a pair's own error [-].
        pairs: indices (i, j), i < j, of the pairs with a floor.
    """

    models: tuple[str, ...]
    deviations: Floats
    floors: Floats
    pairs: tuple[tuple[int, int], ...]

    def correction(self, factors: Floats, own: Floats) -> Floats:
        """Return what a member adds to the pair corrections.

        Args:
            factors: (M,) standard normal, one per model [-].
            own: (P,) standard normal, one per pair [-].

        Returns:
            (C, C, K, 2) Redlich-Kister terms [-].
        """
        models, *terms = self.deviations.shape
        total = (factors @ self.deviations.reshape(models, math.prod(terms))).reshape(terms)
        for z, (i, j) in zip(own, self.pairs, strict=True):
            total[i, j, 0, 0] += z * self.floors[i, j]
        return np.asarray(total, dtype=np.float64)


def model_error(mixture: Mixture) -> ModelError:
    """Return how far a mixture may be from its models.

    Args:
        mixture: the substances with their equilibrium.

    Returns:
        The error model; with M models of ln gamma_m and mean mu, sum_m g_m (ln gamma_m - mu)
        /sqrt(M - 1) has the sample variance of the models for standard normal g_m.

    Source:
        Widths: `forerun.equilibrium.band_rules`; an error of A_0 moves ln P by A_0/4 at x = 1/2,
        and T by that over d ln P/dT.
    """
    components, count = len(mixture.substances), len(mixture.models)
    deviations = np.zeros((count, components, components, _TERMS, 2))
    floors = np.zeros((components, components))
    for pair in mixture.pairs:
        i, j = pair.components
        rule = rule_of(pair, associating=any(mixture.arrays.dimerisation[[i, j], 0] != 0.0))
        floor = boiling_half_width(pair, rule, None if count < 2 else 0.0, 1.0) / EIGHTY
        floors[i, j] = floor * _SLOPE / _MIDDLE
        if rule.root_K > 0.0 and count > 1:
            deviations[:, i, j] = _pair_deviations(mixture, i, j, rule.root_K)
    pairs = tuple(pair.components for pair in mixture.pairs)
    return ModelError(mixture.models, deviations, floors, pairs)


def _pair_deviations(mixture: Mixture, i: int, j: int, root_K: float) -> Floats:
    """Return model minus mean, scaled so that its spread s [K] in the middle becomes root sqrt(s).

    That is the width of `band_rules` for the disagreement of the models.
    """
    count = len(mixture.models)

    def of_model(m: int) -> Floats:
        alone = mixture.alone(m)
        scratch = scratch_for(alone)
        whole, result = np.zeros((2, len(mixture.substances)))

        def ln_gamma(temperature: float, x: Floats) -> Floats:
            whole[[i, j]] = x
            ln_activity(temperature, whole, alone, scratch, result)
            return result[[i, j]]

        return redlich_kister_terms(ln_gamma, _TERMS)

    terms = np.array([of_model(m) for m in range(count)])
    apart = terms - terms.mean(axis=0)
    spread = float(np.std(terms[:, 0, 0], ddof=1)) * _MIDDLE / _SLOPE
    scale = root_K / EIGHTY / math.sqrt(max(spread, _LEAST_SPREAD))
    return np.asarray(apart * scale / math.sqrt(count - 1))


def unknowns_of(sheet: RunSheet, mixture: Mixture) -> tuple[Unknown, ...]:
    """Return everything that a forecast of a sheet varies, in a fixed order.

    Args:
        sheet: the run sheet.
        mixture: its substances with their equilibrium.

    Returns:
        The unknowns; those with a standard deviation of 0 are left out.

    Raises:
        BadInput: a doubt that is many times what it is of.
    """
    found = [
        *_charge(sheet),
        *_relative(sheet),
        _pressure(sheet),
        _thermometer(sheet),
        *_activity(sheet, mixture),
        *_vapour_pressure(sheet),
    ]
    for unknown in found:
        if unknown.distribution == "log-normal" and not unknown.sigma <= _MOST_DOUBT:
            doubt = f"{unknown.sigma:.3g} times the value"
            accepted = f"a doubt of at most {_MOST_DOUBT:g} times the value itself"
            raise BadInput(f"doubt of {unknown.name}", doubt, accepted)
    return tuple(unknown for unknown in found if unknown.sigma > 0.0)


def _stated(sheet: RunSheet, name: str) -> float | None:
    setting = sheet.uncertain.get(name)
    return None if setting is None else setting.value


def _charge(sheet: RunSheet) -> list[Unknown]:
    stated = _stated(sheet, "charge")
    found = []
    for portion in sheet.charge:
        own = portion.amount_mol.sigma / portion.amount_mol.value
        if own > 0.0 or stated is not None:
            sigma, origin = own or stated or 0.0, "sheet"
        else:
            sigma, origin = _MEASURED_AMOUNT, "measuring cylinder, from memory"
        found.append(Unknown(f"charge:{portion.substance.name}", "log-normal", sigma, "", origin))
    return found


def _relative(sheet: RunSheet) -> list[Unknown]:
    rig = sheet.rig
    settings = {
        "heat_transfer": rig.heat_transfer_W_K,
        "heat_loss": rig.heat_loss_W_K,
        "plates": rig.plates,
        "holdup": rig.holdup_m3,
    }
    found = []
    for name, setting in settings.items():
        if setting.value > 0.0:
            sigma, origin = _relative_sigma(name, setting, _stated(sheet, name))
            found.append(Unknown(name, "log-normal", sigma, "", origin))
    return found


def _relative_sigma(name: str, setting: Setting, stated: float | None) -> tuple[float, str]:
    if stated is not None:
        return stated, "sheet"
    if setting.sigma > 0.0:
        return setting.sigma / setting.value, "sheet" if setting.given else setting.origin
    return _STATED[name], "usual doubt of a stated value, from memory"


def _pressure(sheet: RunSheet) -> Unknown:
    course, stated = sheet.programme.pressure_Pa, sheet.uncertain.get("pressure")
    lowest = min(value for _, value in course.points)
    if stated is None:
        return Unknown("pressure", "log-normal", course.sigma / lowest, "", "gauge or barometer")
    relative = stated.value if stated.text.rstrip().endswith("%") else stated.value / lowest
    return Unknown("pressure", "log-normal", relative, "", "sheet")


def _thermometer(sheet: RunSheet) -> Unknown:
    offset, stated = sheet.rig.thermometer_offset_K, _stated(sheet, "thermometer")
    if stated is not None:
        return Unknown("thermometer", "normal", stated, "K", "sheet")
    origin = "sheet" if offset.given else offset.origin
    return Unknown("thermometer", "normal", offset.sigma, "K", origin)


def _activity(sheet: RunSheet, mixture: Mixture) -> list[Unknown]:
    stated = _stated(sheet, "activity")
    scale = 1.0 if stated is None else stated
    origin = "sheet" if stated is not None else "spread of the models and its measured floor"
    predicted = any(origin_of(pair) != "ideal" for pair in mixture.pairs)
    names = list(mixture.models) if predicted and len(mixture.models) > 1 else []
    names += [" and ".join(mixture.names[k] for k in pair.components) for pair in mixture.pairs]
    return [Unknown(f"activity:{name}", "factor", scale, "", origin) for name in names]


def _vapour_pressure(sheet: RunSheet) -> list[Unknown]:
    stated = _stated(sheet, "vapour_pressure")
    scale = 1.0 if stated is None else stated
    lowest = min(value for _, value in sheet.programme.pressure_Pa.points)
    return [
        Unknown(
            f"vapour_pressure:{portion.substance.name}",
            "log-normal",
            scale * max(_of_curve(portion.substance, lowest), _LEAST_VAPOUR_PRESSURE),
            "",
            "spread between sources" if stated is None else "sheet",
        )
        for portion in sheet.charge
    ]


def _of_curve(substance: Substance, pressure: float) -> float:
    """Return the relative standard deviation of a vapour pressure of about this size [-]."""
    curve = substance.vapour_pressure
    anywhere = (0.0, math.inf)
    return ln_pressure_half_width(math.log(pressure), curve.spread, 0.0, anywhere) / EIGHTY
