"""Whether a charge boils before it is heated: then it foams up as the pump takes hold."""

from __future__ import annotations

from forerun.core.formats import format_pressure, format_temperature
from forerun.equilibrium.arrays import scratch_for
from forerun.equilibrium.kernels import bubble_pressure
from forerun.equilibrium.liquid_liquid import split_liquid
from forerun.still.inputs import StillInput

__all__ = ["boils_at_start", "pressure_over_charge"]


def pressure_over_charge(given: StillInput) -> float:
    """Return the pressure at which the charge of a run boils at the temperature it starts from.

    Args:
        given: the run.

    Returns:
        Bubble pressure of the charge [Pa], of both its liquids where two are followed; what does
        not distil takes its share of it as an ideal diluent.

    Source: `forerun.equilibrium.kernels.bubble_pressure`; valid where that is.
    """
    amount = float(given.charge_mol.sum())
    share = given.charge_mol / amount
    if given.two_liquids:
        parted = split_liquid(share, given.charge_temperature_K, given.mixture)
        share = share if parted is None else parted.first  # both have the same vapour
    scratch = scratch_for(given.mixture)
    over = bubble_pressure(given.charge_temperature_K, share, given.mixture, scratch, share.copy())
    return float(over) * amount / (amount + given.diluent_mol)


def boils_at_start(given: StillInput) -> str | None:
    """Return what to say of a charge that boils before it is heated.

    Args:
        given: the run.

    Returns:
        A sentence with both pressures [mmHg, mbar] and what to do; None where it does not boil.

    Derivation: its bubble pressure is above the pressure that the programme begins with.
    """
    over, begins = pressure_over_charge(given), float(given.pressure[0, 1])
    if over <= begins:
        return None
    return (
        f"The charge boils at {format_temperature(given.charge_temperature_K)} already, under the "
        f"{format_pressure(begins, None)} that the programme begins with: liquid and foam come "
        "over as the pump takes hold. Cool the charge, or let programme.pressure begin above "
        f"{format_pressure(over, None)} and fall slowly."
    )
