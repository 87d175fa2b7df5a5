"""The contract's object for a forecast."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from forerun.reporting.bands import Span
from forerun.reporting.cut_rows import CutSpans
from forerun.reporting.plain import by_name, number, numbers
from forerun.reporting.sources import source_object
from forerun.sheets.model import RunSheet
from forerun.still.results import Cut, Energy, Ledger, Trace

if TYPE_CHECKING:
    from forerun.forecast.bands import CutBand, Interval
    from forerun.forecast.ensemble import Forecast

__all__ = [
    "cut_object",
    "energy_object",
    "foresee_object",
    "ledger_object",
    "spans_of",
    "trace_object",
]


def foresee_object(
    sheet: RunSheet, forecast: Forecast, finding: str, warnings: Sequence[str]
) -> dict[str, Any]:
    """Return the whole object.

    Args:
        sheet: the sheet that was read.
        forecast: the run with its bands.
        finding: what was found, in one sentence.
        warnings: every sentence that the user should read.
    """
    run = forecast.run
    names = run.trace.names
    spans = spans_of(forecast) or (None,) * (len(run.cuts) + 1)
    receivers = zip((*run.cuts, run.residue), spans, strict=True)
    *cuts, residue = (cut_object(cut, names, span) for cut, span in receivers)
    return {
        "title": sheet.title,
        "finding": finding,
        "trace": trace_object(run.trace),
        "first_drop_s": number(run.first_drop_s),
        "first_drop_band_s": _interval(forecast.first_drop_s),
        "cuts": cuts,
        "residue": residue,
        "ledger": ledger_object(run.ledger, names),
        "energy": energy_object(run.energy),
        "band": _band_object(forecast),
        "members": forecast.members,
        "failed": forecast.failed,
        "seed": forecast.seed,
        "unknowns": [
            {
                "name": unknown.name,
                "distribution": unknown.distribution,
                "sigma": number(unknown.sigma),
                "unit": unknown.unit,
                "origin": unknown.origin,
            }
            for unknown in forecast.unknowns
        ],
        "defaults": list(forecast.defaults),
        "unmodelled": list(run.unmodelled),
        "warnings": list(warnings),
        "references": source_object(run.references),
    }


def spans_of(forecast: Forecast) -> tuple[CutSpans | None, ...]:
    """Return the bands of the receivers in order, the pot last; empty where there are none."""
    if forecast.residue_band is None:
        return ()
    return tuple(_spans(band) for band in (*forecast.cut_bands, forecast.residue_band))


def _spans(band: CutBand) -> CutSpans | None:
    volume = Span(band.volume_low_m3, band.volume_high_m3)
    if not volume.known():
        return None
    fractions = zip(band.mole_fraction_low, band.mole_fraction_high, strict=True)
    spans = tuple(Span(float(low), float(high)) for low, high in fractions)
    return CutSpans(volume, spans, band.reached)


def _band_object(forecast: Forecast) -> dict[str, Any] | None:
    band = forecast.band
    if band is None:
        return None
    return {
        "time_s": numbers(band.time_s),
        "head_temperature_K": {
            "p10": numbers(band.p10),
            "p50": numbers(band.p50),
            "p90": numbers(band.p90),
        },
    }


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
    if spans is None:
        return {**found, "mole_fraction_band": None, "volume_band_m3": None, "reached": None}
    bands = {
        name: [number(span.low), number(span.high)]
        for name, span in zip(names, spans.mole_fraction, strict=True)
    }
    volume = [number(spans.volume.low), number(spans.volume.high)]
    return {
        **found,
        "mole_fraction_band": bands,
        "volume_band_m3": volume,
        "reached": number(spans.reached),
    }


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


def _interval(interval: Interval | None) -> list[float | None] | None:
    return None if interval is None else [number(interval.low), number(interval.high)]
