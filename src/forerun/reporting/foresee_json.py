"""The contract's object for a forecast."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from forerun.reporting.cut_rows import CutSpans
from forerun.reporting.plain import by_name, number, numbers
from forerun.still.results import Cut, Energy, Ledger, Trace

__all__ = ["cut_object", "energy_object", "ledger_object", "trace_object"]


def trace_object(trace: Trace) -> dict[str, Any]:
    """Return the states against time, SI."""
    return {
        "time_s": numbers(trace.time_s),
        "head_temperature_K": numbers(trace.head_temperature_K),
        "pot_temperature_K": numbers(trace.pot_temperature_K),
        "bath_temperature_K": numbers(trace.bath_temperature_K),
        "pressure_Pa": numbers(trace.pressure_Pa),
        "distillate_volume_m3": numbers(trace.distillate_volume_m3),
        "distillate_mole_fraction": {
            name: numbers(trace.distillate_mole_fraction[:, k])
            for k, name in enumerate(trace.names)
        },
        "pot_mole_fraction": {
            name: numbers(trace.pot_mole_fraction[:, k]) for k, name in enumerate(trace.names)
        },
        "distillate_rate_mol_s": numbers(trace.distillate_rate_mol_s),
    }


def cut_object(cut: Cut, names: Sequence[str], spans: CutSpans | None = None) -> dict[str, Any]:
    """Return one receiver (or the pot), SI; its bands are null where there are none."""
    found: dict[str, Any] = {
        "number": cut.number,
        "start_s": number(cut.start_s),
        "end_s": number(cut.end_s),
        "start_head_K": number(cut.start_head_K),
        "end_head_K": number(cut.end_head_K),
        "volume_m3": number(cut.volume_m3),
        "mass_kg": number(cut.mass_kg),
        "amount_mol": number(cut.amount_mol),
        "mole_fraction": by_name(names, cut.mole_fraction),
        "mass_fraction": by_name(names, cut.mass_fraction),
    }
    if cut.number == 0:
        return found
    if spans is None:
        return {**found, "mole_fraction_band": None, "volume_band_m3": None}
    bands = {
        name: [number(span.low), number(span.high)]
        for name, span in zip(names, spans.mole_fraction, strict=True)
    }
    volume = [number(spans.volume.low), number(spans.volume.high)]
    return {**found, "mole_fraction_band": bands, "volume_band_m3": volume}


def ledger_object(ledger: Ledger, names: Sequence[str]) -> dict[str, Any]:
    """Return the account of moles."""
    return {
        "charge_mol": by_name(names, ledger.charge_mol),
        "cuts_mol": by_name(names, ledger.cuts_mol),
        "residue_mol": by_name(names, ledger.residue_mol),
        "holdup_mol": by_name(names, ledger.holdup_mol),
        "vent_mol": by_name(names, ledger.vent_mol),
        "closure": number(ledger.closure),
    }


def energy_object(energy: Energy) -> dict[str, Any]:
    """Return the account of heat."""
    return {
        "supplied_J": number(energy.supplied_J),
        "lost_J": number(energy.lost_J),
        "condenser_J": number(energy.condenser_J),
        "stored_J": number(energy.stored_J),
        "closure": number(energy.closure),
    }
