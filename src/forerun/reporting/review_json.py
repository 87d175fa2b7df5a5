"""The contract's object for a review."""

from __future__ import annotations

from typing import Any

import numpy as np

from forerun.core.quantities import format_boiling_range
from forerun.reporting.findings import finding_objects
from forerun.reporting.plain import by_name, number
from forerun.reporting.sources import source_object
from forerun.reviewing.findings import Diagnosis
from forerun.reviewing.fitting_run import Estimate
from forerun.reviewing.ledger import Line, Reconciled
from forerun.reviewing.next_sheet import next_table
from forerun.reviewing.observed import ObservedCut
from forerun.reviewing.review import Review
from forerun.reviewing.scoring import Score

__all__ = ["boiling_range", "leads_object", "review_object"]


def review_object(
    review: Review, finding: str, score: Score | None, diagnosis: Diagnosis | None = None
) -> dict[str, Any]:
    """Return the whole object.

    Args:
        review: of the run.
        finding: what was found, in one sentence.
        score: forecast against record, None where it was not asked for.
        diagnosis: what the log shows that it should not, None where nobody looked.
    """
    account = review.account
    flags = [*review.readings.flags, *review.assays.flags]
    return {
        "title": review.sheet.title,
        "finding": finding,
        "plateaus": [
            {
                "start_s": number(p.start_s),
                "end_s": number(p.end_s),
                "temperature_K": number(p.temperature_K),
                "standard_temperature_K": number(standard),
                "slope_K_s": number(p.slope_K_s),
            }
            for p, standard in zip(review.plateaus, review.standard_K, strict=True)
        ],
        "transitions": [
            {
                "start_s": number(t.start_s),
                "end_s": number(t.end_s),
                "start_K": number(t.start_K),
                "end_K": number(t.end_K),
            }
            for t in review.transitions
        ],
        "cuts": [_cut(review, line) for line in account.lines if line.place.isdecimal()],
        "residue": _residue(review),
        "ledger": _ledger(account),
        "reconciled": _reconciled(account),
        "plates": _plates(review),
        "glass": None if review.fit is None else _glass(review),
        "redistil": {
            "worth_it": review.again.worth_it,
            "what": review.again.what,
            "places": list(review.again.places),
            "sheet": next_table(review.sheet, account, review.again.places)
            if review.again.places
            else None,
            "gain_kg": number(review.again.gain_kg),
            "gain_band_kg": [number(end) for end in review.again.gain_band_kg],
            "purity": number(review.again.purity),
            "time_s": number(review.again.time_s),
            "reasons": list(review.again.reasons),
            "tried": [
                {
                    "what": one.what,
                    "places": list(one.places),
                    "gain_kg": number(one.gain_kg),
                    "time_s": number(one.time_s),
                    "charged_m3": number(one.charged_m3),
                    "left_m3": number(one.left_m3),
                    "held_m3": number(one.held_m3),
                }
                for one in review.again.tried
            ],
        },
        "replays": [
            {
                "name": r.name,
                "pure_kg": number(r.pure_kg),
                "purity": number(r.purity),
                "time_s": number(r.time_s),
            }
            for r in review.replays
        ],
        "score": None if score is None else _score(score),
        "findings": [] if diagnosis is None else finding_objects(diagnosis),
        "findings_examined": diagnosis is not None,
        "flags": [
            {"row": f.row, "column": f.column, "value": f.value, "accepted": f.accepted}
            for f in flags
        ],
        "warnings": list(review.warnings),
        "references": source_object(review.references),
    }


def boiling_range(cut: ObservedCut) -> str:
    """Return the range of a receiver as chemists write it; empty where no head was read."""
    if not (np.isfinite(cut.low_head_K) and np.isfinite(cut.high_head_K)):
        return ""
    low, high = sorted((cut.start_head_K, cut.end_head_K))
    return format_boiling_range(low, high, cut.pressure_Pa)


def _observed(review: Review, place: str) -> ObservedCut | None:
    return next((c for c in review.observed if str(c.number) == place), None)


def _cut(review: Review, line: Line) -> dict[str, Any]:
    read = _observed(review, line.place)
    found: dict[str, Any] = {"number": int(line.place)}
    found |= {
        "start_s": None if read is None else number(read.start_s),
        "end_s": None if read is None else number(read.end_s),
        "start_head_K": None if read is None else number(read.start_head_K),
        "end_head_K": None if read is None else number(read.end_head_K),
        "boiling_range": None if read is None else boiling_range(read) or None,
        "changed_by": None if read is None else read.by,
        "volume_read_m3": None if read is None else number(read.volume_m3),
    }
    return found | _contents(review.account, line)


def _residue(review: Review) -> dict[str, Any] | None:
    line = review.account.line("pot")
    return None if line is None else {"number": 0} | _contents(review.account, line)


def _contents(account: Reconciled, line: Line) -> dict[str, Any]:
    mass, x, half = line.mass_kg, line.mole_fraction, line.mole_fraction_band
    bands = {
        name: [number(max(v - w, 0.0)), number(min(v + w, 1.0))]
        for name, v, w in zip(account.names, x, half, strict=True)
    }
    return {
        "volume_m3": number(line.volume_m3),
        "mass_kg": number(mass),
        "mass_band_kg": [number(max(mass - line.band_kg, 0.0)), number(mass + line.band_kg)],
        "amount_mol": number(float((line.by_component_kg / account.molar_masses).sum())),
        "mole_fraction": by_name(account.names, x),
        "mass_fraction": by_name(account.names, line.mass_fraction),
        "mole_fraction_band": bands,
        "measured": line.measured,
    }


def _ledger(account: Reconciled) -> dict[str, Any]:
    def moles(*places: str) -> dict[str, float | None]:
        lines = [line for line in account.lines if line.place in places]
        total = sum((line.by_component_kg for line in lines), np.zeros(len(account.names)))
        return by_name(account.names, total / account.molar_masses)

    receivers = [line.place for line in account.lines if line.place.isdecimal()]
    return {
        "charge_mol": by_name(account.names, account.charge.by_component_kg / account.molar_masses),
        "cuts_mol": moles(*receivers),
        "residue_mol": moles("pot"),
        "holdup_mol": moles("column"),
        "trap_mol": moles("trap"),
        "lost_mol": moles("lost"),
        "unexplained_kg": number(account.unexplained_kg),
        "closure": number(account.unexplained_kg / account.charge.mass_kg),
        "lines": [
            {
                "place": line.place,
                "mass_kg": number(line.mass_kg),
                "band_kg": number(line.band_kg),
                "volume_m3": number(line.volume_m3),
                "by_component_kg": by_name(account.names, line.by_component_kg),
                "measured": line.measured,
            }
            for line in (account.charge, *account.lines)
        ],
    }


def _reconciled(account: Reconciled) -> dict[str, Any]:
    system = account.system
    rows = zip(
        system.measured, system.adjusted, system.residual, system.residual_sigma, strict=True
    )
    units = {"volume": "m3", "composition": "1"}
    adjusted = []
    for row, value, residual, sigma in rows:
        if row.kind == "prior":
            continue
        share = row.kind == "composition"
        scale = row.share_sigma / row.sigma if share else 1.0
        adjusted.append(
            {
                "name": row.label,
                "unit": units.get(row.kind, "kg"),
                "measured": number(row.share if share else row.value),
                "adjusted": number(row.share + value * scale if share else value),
                "sigma": number(row.share_sigma if share else row.sigma),
                "test": number(residual / sigma if sigma > 0.0 else 0.0),
            }
        )
    amounts = {
        line.place: by_name(account.names, line.by_component_kg / account.molar_masses)
        for line in account.lines
    }
    suspects = [
        {
            "name": s.what,
            "kind": s.kind,
            "sentence": s.sentence,
            "explains": number(s.explains),
            "size": number(s.size),
        }
        for s in account.suspects
    ]
    return {
        "amounts_mol": amounts,
        "adjusted": adjusted,
        "suspect": suspects,
        "chi_square": number(system.chi_square),
        "degrees": system.degrees,
    }


def _plates(review: Review) -> dict[str, Any] | None:
    found = review.plates
    if found is None:
        return None
    by = "total reflux" if review.at_total_reflux is not None else "fit"
    return {"value": number(found.value), "band": [number(found.low), number(found.high)], "by": by}


def _glass(review: Review) -> dict[str, Any]:
    fit = review.fit
    assert fit is not None
    return {
        **{e.name: _estimate(e) for e in fit.estimates if e.name != "plates"},
        "head_rms_K": number(fit.head_rms_K),
        "plates_tried": {f"{plates:.3g}": number(w) for plates, w in fit.tried},
    }


def _estimate(found: Estimate) -> dict[str, Any]:
    return {
        "value": number(found.value),
        "band": [number(found.low), number(found.high)],
        "learnt": number(found.learnt),
    }


def _score(score: Score) -> dict[str, Any]:
    return {
        "head_inside": number(score.head_inside),
        "head_miss_K": number(score.head_miss_K),
        "first_drop_inside": score.first_drop_inside,
        "cuts_inside": list(score.cuts_inside),
        "surprises": list(score.surprises),
        "loss_K": number(score.loss_K),
        "by_volume_K": number(score.by_volume_K),
        "baseline_K": number(score.baseline_K),
        "beats_baseline": score.beats_baseline,
        "leads": leads_object(score),
    }


def leads_object(score: Score) -> list[dict[str, Any]]:
    """Return the misses by how far ahead the forecast looked; null for no end."""
    return [
        {
            "from_s": number(lead.from_s),
            "to_s": number(lead.to_s),
            "miss_K": number(lead.miss_K),
            "readings": lead.readings,
        }
        for lead in score.leads
    ]
