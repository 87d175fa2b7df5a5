"""What is wanted of a run, with defaults where the sheet says nothing."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from forerun.core.quantities import format_fraction
from forerun.sheets.model import RunSheet

__all__ = ["Goal", "aimed_at_lightest", "chance_of", "goal_of", "weights_for"]

Floats = npt.NDArray[np.float64]

_PURITY, _RECOVERY = 0.95, 0.50  # what is taken where the sheet names neither
_NEVER_ASSUMED = "water"
_SAME = 0.02  # amounts that differ by less count as equal


@dataclass(frozen=True, slots=True)
class Goal:
    """The aim with nothing left open.

    Args:
        wanted: index of the wanted component in the charge.
        name: its name.
        purity: fraction of it in the product [-].
        basis: ``mol%``, ``wt%`` or ``vol%``.
        recovery: share of what was charged [-].
        time_s: at hand [s]; None where nothing was said.
        assumed: one sentence for whatever the sheet left open.
    """

    wanted: int
    name: str
    purity: float
    basis: str
    recovery: float
    time_s: float | None
    assumed: tuple[str, ...]


def goal_of(sheet: RunSheet) -> Goal:
    """Return the aim of a sheet; where it names none, the most plentiful component.

    Plentiful by volume, as it stands in the flask; and water only where there is nothing else:
    nobody distils a wet solvent for its water unless they say so (common practice, no source).

    Args:
        sheet: the run sheet.
    """
    aim, assumed = sheet.aim, []
    if aim.substance is not None:
        wanted = sheet.names.index(aim.substance.name)
    else:
        wanted = _most_plentiful(sheet)
        beside = any(p.substance.name == _NEVER_ASSUMED for p in sheet.charge)
        reason = "most by volume beside water" if beside else "most by volume"
        assumed.append(f"aim.substance = {sheet.names[wanted]} ({reason})")
    purity, basis = aim.purity, aim.purity_basis or "mol%"
    if purity is None:
        purity = _PURITY
        assumed.append(f"aim.purity = {format_fraction(purity, basis)} (nothing was said)")
    recovery = aim.recovery
    if recovery is None:
        recovery = _RECOVERY
        assumed.append(f"aim.recovery = {format_fraction(recovery, '%', 0.05)} (nothing was said)")
    return Goal(wanted, sheet.names[wanted], purity, basis, recovery, aim.time_s, tuple(assumed))


def aimed_at_lightest(sheet: RunSheet) -> RunSheet:
    """Return the sheet with an aim: its own, or else the component that boils lowest.

    What comes over first is what a class looks at; the most plentiful may never leave the pot.

    Args:
        sheet: the run sheet.

    Returns:
        The sheet; where the aim was put in, `RunSheet.defaults` says so.
    """
    if sheet.aim.substance is not None:
        return sheet
    lightest = min((p.substance for p in sheet.charge), key=lambda s: s.boiling_point.value)
    said = f"aim.substance = {lightest.name} (it boils lowest)"
    return replace(
        sheet, aim=replace(sheet.aim, substance=lightest), defaults=(*sheet.defaults, said)
    )


def _most_plentiful(sheet: RunSheet) -> int:
    """Return the component of the largest volume; the lightest of those that are about equal."""
    names = [p.substance.name for p in sheet.charge]
    may = [k for k, name in enumerate(names) if name != _NEVER_ASSUMED] or [0]
    most = max(sheet.charge[k].volume_m3 for k in may)
    near = [k for k in may if sheet.charge[k].volume_m3 > (1.0 - _SAME) * most]
    return min(near, key=lambda k: sheet.charge[k].substance.boiling_point.value)


def weights_for(sheet: RunSheet, basis: str) -> Floats:
    """Return what one mole of each component counts in a basis.

    Args:
        sheet: the run sheet.
        basis: ``mol%``, ``wt%`` or ``vol%``.

    Returns:
        (C,) 1, molar mass [kg/mol] or molar volume at 20 °C [m3/mol].
    """
    substances = [portion.substance for portion in sheet.charge]
    if basis == "wt%":
        return np.array([s.molar_mass for s in substances])
    if basis == "vol%":
        return np.array([s.molar_volume.v0 for s in substances])
    return np.ones(len(substances))


def chance_of(successes: int, runs: int) -> float:
    """Return the probability that a few runs speak for: never 0 or 1.

    Args:
        successes: runs that met the aim.
        runs: all of them.

    Returns:
        (successes + 1/2)/(runs + 1) [-].

    Source:
        Mean of the posterior under Jeffreys' prior; Jeffreys, Proc. R. Soc. A 186 (1946) 453,
        doi:10.1098/rspa.1946.0056.
    """
    return (successes + 0.5) / (runs + 1.0)
