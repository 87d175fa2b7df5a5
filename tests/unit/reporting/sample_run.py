"""A run made by hand, so that pictures and tables can be tested without a still.

The numbers are invented: a front at 50 min between a light and a heavy component.
"""

from __future__ import annotations

import numpy as np

from forerun.core.references import Reference
from forerun.still.results import Cut, Energy, Ledger, Run, Trace

NAMES = ("acetone", "ethanol")


def trace() -> Trace:
    time = np.linspace(0.0, 5400.0, 600)
    warm = np.clip(time / 1500.0, 0.0, 1.0)
    front = 1.0 / (1.0 + np.exp(-(time - 3050.0) / 60.0))
    head = np.where(
        time < 1500.0, 295.0, 329.3 + 22.0 * front - 34.0 * np.exp((1500.0 - time) / 60.0)
    )
    light = np.stack([1.0 - front, front], axis=1)
    light[time < 1600.0] = np.nan
    return Trace(
        names=NAMES,
        time_s=time,
        head_temperature_K=head,
        pot_temperature_K=298.15 + 40.0 * warm + 20.0 * np.clip((time - 1700.0) / 3700.0, 0.0, 1.0),
        bath_temperature_K=298.15 + 95.0 * warm,
        pressure_Pa=np.full_like(time, 101325.0),
        distillate_volume_m3=70e-6 * np.clip((time - 1650.0) / 3750.0, 0.0, 1.0),
        distillate_mole_fraction=light,
        pot_mole_fraction=light,
        boilup_rate_mol_s=np.zeros_like(time),
        distillate_rate_mol_s=np.zeros_like(time),
    )


def cut(number: int, start: float, end: float, light: float, volume: float) -> Cut:
    fractions = np.array([light, 1.0 - light])
    return Cut(
        number=number,
        start_s=start,
        end_s=end,
        start_head_K=329.27,
        end_head_K=334.17,
        volume_m3=volume,
        mass_kg=volume * 790.0,
        amount_mol=volume * 790.0 / 0.05,
        mole_fraction=fractions,
        mass_fraction=fractions,
    )


def run() -> Run:
    cuts = (cut(1, 1650.0, 3000.0, 0.97, 25e-6), cut(2, 3000.0, 5400.0, 0.05, 45e-6))
    share = np.array([0.4, 0.6])
    ledger = Ledger(
        charge_mol=share,
        cuts_mol=0.8 * share,
        residue_mol=0.15 * share,
        holdup_mol=0.05 * share,
        vent_mol=0.0 * share,
        closure=1e-12,
    )
    return Run(
        trace=trace(),
        first_drop_s=1650.0,
        cuts=cuts,
        residue=cut(0, 0.0, 5400.0, 0.01, 10e-6),
        ledger=ledger,
        energy=Energy(1e5, 3e4, 6e4, 1e4, 1e-12),
        warnings=("The pot ends hot.",),
        unmodelled=("Two liquids in the pot.",),
        references=(Reference("invented", "Numbers made up for a test"),),
    )


def dry_run() -> Run:
    """A run in which nothing came over."""
    wet = run()
    nothing = np.full_like(wet.trace.time_s, 0.0)
    quiet = Trace(
        names=NAMES,
        time_s=wet.trace.time_s,
        head_temperature_K=nothing + 295.0,
        pot_temperature_K=nothing + 334.15,
        bath_temperature_K=nothing + 340.0,
        pressure_Pa=wet.trace.pressure_Pa,
        distillate_volume_m3=nothing,
        distillate_mole_fraction=np.full_like(wet.trace.pot_mole_fraction, np.nan),
        pot_mole_fraction=wet.trace.pot_mole_fraction,
        boilup_rate_mol_s=nothing,
        distillate_rate_mol_s=nothing,
    )
    return Run(
        trace=quiet,
        first_drop_s=None,
        cuts=(),
        residue=wet.residue,
        ledger=wet.ledger,
        energy=wet.energy,
        warnings=("Nothing comes over: the pot reaches 61 °C.",),
        unmodelled=(),
        references=(),
    )
