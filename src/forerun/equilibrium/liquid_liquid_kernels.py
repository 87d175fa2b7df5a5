"""Two liquids, compiled: stability of one liquid, the gap of a pair, the split of a mixture."""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt

from forerun.equilibrium.arrays import MIXTURE_TYPE, MixtureArrays
from forerun.equilibrium.kernels import ln_activity
from forerun.numerics.compiled import kernel
from forerun.numerics.signatures import boolean, float64, void

__all__ = [
    "binary_gap",
    "ln_activities",
    "refine_gap",
    "refine_split",
    "solve_small",
    "split_amount",
    "tangent_plane",
]

Floats = npt.NDArray[np.float64]

_TINY = 1e-300  # keeps the logarithm of an absent component finite
_SOLVED = 1e-10  # residual of ln(activity) at which two phases count as in equilibrium
_DEPTH = 1e-11  # g/RT; shallower dents are rounding
_END = 23.0  # |ln(x1/x2)| where the scan of a pair ends: a solubility of 1e-10


@kernel(boolean(float64[:, ::1], float64[::1]))
def solve_small(a: Floats, b: Floats) -> bool:
    """Solve a x = b in place by elimination with row pivoting; false when singular.

    Args:
        a: (n, n) matrix, destroyed [-].
        b: (n,) right-hand side, replaced by the solution [-].

    Returns:
        Whether every pivot exceeded 1e-300 in magnitude.

    Source:
        Gaussian elimination, for any regular matrix of a few rows; not a published model.
    """
    n = b.shape[0]
    for k in range(n):
        best = k
        for i in range(k + 1, n):
            if abs(a[i, k]) > abs(a[best, k]):
                best = i
        if not abs(a[best, k]) > _TINY:
            return False
        if best != k:
            for j in range(n):
                a[k, j], a[best, j] = a[best, j], a[k, j]
            b[k], b[best] = b[best], b[k]
        for i in range(k + 1, n):
            factor = a[i, k] / a[k, k]
            if factor != 0.0:
                for j in range(k + 1, n):
                    a[i, j] -= factor * a[k, j]
                b[i] -= factor * b[k]
    for k in range(n - 1, -1, -1):
        for j in range(k + 1, n):
            b[k] -= a[k, j] * b[j]
        b[k] /= a[k, k]
    return True


@kernel(void(float64, float64[::1], MIXTURE_TYPE, float64[:, ::1], float64[::1]))
def ln_activities(
    temperature: float, x: Floats, mixture: MixtureArrays, scratch: Floats, result: Floats
) -> None:
    """Write ln(x gamma) of every component.

    Args:
        temperature: [K].
        x: (C,) mole fractions [-].
        mixture: the mixture.
        scratch: working space from `scratch_for`.
        result: (C,) ln activity [-]; about -690 for an absent component.

    Validity:
        Fractions that are none negative; temperatures from 180 to 600 K.

    Source:
        `forerun.equilibrium.kernels.ln_activity`.
    """
    ln_activity(temperature, x, mixture, scratch, result)
    for i in range(x.shape[0]):
        result[i] += math.log(max(x[i], _TINY))


@kernel(void(float64, float64, MIXTURE_TYPE, float64[:, ::1], float64[::1], float64[::1]))
def _at_logit(
    temperature: float,
    logit: float,
    mixture: MixtureArrays,
    scratch: Floats,
    x: Floats,
    result: Floats,
) -> None:
    """Set x from ln(x1/x2), exact near both ends, and write the two ln activities."""
    x[0] = 1.0 / (1.0 + math.exp(-logit))
    x[1] = 1.0 / (1.0 + math.exp(logit))
    ln_activities(temperature, x, mixture, scratch, result)


@kernel(boolean(float64, MIXTURE_TYPE, float64[:, ::1], float64[::1]))
def refine_gap(temperature: float, mixture: MixtureArrays, scratch: Floats, ends: Floats) -> bool:
    """Move two liquids of a pair, given near equilibrium, into equilibrium (Newton).

    Args:
        temperature: [K].
        mixture: two components.
        scratch: working space from `scratch_for`.
        ends: (2,) ln(x1/x2) of the two liquids, replaced by the solution [-].

    Returns:
        Whether it arrived at two different liquids.

    Validity:
        Any guess on both sides of the gap; it may run into one liquid, which is then reported.

    Derivation:
        Equality of both activities in the two unknowns ln(x1/x2) of either liquid.
    """
    step = 1e-6
    x = np.empty(2)
    left, right, ahead = np.empty(2), np.empty(2), np.empty(2)
    jacobian, change = np.empty((2, 2)), np.empty(2)
    trial = np.empty(2)
    before = 1e300
    damping = 1.0
    polish = 0
    s, t = ends[0], ends[1]
    for _ in range(60):
        _at_logit(temperature, s, mixture, scratch, x, left)
        _at_logit(temperature, t, mixture, scratch, x, right)
        size = max(abs(left[0] - right[0]), abs(left[1] - right[1]))
        if not math.isfinite(size):
            return False
        if size > before and damping > 0.02 and polish == 0:
            damping *= 0.4
            s, t = trial[0] + damping * change[0], trial[1] + damping * change[1]
            continue
        if size < _SOLVED:
            polish += 1
            if polish > 2:  # two more steps: near a spinodal 1e-10 in activity is 1e-8 in x
                break
        before, damping = size, 1.0
        _at_logit(temperature, s + step, mixture, scratch, x, ahead)
        for k in range(2):
            jacobian[k, 0] = (ahead[k] - left[k]) / step
            change[k] = right[k] - left[k]
        _at_logit(temperature, t + step, mixture, scratch, x, ahead)
        for k in range(2):
            jacobian[k, 1] = -(ahead[k] - right[k]) / step
        if not solve_small(jacobian, change):
            return False
        largest = max(abs(change[0]), abs(change[1]))
        if largest > 2.0:
            change[0] *= 2.0 / largest
            change[1] *= 2.0 / largest
        trial[0], trial[1] = s, t
        s += change[0]
        t += change[1]
    else:
        return False
    if not t - s > 1e-3:
        return False
    ends[0], ends[1] = s, t
    return True


@kernel(boolean(float64, MIXTURE_TYPE, float64[:, ::1], float64[::1]))
def binary_gap(  # noqa: PLR0912 -- scan, hull and choice belong to one construction
    temperature: float, mixture: MixtureArrays, scratch: Floats, ends: Floats
) -> bool:
    """Find the widest miscibility gap of a pair: common tangent of g/RT by its lower hull.

    Args:
        temperature: [K].
        mixture: two components.
        scratch: working space from `scratch_for`.
        ends: (2,) result: ln(x1/x2) of the two liquids, ascending [-].

    Returns:
        Whether there is a gap; valid for solubilities from 1e-10 to the critical point, below
        that Newton's method goes on from the end of the scan.

    Source:
        Gibbs's common-tangent construction; Michelsen, Fluid Phase Equilib. 9 (1982) 1,
        doi:10.1016/0378-3812(82)85001-2.
    """
    middle, outer = 60, 24
    count = middle + 2 * outer
    logits, g = np.empty(count), np.empty(count)
    x1, x2 = np.empty(count), np.empty(count)
    x, activity = np.empty(2), np.empty(2)
    edge = math.log(1.0 / 63.0)  # the evenly spaced part runs from x = 1/64
    for n in range(count):
        if n < outer:
            logits[n] = -_END + (edge + _END) * n / outer
        elif n < outer + middle:
            fraction = (1.0 + 62.0 * (n - outer) / (middle - 1.0)) / 64.0
            logits[n] = math.log(fraction / (1.0 - fraction))
        else:
            logits[n] = -edge + (_END + edge) * (n - outer - middle + 1) / outer
        _at_logit(temperature, logits[n], mixture, scratch, x, activity)
        x1[n], x2[n] = x[0], x[1]
        g[n] = x[0] * activity[0] + x[1] * activity[1]

    hull = np.empty(count, dtype=np.int64)
    top = 0
    for n in range(count):
        while top >= 2:
            i, j = hull[top - 2], hull[top - 1]
            first = x1[j] - x1[i] if x1[j] < 0.5 else x2[i] - x2[j]
            whole = x1[n] - x1[i] if x1[n] < 0.5 else x2[i] - x2[n]
            if (g[j] - g[i]) * whole < (g[n] - g[i]) * first:
                break
            top -= 1
        hull[top] = n
        top += 1

    widest = 0.0
    low = high = -1
    for k in range(top - 1):
        i, j = hull[k], hull[k + 1]
        if j - i < 2:
            continue
        depth = 0.0
        for n in range(i + 1, j):
            share = (x1[n] - x1[i]) / (x1[j] - x1[i])
            depth = max(depth, g[n] - g[i] - share * (g[j] - g[i]))
        if depth > _DEPTH and x1[j] - x1[i] > widest:
            widest = x1[j] - x1[i]
            low, high = i, j
    if low < 0:
        return False
    for a in (0, 1, -1, 2):
        for b in (0, -1, 1, -2):
            ends[0] = logits[max(low + a, 0)]
            ends[1] = logits[min(high + b, count - 1)]
            if ends[1] > ends[0] and refine_gap(temperature, mixture, scratch, ends):
                return True
    return False


@kernel(float64(float64, float64[::1], MIXTURE_TYPE, float64[:, ::1], float64[::1]))
def tangent_plane(  # noqa: PLR0912 -- starts and iteration belong together
    temperature: float, z: Floats, mixture: MixtureArrays, scratch: Floats, trial: Floats
) -> float:
    """Return the lowest tangent-plane distance of a liquid over several starts.

    Args:
        temperature: [K].
        z: (C,) mole fractions of the liquid in question [-].
        mixture: the mixture.
        scratch: working space from `scratch_for`.
        trial: (C,) result: the composition with that distance [-].

    Returns:
        Distance over RT [-]; below -1e-9 the liquid is unstable and splits.  The search stops at
        the first clearly negative distance, which suffices as proof.  Valid for non-negative z;
        a gap that is narrower than the starts can tell may be overlooked.

    Source:
        Michelsen, Fluid Phase Equilib. 9 (1982) 1, doi:10.1016/0378-3812(82)85001-2.
    """
    components = z.shape[0]
    plane, gamma = np.empty(components), np.empty(components)
    w, amount = np.empty(components), np.empty(components)
    ln_activities(temperature, z, mixture, scratch, plane)
    lowest = 0.0
    for i in range(components):
        trial[i] = z[i]
    for start in range(2 * components):
        rich = start % components
        if z[rich] <= 0.0:
            continue
        purity = 0.99 if start < components else 0.6
        for i in range(components):
            w[i] = (1.0 - purity) * z[i]
        w[rich] += purity
        for _ in range(200):
            ln_activity(temperature, w, mixture, scratch, gamma)
            total, change, apart = 0.0, 0.0, 0.0
            for i in range(components):
                amount[i] = math.exp(plane[i] - gamma[i]) if z[i] > 0.0 else 0.0
                total += amount[i]
            # distance of the normalised composition w itself
            distance = 0.0
            for i in range(components):
                if w[i] > 0.0:
                    distance += w[i] * (math.log(w[i]) + gamma[i] - plane[i])
            if distance < lowest:
                lowest = distance
                for i in range(components):
                    trial[i] = w[i]
            for i in range(components):
                new = amount[i] / total
                change = max(change, abs(new - w[i]))
                w[i] = new
                apart = max(apart, abs(new - z[i]))
            if distance < -1e-4 or change < 1e-9 or apart < 1e-5:
                break
        if lowest < -1e-4:
            break
    return lowest


@kernel(float64(float64[::1], float64[::1]))
def split_amount(z: Floats, ln_k: Floats) -> float:
    """Return the share of the second liquid from its distribution ratios (Rachford & Rice).

    Args:
        z: (C,) overall mole fractions [-].
        ln_k: (C,) ln(x_second/x_first) [-].

    Returns:
        Moles of second liquid per mole [-]; outside 0 to 1 when z is outside the tie line; NaN
        when all ratios lie on one side of 1.

    Source:
        Rachford & Rice, J. Pet. Technol. 4 (1952) 19, doi:10.2118/952327-G.
    """
    highest, lowest = -1e300, 1e300
    for i in range(z.shape[0]):
        if z[i] > 0.0:
            highest, lowest = max(highest, ln_k[i]), min(lowest, ln_k[i])
    if not (highest > 1e-12 and lowest < -1e-12):
        return math.nan
    low, high = -1.0 / math.expm1(highest), -1.0 / math.expm1(lowest)
    share = 0.5 * (max(low, 0.0) + min(high, 1.0))
    for _ in range(200):
        value, slope = 0.0, 0.0
        for i in range(z.shape[0]):
            k = math.expm1(ln_k[i])
            term = k / (1.0 + share * k)
            value += z[i] * term
            slope -= z[i] * term * term
        if value > 0.0:
            low = share
        else:
            high = share
        new = share - value / slope if slope < 0.0 else 0.5 * (low + high)
        if not low < new < high:
            new = 0.5 * (low + high)
        if abs(new - share) < 1e-15 + 1e-14 * abs(share):
            return new
        share = new
    return share


@kernel(
    float64(
        float64,
        float64[::1],
        float64[::1],
        MIXTURE_TYPE,
        float64[:, ::1],
        float64[::1],
        float64[::1],
        float64[::1],
    )
)
def _split_residual(
    temperature: float,
    z: Floats,
    ln_k: Floats,
    mixture: MixtureArrays,
    scratch: Floats,
    first: Floats,
    second: Floats,
    residual: Floats,
) -> float:
    """Write both liquids and ln K - ln(gamma_first/gamma_second); return the second's share."""
    components = z.shape[0]
    share = split_amount(z, ln_k)
    if math.isnan(share):
        return share
    total_first, total_second = 0.0, 0.0
    for i in range(components):
        first[i] = z[i] / (1.0 + share * math.expm1(ln_k[i]))
        second[i] = first[i] * math.exp(ln_k[i])
        total_first += first[i]
        total_second += second[i]
    for i in range(components):
        first[i] /= total_first
        second[i] /= total_second
    gamma = np.empty(components)
    ln_activity(temperature, first, mixture, scratch, gamma)
    for i in range(components):
        residual[i] = ln_k[i] - gamma[i]
    ln_activity(temperature, second, mixture, scratch, gamma)
    for i in range(components):
        residual[i] += gamma[i]
        if z[i] <= 0.0:
            residual[i] = 0.0
    return share


@kernel(
    float64(
        float64,
        float64[::1],
        MIXTURE_TYPE,
        float64[:, ::1],
        float64[::1],
        float64[::1],
        float64[::1],
    )
)
def refine_split(  # noqa: C901, PLR0912 -- one iteration with its safeguards
    temperature: float,
    z: Floats,
    mixture: MixtureArrays,
    scratch: Floats,
    ln_k: Floats,
    first: Floats,
    second: Floats,
) -> float:
    """Bring two liquids into equilibrium from a guess: substitution, then Newton on ln K.

    Args:
        temperature: [K].
        z: (C,) overall mole fractions [-].
        mixture: the mixture.
        scratch: working space from `scratch_for`.
        ln_k: (C,) ln(x_second/x_first): the guess, replaced by the solution [-].
        first: (C,) result: first liquid [-].
        second: (C,) result: second liquid [-].

    Returns:
        Moles of second liquid per mole [-] (outside 0 to 1 when z lies outside the tie line), NaN
        when there is no second liquid or the iteration did not arrive.

    Source:
        Successive substitution: Michelsen, Fluid Phase Equilib. 9 (1982) 21,
        doi:10.1016/0378-3812(82)85002-4 (from memory); Newton's method on ln K near the end.
    """
    components = z.shape[0]
    residual, shifted = np.empty(components), np.empty(components)
    jacobian, step = np.empty((components, components)), np.empty(components)
    trial = np.empty(components)
    share = _split_residual(temperature, z, ln_k, mixture, scratch, first, second, residual)
    for iteration in range(300):
        if math.isnan(share):
            return share
        size, apart = 0.0, 0.0
        for i in range(components):
            size = max(size, abs(residual[i]))
            apart = max(apart, abs(first[i] - second[i]))
        if apart < 1e-4:
            return math.nan
        if size < _SOLVED:
            return share
        newton, sound = False, True
        if iteration >= 8 or size < 1e-2:
            for j in range(components):
                for i in range(components):
                    trial[i] = ln_k[i]
                trial[j] += 1e-6
                moved = _split_residual(
                    temperature, z, trial, mixture, scratch, first, second, shifted
                )
                sound = sound and not math.isnan(moved)
                for i in range(components):
                    jacobian[i, j] = (shifted[i] - residual[i]) / 1e-6
            for i in range(components):
                step[i] = -residual[i]
            if sound and solve_small(jacobian, step):
                largest = 0.0
                for i in range(components):
                    largest = max(largest, abs(step[i]))
                factor = min(1.0, 1.0 / largest) if largest > 0.0 else 1.0
                for i in range(components):
                    trial[i] = ln_k[i] + factor * step[i]
                moved = _split_residual(
                    temperature, z, trial, mixture, scratch, first, second, shifted
                )
                after = 0.0
                for i in range(components):
                    after = max(after, abs(shifted[i]))
                newton = not math.isnan(moved) and after < size
                if newton:
                    share = moved
                    for i in range(components):
                        ln_k[i], residual[i] = trial[i], shifted[i]
        if not newton:
            for i in range(components):
                ln_k[i] -= residual[i]
            share = _split_residual(temperature, z, ln_k, mixture, scratch, first, second, residual)
    return math.nan
