"""What another way of running the same charge would have given."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from forerun.core.errors import CalculationFailed
from forerun.reviewing.again import purity_of
from forerun.sheets.model import RunSheet
from forerun.still.inputs import StillInput
from forerun.still.results import Run
from forerun.still.run import run_still

__all__ = ["Replay", "replays"]


@dataclass(frozen=True, slots=True)
class Replay:
    """The same charge run in another way.

    Args:
        name: ``as it was``, ``half the heat``, ``better lagged`` or ``earlier switch``.
        words: what was done otherwise.
        pure_kg: most of the wanted substance that could be had in one receiver at the wanted
            purity; without an aim, mass of the receiver that holds most [kg].
        purity: of it, in the basis of the aim [-].
        time_s: when the run ends [s].
    """

    name: str
    words: str
    pure_kg: float
    purity: float
    time_s: float


def replays(sheet: RunSheet, fitted: StillInput) -> tuple[Replay, ...]:
    """Return what the same charge would have given otherwise.

    Args:
        sheet: of the run.
        fitted: the still with the sheet's programme and switches.

    Returns:
        First the run as it was, then each variation; one that cannot be run is left out.
    """
    longer = replace(fitted.stop, time_s=2.0 * fitted.stop.time_s)
    cases = [
        ("as it was", "the run as fitted", fitted),
        (
            "half the heat",
            "half the heat into the pot, twice the time allowed",
            replace(fitted, bath_conductance_W_K=0.5 * fitted.bath_conductance_W_K, stop=longer),
        ),
        (
            "better lagged",
            "column and head lose a third of the heat",
            replace(
                fitted,
                column_loss_W_K=fitted.column_loss_W_K / 3.0,
                head_loss_W_K=fitted.head_loss_W_K / 3.0,
            ),
        ),
    ]
    if any(s.head_temperature_K is not None for s in fitted.switches):
        earlier = tuple(
            s
            if s.head_temperature_K is None
            else replace(s, head_temperature_K=s.head_temperature_K - 2.0)
            for s in fitted.switches
        )
        cases.append(
            ("earlier switch", "receivers changed 2 K earlier", replace(fitted, switches=earlier))
        )
    found = []
    for name, words, case in cases:
        try:
            run = run_still(case)
        except CalculationFailed:
            continue
        found.append(_replayed(sheet, name, words, run))
    return tuple(found)


def _replayed(sheet: RunSheet, name: str, words: str, run: Run) -> Replay:
    end = float(run.trace.time_s[-1])
    filled = [cut for cut in run.cuts if cut.amount_mol > 0.0]
    if not filled:
        return Replay(name, words, 0.0, math.nan, end)
    if sheet.aim.substance is None:
        most = max(filled, key=lambda cut: cut.mass_kg)
        return Replay(name, words, most.mass_kg, float(np.max(most.mole_fraction)), end)
    wanted = sheet.names.index(sheet.aim.substance.name)
    basis = sheet.aim.purity_basis
    masses = {c.number: c.mass_kg * c.mass_fraction for c in filled}
    purities = {n: purity_of(m, wanted, basis, sheet) for n, m in masses.items()}
    good = [n for n, p in purities.items() if p >= (sheet.aim.purity or 0.0)]
    best = max(
        good or purities,
        key=lambda n: float(masses[n][wanted]) if good else purities[n],
    )
    pure = float(masses[best][wanted]) if good else 0.0
    return Replay(name, words, pure, purities[best], end)
