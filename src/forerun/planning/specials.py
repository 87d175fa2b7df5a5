"""What some liquids ask for besides: low boilers, acids, monomers, what takes up water."""

from __future__ import annotations

import re

from forerun.core.quantities import format_temperature
from forerun.planning.analysis import Analysis, mixes_with_water
from forerun.substances.model import Substance

__all__ = ["specials_of"]

_ABOVE_COOLANT = 20.0  # K between coolant and boiling point
_THIRD = 1.0 / 3.0
_VACUUM = 5.0e4  # Pa
_DRY = 0.99  # purity asked for from which moisture of the air counts
_HALOGEN = re.compile(r"Cl|Br|I(?![a-z])|F(?![a-z])")
_WHOLE = 5.0  # K, for temperatures without decimals


def specials_of(found: Analysis) -> tuple[str, ...]:
    """Return what the liquids of a charge ask for besides the method.

    Args:
        found: the mixture, looked at for the aim.

    Returns:
        One sentence for each cause that the figures give.
    """
    return tuple(
        [
            *_low_boilers(found),
            *_foam(found),
            *_acids(found),
            *_sponge(found),
            *_moisture(found),
            *_monomers(found),
            *_involatile(found),
        ]
    )


def _low_boilers(found: Analysis) -> list[str]:
    coolant = found.sheet.rig.coolant_temperature_K.value
    low = [
        s.name
        for s, boils in zip(found.mixture.substances, found.boiling_K, strict=True)
        if boils < coolant + _ABOVE_COOLANT
    ]
    if not low:
        return []
    wanted = float(found.boiling_K.min()) - _ABOVE_COOLANT
    return [
        f"{', '.join(low)}: less than 20 K between coolant and boiling point; coolant at "
        f"{format_temperature(wanted, _WHOLE)} or colder, the receiver in ice and vented to the "
        "hood."
    ]


def _foam(found: Analysis) -> list[str]:
    rig = found.sheet.rig
    fill = found.sheet.charge_volume_m3 / rig.flask_volume_m3.value
    if found.pressure_Pa > _VACUUM or fill <= _THIRD:
        return []
    return [
        f"The flask is {100.0 * fill:.0f} % full: what foams takes a third at the most; lower the "
        "pressure in steps."
    ]


def _is_acid(substance: Substance) -> bool:
    return "acid" in substance.name.split() or substance.dimerisation is not None


def _acids(found: Analysis) -> list[str]:
    acids = [s.name for s in found.mixture.substances if _is_acid(s)]
    if not acids:
        return []
    pump = found.pressure_Pa < _VACUUM
    after = "; a cold trap before the pump" if pump else ""
    return [f"{', '.join(acids)}: neutralise it where it is not what is wanted{after}."]


def _sponge(found: Analysis) -> list[str]:
    attack = [s.name for s in found.mixture.substances if _is_acid(s) or _HALOGEN.search(s.formula)]
    if not attack or "sponge" not in found.sheet.rig.column:
        return []
    return [f"{', '.join(attack)} attacks a steel sponge: take glass."]


def _moisture(found: Analysis) -> list[str]:
    if found.water is not None or found.goal.purity < _DRY or not mixes_with_water(found.wanted):
        return []
    return [f"{found.wanted.name} takes up water from the air: dry glass, a drying tube."]


def _monomers(found: Analysis) -> list[str]:
    monomers = [
        s.name
        for s in found.mixture.substances
        if s.peroxide_class is not None and s.peroxide_class.value == "C"
    ]
    if not monomers:
        return []
    known = found.sheet.safety.inhibitor
    stated = f" ({known} is stated)" if known and known != "none" else ""
    return [
        f"{', '.join(monomers)} can polymerise in the pot: keep an inhibitor in it{stated}, and "
        "put a fresh one into the receiver; it does not distil with it."
    ]


def _involatile(found: Analysis) -> list[str]:
    if not found.sheet.safety.involatile:
        return []
    return [
        "Something that does not distil is dissolved in it: the pot is no product, and its boiling "
        "point lies higher than computed."
    ]
