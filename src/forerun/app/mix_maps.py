"""What `forerun mix` answers beyond azeotropes: order, layers, steam, other pressures, maps."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from forerun.core.errors import BadInput
from forerun.core.quantities import parse_quantity
from forerun.reporting.mix_more import More

if TYPE_CHECKING:
    from forerun.equilibrium.azeotropes import AzeotropeSet
    from forerun.equilibrium.bubble import BoilingCurve
    from forerun.equilibrium.mixture import Mixture

__all__ = ["more_of", "pressures_from"]

Floats = npt.NDArray[np.float64]

_WATER = "XLYOFNOQVPJJNP-UHFFFAOYSA-N"
_FUNNEL_K = 298.15  # K, where no other temperature is asked for
_CURVE_POINTS = 121


def pressures_from(text: str | None) -> tuple[float, float] | None:
    """Read two pressures with a comma between them, e.g. ``50 mbar, 2 bar``.

    Raises:
        BadInput: not two, or the first is not the lower.
    """
    if text is None:
        return None
    parts = text.split(",")
    accepted = 'a lower and a higher pressure, such as "50 mbar, 2 bar"'
    if len(parts) != 2:
        raise BadInput("--between", text, accepted)
    low, high = (
        parse_quantity(part.strip(), "pressure", "--between", low_excluded=True).value
        for part in parts
    )
    if not low < high:
        raise BadInput("--between", text, accepted)
    return low, high


def more_of(
    mixture: Mixture,
    search: AzeotropeSet,
    pressure: float,
    charge: Floats | None,
    *,
    settle_K: float | None,
    between: tuple[float, float] | None,
    drawn: bool,
) -> More:
    """Return what else is to be said of a mixture.

    Args:
        mixture: two to five substances.
        search: its azeotropes.
        pressure: [Pa].
        charge: mole fractions of what is in the pot, where given [-].
        settle_K: temperature at which layers are wanted [K].
        between: lower and higher pressure between which azeotropes are followed [Pa].
        drawn: whether a picture is wanted.
    """
    from forerun.equilibrium.boundaries import ternary_of
    from forerun.equilibrium.course import course_of
    from forerun.equilibrium.pressure_shift import shifts_between
    from forerun.equilibrium.residue import Residues
    from forerun.equilibrium.settling import settled
    from forerun.equilibrium.steam import steam_distillation

    count = len(mixture.substances)
    residues = Residues(mixture.arrays, pressure, search.points, search.miscible)
    course = None if charge is None else course_of(charge, residues)
    funnel = _FUNNEL_K if settle_K is None else settle_K
    liquids: list[tuple[str, Floats]] = []
    if settle_K is not None and charge is not None:
        liquids.append(("the charge", charge))
    liquids += [
        (" + ".join(mixture.names[k] for k in a.components), a.mole_fraction)
        for a in search.azeotropes
        if a.liquid_compositions is not None
    ]
    layers = tuple((name, settled(x, funnel, mixture)) for name, x in liquids)
    water = any(s.inchikey == _WATER for s in mixture.substances)
    one = any(a.liquid_phases == 1 and a.liquid_compositions is not None for a in search.azeotropes)
    mixes = (0, 1) in search.miscible or one
    steam = steam_distillation(mixture, pressure) if count == 2 and water and not mixes else None
    return More(
        course,
        layers,
        funnel,
        steam,
        () if between is None else shifts_between(mixture, *between, search.miscible),
        between,
        ternary_of(residues) if count == 3 and drawn else None,
        _curve(mixture, search, pressure) if count == 2 and drawn else None,
        _band(mixture, search, pressure) if count == 2 and drawn else None,
    )


def _curve(mixture: Mixture, search: AzeotropeSet, pressure: float) -> BoilingCurve:
    """The boiling diagram; level where two liquids boil."""
    from forerun.equilibrium.bubble import BoilingCurve, bubble_temperature

    layers = _boiling_layers(search)
    if layers is None:
        places = np.linspace(0.0, 1.0, _CURVE_POINTS)
    else:
        half = _CURVE_POINTS // 2
        places = np.concatenate(
            [np.linspace(0.0, layers[0], half), np.linspace(layers[1], 1.0, half)]
        )
    y, temperature = np.empty(places.size), np.empty(places.size)
    for k, x in enumerate(places):
        temperature[k], vapour = bubble_temperature([x, 1.0 - x], pressure, mixture)
        y[k] = vapour[0]
    return BoilingCurve(pressure, places, y, temperature)


def _boiling_layers(search: AzeotropeSet) -> tuple[float, float] | None:
    """Shares of the first of two substances in the two liquids of a heteroazeotrope."""
    for azeotrope in search.azeotropes:
        if azeotrope.liquid_compositions is not None:
            low, high = sorted(float(x[0]) for x in azeotrope.liquid_compositions)
            return low, high
    return None


def _band(mixture: Mixture, search: AzeotropeSet, pressure: float) -> tuple[Floats, Floats]:
    """Half-widths of the boiling temperature [K] along the boiling diagram."""
    from forerun.equilibrium.bands import boiling_band

    layers = _boiling_layers(search)
    x = np.linspace(0.0, 1.0, 13) if layers is None else np.array([0.0, 1.0])
    widths = [boiling_band([v, 1.0 - v], pressure, mixture).half_width for v in x]
    if layers is None:
        return x, np.array(widths)
    found = [a for a in search.azeotropes if a.liquid_compositions is not None]
    low, high = min(a.temperature_band_K for a in found)
    half = 0.5 * (high - low)
    return np.array([0.0, *layers, 1.0]), np.array([widths[0], half, half, widths[1]])
