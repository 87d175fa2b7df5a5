"""What the forecast says of each receiver as it was really filled, not as it was foreseen."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
import numpy.typing as npt

from forerun.records.assays import Assays
from forerun.reviewing.observed import ObservedCut
from forerun.still.results import Run

__all__ = ["filled", "shared_out"]

Floats = npt.NDArray[np.float64]


def filled(
    receivers: Sequence[str], observed: Sequence[ObservedCut], assays: Assays, foreseen: Run
) -> Floats | None:
    """Return what was found in each receiver, None where one of them was neither weighed nor read.

    Args:
        receivers: their numbers, in the order in which they were filled.
        observed: receivers by the readings.
        assays: what was weighed and measured out.
        foreseen: whose mean density turns a volume into a mass.

    Returns:
        (n,) masses [kg].
    """
    volume = sum(cut.volume_m3 for cut in foreseen.cuts)
    if volume <= 0.0:
        return None
    dense = sum(cut.mass_kg for cut in foreseen.cuts) / volume
    read = {str(cut.number): cut for cut in observed}
    found = []
    for place in receivers:
        said = {row.method: row.value for row in assays.rows if row.cut == place}
        cut = read.get(place)
        kept = [said.get("mass", np.nan), dense * said.get("volume", np.nan)]
        kept += [] if cut is None else [cut.mass_kg, dense * cut.volume_m3]
        known = [value for value in kept if np.isfinite(value)]
        if not known:
            return None
        found.append(known[0])
    return np.array(found)


def shared_out(
    receivers: Sequence[str], masses: Floats, foreseen: Run, molar_masses: Floats
) -> Mapping[str, Floats] | None:
    """Return what the forecast would have in receivers of these masses, and in the pot.

    Args:
        receivers: their numbers, in order.
        masses: (n,) what was found in each [kg].
        foreseen: the forecast.
        molar_masses: (C,) [kg/mol].

    Returns:
        (C,) masses of the components by place [kg]; None of a forecast without distillate.

    Derivation:
        components that came over as functions of all that came over, beyond its end going on with
        what was left in the pot; read off where one receiver followed the other. Not a published
        model.
    """
    over = foreseen.trace.received_mol
    if not over.size or foreseen.residue.mass_kg < 0.0:
        return None
    parts = np.nan_to_num(over) * molar_masses
    left = np.nan_to_num(foreseen.residue.mass_kg * foreseen.residue.mass_fraction)
    parts = np.vstack([parts, parts[-1] + left])
    total = parts.sum(axis=1)
    if total[-2] <= 0.0:
        return None
    edges = np.concatenate([[0.0], np.cumsum(masses)])
    at = np.column_stack([np.interp(edges, total, column) for column in parts.T])
    found = {place: at[k + 1] - at[k] for k, place in enumerate(receivers)}
    return {**found, "pot": parts[-1] - at[-1]}
