"""What the page shows beside the contract's object: the same words as on the terminal."""

from __future__ import annotations

from dataclasses import fields, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from forerun.core.errors import BadInput
from forerun.reporting.aim_met import aim_met
from forerun.reporting.cautions import cautions_of_run
from forerun.reporting.dripping import bath_too_cold, last_drop
from forerun.reporting.foresee import Foresight
from forerun.reporting.plain import number
from forerun.reporting.words import bath_words

if TYPE_CHECKING:
    from forerun.reporting.review import Reviewed
    from forerun.sheets.model import RunSheet, Setting
    from forerun.still.results import Trace

__all__ = ["review_shown", "shown", "thinned"]

_FEWEST = 2
_DIGITS = 7


def thinned(foresight: Foresight, points: int | None) -> Foresight:
    """Return a forecast whose trace has about so many points, turns and switches kept.

    Args:
        foresight: the forecast.
        points: wanted at least [-]; None leaves the trace as it is.

    Raises:
        BadInput: fewer than two points.
    """
    if points is None:
        return foresight
    if points < _FEWEST:
        raise BadInput("points", points, f"a whole number from {_FEWEST} on")
    run = foresight.forecast.run
    kept = _kept_rows(run.trace, points)
    forecast = replace(foresight.forecast, run=replace(run, trace=_rows_of(run.trace, kept)))
    return replace(foresight, forecast=forecast)


def _kept_rows(trace: Trace, points: int) -> np.ndarray[Any, np.dtype[np.int64]]:
    """Return rows at which head and volume bend most evenly shared out, both ends included."""
    count = trace.time_s.size
    if count <= points:
        return np.arange(count)
    ways = []
    for values in (trace.time_s, trace.head_temperature_K, trace.distillate_volume_m3):
        step = np.abs(np.diff(np.nan_to_num(values)))
        ways.append(step / max(float(step.sum()), 1e-12))
    along = np.concatenate(([0.0], np.cumsum(sum(ways))))
    even = np.linspace(0.0, float(along[-1]), points)
    switches = np.flatnonzero(np.diff(trace.time_s) == 0.0)
    rows = np.concatenate((np.searchsorted(along, even), switches, switches + 1, [0, count - 1]))
    return np.unique(np.clip(rows, 0, count - 1))


def _rows_of(trace: Trace, rows: np.ndarray[Any, np.dtype[np.int64]]) -> Trace:
    arrays = {f.name: getattr(trace, f.name) for f in fields(trace) if f.name != "names"}
    return replace(trace, **{name: _rounded(array[rows]) for name, array in arrays.items()})


def _rounded(values: np.ndarray[Any, np.dtype[np.float64]]) -> Any:
    """Return values of seven digits: a picture shows four, and the wire is spared the rest."""
    known = np.where(np.isfinite(values) & (values != 0.0), np.abs(values), 1.0)
    scale = 10.0 ** (_DIGITS - 1 - np.floor(np.log10(known)))
    return np.round(values * scale) / scale


def shown(foresight: Foresight) -> dict[str, Any]:
    """Return what the page needs to draw the apparatus and to list the receivers in words.

    Args:
        foresight: the forecast.

    Returns:
        Words for each receiver, the rig in numbers, cautions, and what was taken as default.
    """
    sheet = foresight.sheet
    met = aim_met(sheet, foresight.run)
    rows = [
        {
            "badge": row.badge,
            "time": row.time,
            "head": row.head,
            "volume": row.volume,
            "mass": row.mass,
            "holds": row.holds,
        }
        for row in foresight.rows()
    ]
    return {
        "subtitle": foresight.subtitle(),
        "rows": rows,
        "aim": None if met is None else {"met": met.met, "says": met.says},
        "last_drop_s": number(last_drop(foresight.run.trace)),
        "bath_too_cold": bath_too_cold(sheet, foresight.run),
        "cautions": list(cautions_of_run(sheet, foresight.run)),
        "rig": _rig(sheet),
        "charge": [
            {
                "substance": portion.substance.name,
                "amount_mol": number(portion.amount_mol.value),
                "volume_m3": number(portion.volume_m3),
                "mass_kg": number(portion.mass_kg),
                "molar_mass_kg_mol": number(portion.substance.molar_mass),
            }
            for portion in sheet.charge
        ],
        "stop": {
            "residue_m3": number(sheet.programme.stop.residue_m3),
            "time_s": number(sheet.programme.stop.time_s),
            "head_K": number(sheet.programme.stop.head_K),
        },
    }


def _rig(sheet: RunSheet) -> dict[str, Any]:
    rig = sheet.rig
    pressures = [value for _, value in sheet.programme.pressure_Pa.points]
    ratios = [value for _, value in sheet.programme.reflux_ratio.points]
    return {
        "column": rig.column,
        "bath": rig.bath,
        "heated_by": bath_words(rig.bath),
        "condenser": rig.condenser,
        "bath_limit_K": number(rig.bath_limit_K),
        "charge_volume_m3": number(sheet.charge_volume_m3),
        "lowest_pressure_Pa": number(min(pressures)),
        "highest_pressure_Pa": number(max(pressures)),
        "lowest_reflux": number(min(ratios)),
        "highest_reflux": number(max(ratios)),
        "flask_volume_m3": _setting(rig.flask_volume_m3),
        "plates": _setting(rig.plates),
        "holdup_m3": _setting(rig.holdup_m3),
        "heat_loss_W_K": _setting(rig.heat_loss_W_K),
        "heat_transfer_W_K": _setting(rig.heat_transfer_W_K),
        "coolant_temperature_K": _setting(rig.coolant_temperature_K),
        "room_temperature_K": _setting(rig.room_temperature_K),
        "pressure_drop_Pa": _setting(rig.pressure_drop_Pa),
        "thermometer_lag_s": _setting(rig.thermometer_lag_s),
    }


def _setting(setting: Setting) -> dict[str, Any]:
    return {
        "value": number(setting.value),
        "sigma": number(setting.sigma),
        "given": setting.given,
        "text": setting.text,
        "origin": setting.origin,
    }


def review_shown(found: Reviewed) -> dict[str, Any]:
    """Return the picture, the sentences and the tables of a review as the page shows them.

    Args:
        found: the review.
    """
    from forerun.reporting.tables_csv import cuts_csv, ledger_csv

    return {
        "drawing": None if found.curve() is None else found.drawing("As it was read"),
        "sentences": {
            "cuts": list(found.cut_notes()),
            "suspects": list(found.suspects()),
            "glass": list(found.glass()),
            "again": list(found.again()),
            "otherwise": list(found.otherwise()),
            "against": list(found.against()),
            "not_examined": list(found.not_examined()),
        },
        "tables": {"cuts": cuts_csv(found), "account": ledger_csv(found)},
    }
