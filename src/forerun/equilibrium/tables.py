"""From published group tables to the arrays that the kernels read.

Subgroups are lumped into their main groups: the residual term of the UNIFAC family knows a
subgroup only through the surface that it adds to its main group.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations_with_replacement

import numpy as np
import numpy.typing as npt

from forerun.equilibrium.arrays import MixtureArrays, sizes_of
from forerun.equilibrium.groups import GroupModel
from forerun.numerics.cubics import cubics

__all__ = ["GRID", "ModelTable", "missing_pairs", "model_table", "no_models", "stack_models"]

Floats = npt.NDArray[np.float64]
Counts = Mapping[int, int]

# K: ends of the tables and width of an interval; psi is within 1e-7 for 98 % of all published
# interactions, and within 1e-5 above 250 K for the few with coefficients of thousands of kelvin
GRID = (180.0, 600.0, 1.0)

_STEP = 1e-30  # K, imaginary step of the derivative, see `_cubics`


@dataclass(frozen=True, slots=True)
class ModelTable:
    """One model for one set of molecules, main groups in the order of `main_groups`.

    Args:
        exponent: of r in the combinatorial volume fraction [-].
        volumes: (C,) r [-].
        surfaces: (C,) q [-].
        main_groups: (G,) numbers of the main groups.
        group_surfaces: (C, G) surface nu Q of a molecule in each main group [-].
        interaction: (N, 4, G, G) cubics of psi [-].
        pure_residual: (N, 4, C) cubics of the residual ln Gamma of the pure molecules [-].
    """

    exponent: float
    volumes: Floats
    surfaces: Floats
    main_groups: tuple[int, ...]
    group_surfaces: Floats
    interaction: Floats
    pure_residual: Floats


def _main_groups(model: GroupModel, counts: Counts) -> set[int]:
    return {model.subgroups[number].main_group for number in counts}


def missing_pairs(model: GroupModel, molecules: Sequence[Counts | None]) -> set[tuple[int, int]]:
    """Return the pairs (i, j), i < j, between which the model cannot say anything.

    Args:
        model: a published table.
        molecules: the subgroups of each component, None where the model lacks a group.

    Returns:
        Pairs of indices; a component that the model cannot describe misses with all others, and
        so does one whose own groups lack an interaction.
    """
    groups = [None if m is None else _main_groups(model, m) for m in molecules]

    def known(i: int, j: int) -> bool:
        first, second = groups[i], groups[j]
        if first is None or second is None:
            return False
        return all(
            m == n or ((m, n) in model.interactions and (n, m) in model.interactions)
            for m in first
            for n in second
        )

    lonely = {i for i in range(len(groups)) if not known(i, i)}
    return {
        (i, j)
        for i, j in combinations_with_replacement(range(len(groups)), 2)
        if i < j and (i in lonely or j in lonely or not known(i, j))
    }


def model_table(model: GroupModel, molecules: Sequence[Counts]) -> ModelTable:
    """Tabulate one model for a set of molecules.

    Args:
        model: a published table that knows all interactions of these molecules.
        molecules: (C,) subgroups of each component.

    Returns:
        The table on the grid `GRID`, cubic between nodes with a continuous slope.

    Raises:
        KeyError: where an interaction is missing (see `missing_pairs`).
    """
    main = tuple(sorted(set().union(*(_main_groups(model, m) for m in molecules))))
    place = {number: k for k, number in enumerate(main)}
    surfaces = np.zeros((len(molecules), len(main)))
    volumes = np.zeros(len(molecules))
    for i, molecule in enumerate(molecules):
        for number, count in molecule.items():
            group = model.subgroups[number]
            surfaces[i, place[group.main_group]] += count * group.surface
            volumes[i] += count * group.volume
    low, high, width = GRID
    nodes = (np.arange(low, high + 0.5 * width, width) + 1j * _STEP).astype(np.complex128)
    psi = _psi(model, main, nodes)
    pure = np.stack([_residual(surfaces[i], psi) for i in range(len(molecules))], axis=-1)
    return ModelTable(
        model.exponent,
        volumes,
        surfaces.sum(axis=1),
        main,
        surfaces,
        _cubics(psi, width),
        _cubics(pure, width),
    )


def _psi(
    model: GroupModel, main: Sequence[int], temperature: npt.NDArray[np.complex128]
) -> npt.NDArray[np.complex128]:
    """Return exp(-(a/T + b + c T)) for all ordered pairs of main groups, (N, G, G)."""
    parameters = np.zeros((3, len(main), len(main)))
    for k, m in enumerate(main):
        for h, n in enumerate(main):
            if m != n:
                parameters[:, k, h] = model.interactions[m, n]
    a, b, c = parameters
    t = temperature[:, None, None]
    psi: npt.NDArray[np.complex128] = np.exp(-(a / t + b + c * t))
    return psi


def _residual(surfaces: Floats, psi: npt.NDArray[np.complex128]) -> npt.NDArray[np.complex128]:
    """Return sum over groups of nu Q (1 - ln S - ...) of a pure molecule, (N,)."""
    theta = surfaces / surfaces.sum()
    sums = np.einsum("h,nhg->ng", theta, psi)
    inner = 1.0 - np.log(sums) - np.einsum("nh,ngh->ng", theta / sums, psi)
    result: npt.NDArray[np.complex128] = inner @ surfaces
    return result


def _cubics(nodes: npt.NDArray[np.complex128], width: float) -> Floats:
    """Return Hermite cubics between nodes from values (real part) and slopes (imaginary part).

    The slope comes from a complex step, f'(T) = Im f(T + i h)/h, exact to rounding: Squire &
    Trapp, SIAM Rev. 40 (1998) 110, doi:10.1137/S003614459631241X.
    """
    return np.ascontiguousarray(cubics(nodes.real, nodes.imag / _STEP * width))


def stack_models(
    tables: Sequence[ModelTable],
    weights: Floats,
    vapour_pressure: Floats,
    pair_correction: Floats,
    dimerisation: Floats,
) -> MixtureArrays:
    """Put several models of the same molecules side by side for the kernels.

    Args:
        tables: (M,) at least one.
        weights: (M,) share of each in the mean of ln gamma [-].
        vapour_pressure: (C, 6) as in `MixtureArrays`.
        pair_correction: (C, C, K, 2) as in `MixtureArrays` [-].
        dimerisation: (C, 3) as in `MixtureArrays`.

    Returns:
        The arrays; main groups that a model lacks hold zero surface.

    Not a published model: an arrangement of arrays.
    """
    models, components = len(tables), len(vapour_pressure)
    groups = max(len(t.main_groups) for t in tables)
    intervals = len(tables[0].interaction)
    surfaces = np.zeros((models, components, groups))
    interaction = np.zeros((intervals, 4, models, groups, groups))
    for m, table in enumerate(tables):
        g = len(table.main_groups)
        surfaces[m, :, :g] = table.group_surfaces
        interaction[:, :, m, :g, :g] = table.interaction
    exponents = np.array([t.exponent for t in tables])
    r, q = np.stack([t.volumes for t in tables]), np.stack([t.surfaces for t in tables])
    return MixtureArrays(
        vapour_pressure=np.ascontiguousarray(vapour_pressure),
        weights=weights,
        exponents=exponents,
        volumes=r,
        surfaces=q,
        group_surfaces=surfaces,
        grid=np.array([GRID[0], GRID[2]]),
        interaction=interaction,
        pure_residual=np.ascontiguousarray(np.stack([t.pure_residual for t in tables], axis=2)),
        pair_correction=np.ascontiguousarray(pair_correction),
        dimerisation=np.ascontiguousarray(dimerisation),
        sizes=sizes_of(r, q, exponents),
    )


def no_models(
    vapour_pressure: Floats, pair_correction: Floats, dimerisation: Floats
) -> MixtureArrays:
    """Return arrays without any activity model: Raoult's law and the pair corrections.

    Args:
        vapour_pressure: (C, 6) as in `MixtureArrays`.
        pair_correction: (C, C, K, 2) as in `MixtureArrays` [-].
        dimerisation: (C, 3) as in `MixtureArrays`.

    Returns:
        Arrays of one model with weight zero.

    Not a published model: an arrangement of arrays.
    """
    components = len(vapour_pressure)
    unit = ModelTable(
        1.0,
        np.ones(components),
        np.ones(components),
        (0,),
        np.ones((components, 1)),
        np.zeros((1, 4, 1, 1)),
        np.zeros((1, 4, components)),
    )
    return stack_models([unit], np.zeros(1), vapour_pressure, pair_correction, dimerisation)
