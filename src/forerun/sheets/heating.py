"""How hot a bath has to be: above the pot, for what the glass loses, within what is allowed.

A bath gives its heat through the wall that the liquid touches, and that wall shrinks while the
flask empties; neck, head and the flask's upper part lose as much as before.  So towards the end
the bath has to climb, or the dripping stops with liquid in the flask.
"""

from __future__ import annotations

from collections.abc import Sequence

from forerun.glassware.columns import highest_boilup
from forerun.glassware.drawer import find_item
from forerun.glassware.flasks import boiled_again, wetted_area
from forerun.sheets.model import Portion, Rig
from forerun.substances.correlations import latent_heat_watson1943

__all__ = [
    "MOST_ABOVE",
    "bath_above",
    "bath_ceiling",
    "boils_up",
    "load_difference",
    "losing",
    "ramp_time",
    "wetted_share",
]

_ABOVE_POT = 25.0  # K of the bath over the pot: the middle of the customary 20 to 30 K
_LEAST_ABOVE = 8.0  # K; below it hardly anything comes over
_BELOW_IGNITION = 25.0  # K between a bath of our own choosing and any autoignition temperature
_LOAD = 0.7  # of the load at which the column floods
MOST_ABOVE = 60.0  # K over the pot: what is lost beyond that asks for lagging; a judgement
_SLOW_END = 0.5  # of the customary difference where little wall is wetted
_MOST_REFLUX = 20.0
_HALVINGS = 40
_SLACK = 1.3  # over the time that the heat alone asks for
_SHORTEST, _LONGEST = 1800.0, 6.0 * 3600.0  # s, of the ramp


def bath_ceiling(charge: tuple[Portion, ...], rig: Rig) -> float:
    """Return the hottest that a bath of our own choosing may be.

    Args:
        charge: the components.
        rig: the resolved rig.

    Returns:
        [K], the limit of the bath, or 25 K below the lowest autoignition temperature of a
        component.
    """
    lights = [
        ignition.value if ignition.lowest is None else ignition.lowest
        for ignition in (portion.substance.autoignition for portion in charge)
        if ignition is not None
    ]
    return float(min([rig.bath_limit_K, *(t - _BELOW_IGNITION for t in lights)]))


def load_difference(charge: tuple[Portion, ...], rig: Rig, boiling: float) -> float:
    """Return how far the bath may stand above the pot without flooding the column.

    Args:
        charge: the components.
        rig: the resolved rig.
        boiling: temperature of the pot [K].

    Returns:
        Difference [K], 8 to 25.

    Derivation: heat through the wall of the pot over the heat of vaporisation is the boil-up;
    at most 0.7 of the flooding load of the drawer.
    """
    if rig.column == "none":
        return _ABOVE_POT
    column = find_item(rig.column, "column", "rig.column")
    lightest = min((p.substance for p in charge), key=lambda s: s.boiling_point.value)
    critical = lightest.critical_temperature.value
    latent = latent_heat_watson1943(min(boiling, 0.95 * critical), lightest.latent_heat, critical)
    moles = _LOAD * highest_boilup(column).typical / lightest.molar_volume.v0
    highest = moles * latent / rig.heat_transfer_W_K.value
    return min(_ABOVE_POT, max(_LEAST_ABOVE, highest))


def wetted_share(rig: Rig, left_m3: float, charge_m3: float) -> float:
    """Return how much of the wall that the charge touches is still wetted.

    Args:
        rig: the resolved rig.
        left_m3: liquid in the flask [m3], > 0.
        charge_m3: liquid that was charged [m3], > 0.

    Returns:
        Share [-], 0 to 1.
    """
    flask = rig.flask_volume_m3.value
    share = wetted_area(flask, min(left_m3, flask)) / wetted_area(flask, min(charge_m3, flask))
    return float(min(share, 1.0))


def losing(rig: Rig, pot: float) -> float:
    """Return what column, neck, head and the flask's upper part lose [W].

    Args:
        rig: the resolved rig.
        pot: temperature of pot and vapour [K].
    """
    loses = rig.heat_loss_W_K.value + rig.flask_loss_W_K.value
    return float(loses * (pot - rig.room_temperature_K.value))


def boils_up(rig: Rig, pot: float, bath: float, wetted: float) -> float:
    """Return the heat that boils liquid up and over: what the bath gives less what is lost.

    Args:
        rig: the resolved rig.
        pot: temperature of pot and vapour [K].
        bath: [K], not below the pot.
        wetted: share of the wall wetted at the charge that still is [-].

    Returns:
        Heat [W]; negative where nothing comes over.

    Derivation: as `forerun.still.pot_heat`, with column, neck and head as hot as the pot.
    """
    through = rig.heat_transfer_W_K.value * (bath - pot)
    flask = rig.flask_loss_W_K.value * (pot - rig.room_temperature_K.value)
    back = boiled_again((1.0 - wetted) * through, flask)
    return float(wetted * through + back - losing(rig, pot))


def bath_above(rig: Rig, pot: float, above: float, wetted: float) -> float:
    """Return how hot the bath has to be for liquid to come over; no limit is looked at.

    Args:
        rig: the resolved rig.
        pot: temperature of the pot [K].
        above: difference that boils liquid up, over what the losses take, with the wall wetted
            as charged [K].
        wetted: share of that wall that is still wetted [-], > 0.

    Returns:
        Temperature of the bath [K].

    Derivation: `boils_up` solved for the bath by halving.  Where less wall is wetted the
        difference is less too, down to half: a hotter wall would only scorch what is left.  That
        choice is a judgement, no source.
    """
    conductance = rig.heat_transfer_W_K.value * wetted
    wanted = conductance * above * max(wetted, _SLOW_END)
    low = 0.0
    high = (wanted + losing(rig, pot)) / conductance
    for _ in range(_HALVINGS):
        drive = 0.5 * (low + high)
        enough = boils_up(rig, pot, pot + drive, wetted) > wanted
        low, high = (low, drive) if enough else (drive, high)
    return float(pot + high)


def ramp_time(
    charge: tuple[Portion, ...], comes_over: Sequence[float], rig: Rig, above: float, reflux: float
) -> float:
    """Return how long a bath should take from its first temperature to its last.

    Args:
        charge: the components.
        comes_over: (C,) share of each that is to be distilled [-].
        rig: the resolved rig.
        above: difference that boils liquid up [K].
        reflux: ratio [-]; above 20 it counts as 20.

    Returns:
        Time [s], half an hour to six hours.

    Derivation: heat of vaporisation over what passes the wall of the pot, and a third longer.
    """
    heat = sum(
        share * p.amount_mol.value * p.substance.latent_heat.value
        for share, p in zip(comes_over, charge, strict=True)
    )
    time = _SLACK * heat * (1.0 + min(reflux, _MOST_REFLUX)) / (rig.heat_transfer_W_K.value * above)
    return float(min(max(time, _SHORTEST), _LONGEST))
