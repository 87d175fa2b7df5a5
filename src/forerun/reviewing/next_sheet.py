"""The run sheet of off-cuts that are distilled again: what they hold, on the same glass."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

from forerun.equilibrium.band_rules import EIGHTY
from forerun.reviewing.ledger import Line, Reconciled
from forerun.sheets.model import RunSheet
from forerun.sheets.writing import table_of

__all__ = ["next_table"]

_TRACE = 1e-4  # mass fraction below which a component is left out
_STAYS = 0.1  # of the new charge, where the old sheet would leave more than a third of it
_MOST_LEFT = 1.0 / 3.0


def next_table(sheet: RunSheet, account: Reconciled, places: Sequence[str]) -> dict[str, Any]:
    """Return the run sheet of a charge put together from receivers.

    Args:
        sheet: of the run that filled them.
        account: what they hold.
        places: of the account, such as ``("2", "3")``; not empty.

    Returns:
        Keys and values as `forerun.load` takes them: amounts with their doubts, the same glass,
        pressure, bath, reflux and aim, no change of receivers.
    """
    lines = [line for place in places if (line := account.line(place)) is not None]
    total = sum(line.mass_kg for line in lines)
    volume = sum(line.volume_m3 for line in lines)
    charge = []
    for k, portion in enumerate(sheet.charge):
        mass = sum(float(line.by_component_kg[k]) for line in lines)
        if mass < _TRACE * total:
            continue
        doubt = math.hypot(*(_doubt(line, k) for line in lines))
        amount = f"{1e3 * mass:.2f} ± {max(1e3 * doubt, 0.01):.2f} g"
        charge.append({"substance": portion.substance.name, "amount": amount})
    written = table_of(sheet)
    programme = dict(written.get("programme", {}))
    stop = dict(programme.get("stop", {}))
    left = sheet.programme.stop.residue_m3
    if left is not None and left > _MOST_LEFT * volume:
        stop["residue"] = f"{1e6 * _STAYS * volume:.1f} mL"
    if stop:
        programme["stop"] = stop
    which = f"cut {places[0]}" if len(places) == 1 else f"cuts {', '.join(places)}"
    found: dict[str, Any] = {
        "title": f"{which[0].upper()}{which[1:]} of {written.get('title', 'a run')}, again",
        "charge": charge,
    }
    for key, value in (("rig", written.get("rig")), ("programme", programme)):
        if value:
            found[key] = value
    aim = {k: v for k, v in dict(written.get("aim", {})).items() if k in {"substance", "purity"}}
    return {**found, "aim": aim} if aim else found


def _doubt(line: Line, k: int) -> float:
    """Return the standard deviation of the mass of one component in a receiver [kg]."""
    fraction = float(line.by_component_kg[k]) / max(line.mass_kg, 1e-9)
    half = math.hypot(fraction * line.band_kg, line.mass_kg * float(line.mole_fraction_band[k]))
    return half / EIGHTY
