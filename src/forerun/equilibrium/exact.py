"""The activity models written out group by group: the yardstick of the compiled kernels.

Nothing is lumped, tabulated or compiled here, so a mistake of the fast path shows.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
import numpy.typing as npt

from forerun.equilibrium.groups import GroupModel

__all__ = ["activity_exact"]

Floats = npt.NDArray[np.float64]

_COORDINATION = 10.0  # lattice coordination number of UNIQUAC, Abrams & Prausnitz (1975)


def activity_exact(
    temperature: float, x: Floats, molecules: Sequence[Mapping[int, int]], model: GroupModel
) -> Floats:
    """Return ln gamma of one model of the UNIFAC family, subgroup by subgroup.

    Args:
        temperature: [K], > 0.
        x: (C,) mole fractions [-], summing to 1.
        molecules: (C,) subgroups of each component and how many.
        model: the published table.

    Returns:
        (C,) ln gamma [-]. Valid where the tables were fitted, about 270-430 K and below 10 bar.

    Raises:
        KeyError: when an interaction between two main groups is not in the table.

    Source:
        Fredenslund, Jones & Prausnitz, AIChE J. 21 (1975) 1086, eqs. 5-12,
        doi:10.1002/aic.690210607; the power 3/4: Weidlich & Gmehling, Ind. Eng. Chem. Res. 26
        (1987) 1372, doi:10.1021/ie00067a018 (equation numbers from memory).
    """
    numbers = sorted(set().union(*molecules))
    nu = np.array([[m.get(k, 0) for k in numbers] for m in molecules], dtype=np.float64)
    volume = np.array([model.subgroups[k].volume for k in numbers])
    surface = np.array([model.subgroups[k].surface for k in numbers])
    main = [model.subgroups[k].main_group for k in numbers]
    psi = np.ones((len(numbers), len(numbers)))
    for k, m in enumerate(main):
        for h, n in enumerate(main):
            if m != n:
                a, b, c = model.interactions[m, n]
                psi[k, h] = np.exp(-(a / temperature + b + c * temperature))

    r, q = nu @ volume, nu @ surface
    v = r / (x @ r)
    f = q / (x @ q)
    w = r**model.exponent / (x @ r**model.exponent)
    combinatorial = 1 - w + np.log(w) - _COORDINATION / 2 * q * (1 - v / f + np.log(v / f))

    def ln_group(composition: Floats) -> Floats:
        area = (composition @ nu) * surface
        theta = area / area.sum()
        sums = theta @ psi
        result: Floats = surface * (1 - np.log(sums) - psi @ (theta / sums))
        return result

    mixed = ln_group(x)
    pure = [ln_group(np.eye(len(x))[i]) for i in range(len(x))]
    residual = np.array([nu[i] @ (mixed - pure[i]) for i in range(len(x))])
    result: Floats = combinatorial + residual
    return result
