"""Many activities in one call, so that what a call from Python costs does not count."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from forerun.equilibrium.arrays import MIXTURE_TYPE, MixtureArrays
from forerun.equilibrium.kernels import ln_activity
from forerun.numerics.compiled import kernel
from forerun.numerics.signatures import float64, int64, void

__all__ = ["many_activities"]

Floats = npt.NDArray[np.float64]


@kernel(void(int64, float64, float64[::1], MIXTURE_TYPE, float64[:, ::1], float64[::1]))
def many_activities(
    count: int,
    temperature: float,
    x: Floats,
    mixture: MixtureArrays,
    scratch: Floats,
    ln_gamma: Floats,
) -> None:
    """Write ln gamma so many times, at temperatures a millionth of a kelvin apart."""
    for k in range(count):
        ln_activity(temperature + 1e-6 * k, x, mixture, scratch, ln_gamma)
