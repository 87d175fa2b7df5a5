"""`forerun look`: one substance and where it boils."""

from __future__ import annotations

from typing import TYPE_CHECKING

from forerun.app.asked import asked_of_substances
from forerun.app.ready import kernels_ready
from forerun.core.quantities import parse_quantity
from forerun.reporting.look import Look
from forerun.substances.bottles import bottle_named
from forerun.substances.catalogue import find, references_of
from forerun.substances.correlations import boiling_temperature

if TYPE_CHECKING:
    from forerun.reporting.look_bottle import LookBottle
    from forerun.substances.bottles import Bottle

__all__ = ["look", "look_at"]


def look(substance: str, *, pressure: str = "760 mmHg") -> Look | LookBottle:
    """Return what is known of a substance, and where it boils.

    Args:
        substance: name, synonym, CAS number, InChIKey or SMILES, or the name of a mixture that is
            sold as one bottle.
        pressure: as people write it, e.g. ``12 mmHg``.

    Returns:
        Constants with sources and spread, and the boiling point with its band.

    Raises:
        BadInput: the substance is not on file or the pressure cannot be read.
    """
    bottle = bottle_named(substance)
    if bottle is not None:
        return _look_into(bottle, substance, pressure)
    return look_at(substance, pressure=pressure)


def look_at(substance: str, *, pressure: str = "760 mmHg") -> Look:
    """Return what is known of one substance that is no mixture.

    Args:
        substance: name, synonym, CAS number, InChIKey or SMILES.
        pressure: as people write it, e.g. ``12 mmHg``.

    Raises:
        BadInput: the substance is not on file or the pressure cannot be read.
    """
    found = find(substance)
    at = parse_quantity(pressure, "pressure", "pressure", low_excluded=True)
    boiling = boiling_temperature(found, at.value)
    asked = asked_of_substances("look", (), substance=substance, pressure=pressure)
    return Look(found, at.value, boiling, references_of(found), asked)


def _look_into(bottle: Bottle, substance: str, pressure: str) -> LookBottle:
    at = parse_quantity(pressure, "pressure", "pressure", low_excluded=True)
    kernels_ready()
    # here and not above, so that a plain substance loads nothing heavy
    import numpy as np

    from forerun.equilibrium.bubble import bubble_temperature, dew_temperature
    from forerun.equilibrium.mixture import mixture_of
    from forerun.reporting.look_bottle import LookBottle

    mixture = mixture_of([part.substance for part in bottle.parts])
    x = np.array(bottle.mole_fractions)
    bubble, vapour = bubble_temperature(x, at.value, mixture)
    dew, _ = dew_temperature(x, at.value, mixture)
    references = (bottle.reference, *mixture.references)
    parts = [part.substance for part in bottle.parts]
    asked = asked_of_substances("look", parts, substance=substance, pressure=pressure)
    return LookBottle(
        bottle, at.value, bubble, dew, tuple(vapour.tolist()), references, mixture.warnings, asked
    )
