"""Members of an ensemble: points of a scrambled Sobol sequence turned into inputs of the still."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from statistics import NormalDist
from typing import overload

import numpy as np
import numpy.typing as npt

from forerun.equilibrium.arrays import MixtureArrays
from forerun.forecast.unknowns import ModelError, Unknown, model_error, unknowns_of
from forerun.numerics.sobol import sobol_points
from forerun.sheets.model import RunSheet
from forerun.still.from_sheet import Prepared
from forerun.still.inputs import StillInput, plates_as_stages

__all__ = [
    "LEAST_PLATES",
    "Prior",
    "as_member",
    "draw_member",
    "draw_members",
    "normal_points",
    "prior_of",
]

Floats = npt.NDArray[np.float64]

LEAST_PLATES = 0.5
"""A column is not drawn as less [-]."""
_MOST_PLATES = 100.0
_MEMBER_TOLERANCE = 1e-3


@dataclass(frozen=True, slots=True)
class Prior:
    """What is not known about a prepared run.

    Args:
        prepared: the nominal run.
        unknowns: what is varied, in the order of the columns of the points.
        errors: how far the mixture may be from its models.
    """

    prepared: Prepared
    unknowns: tuple[Unknown, ...]
    errors: ModelError


def prior_of(prepared: Prepared) -> Prior:
    """Return what is not known about a prepared run.

    Args:
        prepared: from `forerun.still.from_sheet.prepare`.
    """
    return Prior(
        prepared,
        unknowns_of(prepared.sheet, prepared.mixture),
        model_error(prepared.mixture),
    )


def normal_points(dimensions: int, members: int, seed: int) -> Floats:
    """Return points that fill a standard normal space evenly.

    Args:
        dimensions: of the space, >= 0.
        members: number of points, >= 1.
        seed: makes the scrambling reproducible.

    Returns:
        (n, dimensions) standard normal deviates [-]; a longer sequence of the same seed starts
        with the shorter one.

    Source:
        `forerun.numerics.sobol`, through the inverse of the normal distribution.
    """
    if dimensions == 0:
        return np.zeros((members, 0))
    return _deviates(dimensions, members, seed).copy()


@lru_cache(maxsize=4)
def _deviates(dimensions: int, members: int, seed: int) -> Floats:
    """Return the points, which a sheet that is changed here and there asks for again and again."""
    points = sobol_points(dimensions, members, seed)
    inverse = np.vectorize(NormalDist().inv_cdf, otypes=[np.float64])
    tiny = 2.0**-32  # a scrambled point can be 0
    return np.asarray(inverse(np.clip(points, tiny, 1.0 - tiny)), dtype=np.float64)


def draw_member(prior: Prior, z: Floats) -> StillInput:
    """Return the input of one member.

    Args:
        prior: what is not known.
        z: (D,) standard normal deviates [-], one for each unknown.

    Returns:
        The nominal input with every unknown moved: log-normal ones by exp(sigma z) (median
        kept), normal ones by sigma z, factors through the error model.

    Derivation: sigma of ln X is taken as the relative standard deviation, valid while that is
    small (to second order).
    """
    by_name = {u.name: u.sigma * float(v) for u, v in zip(prior.unknowns, z, strict=True)}
    sheet, still = prior.prepared.sheet, prior.prepared.still

    def scale(name: str) -> float:
        return math.exp(by_name.get(name, 0.0))

    plates, carried = _plates(sheet, scale("plates"))
    holdup = sheet.rig.holdup_m3.value * scale("holdup") if plates else 0.0
    loss = sheet.rig.heat_loss_W_K.value * scale("heat_loss")
    neck = sheet.rig.neck_loss_share if plates else 1.0
    pressure = still.pressure.copy()
    pressure[:, 1] *= scale("pressure")
    charge = np.array([scale(f"charge:{name}") for name in sheet.names])
    return replace(
        still,
        mixture=_mixture(prior, by_name),
        charge_mol=still.charge_mol * charge,
        plates=plates,
        carried=carried,
        holdup_m3=holdup,
        pressure=pressure,
        pressure_drop_Pa=sheet.rig.pressure_drop_Pa.value / plates if plates else 0.0,
        bath_conductance_W_K=still.bath_conductance_W_K * scale("heat_transfer"),
        pot_loss_W_K=still.pot_loss_W_K * scale("heat_loss"),
        column_loss_W_K=(1.0 - neck) * loss,
        head_loss_W_K=neck * loss,
        thermometer_offset_K=still.thermometer_offset_K + by_name.get("thermometer", 0.0),
    )


def draw_members(prior: Prior, points: Floats) -> Sequence[StillInput]:
    """Return the inputs of the members of an ensemble, each drawn when it is asked for.

    Args:
        prior: what is not known.
        points: (N, D) standard normal deviates [-], one column for each unknown.

    Returns:
        Of each point, from any prior, what `draw_member` makes of it, as finely as `as_member`
        has it.

    Derivation: as of the two.
    """
    prepared = prior.prepared
    coarse = replace(prior, prepared=replace(prepared, still=as_member(prepared.still)))
    return _Drawn(coarse, points)


class _Drawn(Sequence[StillInput]):
    """Members that the thread draws that runs them: while it does, another one can calculate."""

    def __init__(self, prior: Prior, points: Floats) -> None:
        self._prior = prior
        self._points = points

    def __len__(self) -> int:
        return len(self._points)

    @overload
    def __getitem__(self, place: int) -> StillInput: ...

    @overload
    def __getitem__(self, place: slice) -> _Drawn: ...

    def __getitem__(self, place: int | slice) -> StillInput | _Drawn:
        if isinstance(place, slice):
            return _Drawn(self._prior, self._points[place])
        return draw_member(self._prior, self._points[place])


def as_member(given: StillInput) -> StillInput:
    """Return a run that is worked out only as finely as members of an ensemble differ.

    Args:
        given: the run.

    Returns:
        The run at a tolerance of 1e-3, or its own if that is looser. On two of the examples the
        head errs by 5 to 10 mK and the first switch by up to 0.5 s, less than a hundredth of how
        members differ, and the composition of a cut by less than a tenth (a test holds that).
    """
    tolerance = max(given.tolerance, _MEMBER_TOLERANCE)
    return replace(given, tolerance=tolerance, rates_between_steps=True)


def _plates(sheet: RunSheet, factor: float) -> tuple[int, float]:
    """Return a member's stages and what vapour carries; a column never becomes a simple still."""
    plates = sheet.rig.plates.value
    if plates < LEAST_PLATES:
        return plates_as_stages(plates)
    return plates_as_stages(min(max(plates * factor, LEAST_PLATES), _MOST_PLATES))


def _mixture(prior: Prior, by_name: dict[str, float]) -> MixtureArrays:
    arrays, errors = prior.prepared.mixture.arrays, prior.errors
    names = prior.prepared.mixture.names
    factors = np.array([by_name.get(f"activity:{m}", 0.0) for m in errors.models])
    own = np.array(
        [by_name.get(f"activity:{names[i]} and {names[j]}", 0.0) for i, j in errors.pairs]
    )
    added = errors.correction(factors, own)
    stated = arrays.pair_correction
    terms = max(stated.shape[2], added.shape[2])
    total = np.zeros((*stated.shape[:2], terms, 2))
    total[:, :, : stated.shape[2]] += stated
    total[:, :, : added.shape[2]] += added
    vapour = arrays.vapour_pressure.copy()
    vapour[:, 0] += [by_name.get(f"vapour_pressure:{name}", 0.0) for name in names]
    return arrays._replace(pair_correction=total, vapour_pressure=vapour)
