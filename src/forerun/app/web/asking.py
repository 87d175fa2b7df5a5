"""The questions that can be asked: from the table that was sent to the answer's object."""

from __future__ import annotations

import os
from collections.abc import Mapping
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from forerun.app.web.bodies import pop_count, pop_flag, pop_optional, pop_text, refuse_rest
from forerun.app.web.marking import runs_marked
from forerun.app.web.own_glass import calibrated
from forerun.app.web.papers import PAPERS, recorded
from forerun.app.web.question import SHEET, Progress, Question
from forerun.app.web.sent_sheet import sheet_from
from forerun.core.errors import BadInput
from forerun.reporting.plain import numbers

if TYPE_CHECKING:
    from forerun.reporting.mix import Mix
    from forerun.reporting.review import Reviewed

__all__ = ["QUESTIONS"]

_NORMAL = "760 mmHg"
_MAP_POINTS = 60  # of a residue curve


def _look(body: dict[str, Any], _progress: Progress | None) -> dict[str, Any]:
    from forerun.app.look import look

    substance, pressure = pop_text(body, "substance"), pop_text(body, "pressure", _NORMAL)
    refuse_rest(body, "substance, pressure")
    found = look(substance, pressure=pressure)
    return {**found.to_json(), "finding": found.finding}


def _mix(body: dict[str, Any], _progress: Progress | None) -> dict[str, Any]:
    from forerun.app.mix import mix

    substances, pressure = body.pop("substances", None), pop_text(body, "pressure", _NORMAL)
    at, curve = body.pop("at", None), pop_count(body, "curve", None)
    charge, settle, between = (pop_optional(body, key) for key in ("charge", "settle", "between"))
    drawn = pop_flag(body, "drawn")
    refuse_rest(body, "substances, pressure, at, curve, charge, settle, between, drawn")
    if not isinstance(substances, list) or not all(isinstance(s, str) for s in substances):
        raise BadInput("substances", substances, 'a list of names, such as ["ethanol", "water"]')
    if at is not None and not (isinstance(at, list) and all(_is_number(x) for x in at)):
        raise BadInput("at", at, "a list of mole fractions, such as [0.3, 0.7]")
    found = mix(
        *substances,
        pressure=pressure,
        at=at,
        curve=curve,
        charge=charge,
        settle=settle,
        between=between,
        drawn=drawn,
    )
    return {**found.to_json(), "finding": found.finding, **_map(found)}


def _map(found: Mix) -> dict[str, Any]:
    """Return the residue curves of a map that was asked for."""
    ternary = found.more.ternary
    if ternary is None:
        return {}
    curves = [
        curve.mole_fraction[:: 1 + len(curve.mole_fraction) // _MAP_POINTS].T
        for curve in ternary.curves
    ]
    return {"residue_curves": [{"mole_fraction": [numbers(x) for x in c]} for c in curves]}


def _foresee(body: dict[str, Any], progress: Progress | None) -> dict[str, Any]:
    from forerun.app.foresee import foresee
    from forerun.app.web.shown import shown, thinned

    members, seed = pop_count(body, "members", 0), pop_count(body, "seed", 1)
    points = pop_count(body, "points", None)
    sheet = sheet_from(body)
    refuse_rest(body, "sheet (or its own keys), members, seed, points")
    found = foresee(
        sheet,
        members=members or 0,
        seed=seed or 0,
        progress=progress,
        threads=max(1, (os.cpu_count() or 1) - 1),  # one is left for the next touch
    )
    if points is not None and found.asked:
        found = replace(found, asked={**found.asked, "points": points})
    return {**thinned(found, points).to_json(), "shown": shown(found)}


def _advise(body: dict[str, Any], progress: Progress | None) -> dict[str, Any]:
    from forerun.app.advise import USUAL_MEMBERS, advise

    members, seed = pop_count(body, "members", USUAL_MEMBERS), pop_count(body, "seed", 1)
    sheet = sheet_from(body)
    refuse_rest(body, "sheet (or its own keys), members, seed")
    return advise(sheet, members=members or 0, seed=seed or 0, progress=progress).to_json()


def _fit(body: dict[str, Any], _progress: Progress | None) -> dict[str, Any]:
    from forerun.app.fit import fit

    substances, keep = body.pop("substances", None), body.pop("keep", False)
    points, label = pop_text(body, "points"), pop_text(body, "label", "own points")
    given = {key: body.pop(key, None) for key in ("pressure", "temperature", "calibration")}
    refuse_rest(body, "substances, points, pressure, temperature, calibration, label, keep")
    if not isinstance(substances, list) or not all(isinstance(s, str) for s in substances):
        raise BadInput("substances", substances, 'two names, such as ["ethanol", "water"]')
    if not isinstance(keep, bool):
        raise BadInput("keep", keep, "true or false")
    for key, value in given.items():
        if value is not None and not isinstance(value, str):
            raise BadInput(key, value, "text")
    curve = given["calibration"]
    found = fit(
        *substances,
        points=points.encode(),  # bytes are a table, never the name of a file on this machine
        pressure=given["pressure"],
        temperature=given["temperature"],
        calibration=None if curve is None else curve.encode(),
        label=label,
        keep=keep,
    )
    return found.to_json()


def _keep(body: dict[str, Any], progress: Progress | None) -> dict[str, Any]:
    """Keep a reviewed run, and say what is now known of its column."""
    from forerun.app.passport import kept_passport

    found, answer = _reviewed(body, progress, keep=True)
    name = found.review.sheet.rig.passport
    known = kept_passport(name) if name else None
    answer["shown"]["passport"] = None if known is None else known.brief()
    return answer


def _review(body: dict[str, Any], progress: Progress | None) -> dict[str, Any]:
    return _reviewed(body, progress, keep=False)[1]


def _reviewed(
    body: dict[str, Any], progress: Progress | None, *, keep: bool
) -> tuple[Reviewed, dict[str, Any]]:
    from forerun.app.review import review
    from forerun.app.web.shown import review_shown

    readings, fit = pop_text(body, "readings"), body.pop("fit", True)
    given = {key: body.pop(key, None) for key in ("assays", "calibration")}
    sheet = sheet_from(body)
    refuse_rest(body, "sheet (or its own keys), readings, assays, calibration, fit")
    if not isinstance(fit, bool):
        raise BadInput("fit", fit, "true or false")
    for key, value in given.items():
        if value is not None and not isinstance(value, str):
            raise BadInput(key, value, "a table as text")
    # bytes are a table, never the name of a file on this machine
    assays, curve = (None if v is None else v.encode() for v in given.values())
    found = review(
        sheet,
        readings=readings.encode(),
        assays=assays,
        calibration=curve,
        fit=fit,
        keep=keep,
        progress=progress,
    )
    return found, {**found.to_json(), "shown": review_shown(found)}


def _diagnose(body: dict[str, Any], _progress: Progress | None) -> dict[str, Any]:
    from forerun.app.diagnose import diagnose

    readings = pop_text(body, "readings")
    assays = pop_text(body, "assays", "") or None
    sheet = sheet_from(body)
    refuse_rest(body, "sheet (or its own keys), readings, assays")
    # texts as bytes: never the name of a file on this machine
    found = diagnose(
        sheet,
        readings=readings.encode("utf-8"),
        assays=None if assays is None else assays.encode("utf-8"),
    )
    return found.to_json()


def _is_number(value: object) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool)


_PRESSURE = {"type": "string", "default": _NORMAL, "examples": ["12 mmHg", "0.8 bar"]}
_SUBSTANCE = {"type": "string", "description": "name, synonym, CAS number, InChIKey or SMILES"}
_BLEND = {
    "charge": [
        {"substance": "heptane", "amount": "40 ± 1 mL"},
        {"substance": "toluene", "amount": "60 mL"},
    ],
    "rig": {"plates": 3, "holdup": "1.5 mL"},
    "switch": [{"head": "103 °C"}],
}

_LOG = "time_min,head_C,distillate_mL\n0,20,0\n20,99,0\n24,100,2\n40,102,20\n45,104,25\n70,110,50\n"
_ASSAYS = "cut,method,substance,value,unit\n1,mass,,14.1,g\n1,gc_mass,heptane,81,wt%\n"

_OF_A_RUN: Mapping[str, Mapping[str, Any]] = {
    "sheet": SHEET,
    "readings": {"type": "string", "description": "the log as CSV text, time_min first"},
    "assays": {"type": "string", "description": "cut,method,substance,value,unit"},
    "calibration": {"type": "string", "description": "x1 or w1 against n or rho_g_mL"},
    "fit": {"type": "boolean", "default": True, "description": "plates and losses"},
}

_ALL = (
    Question(
        "look",
        "What is known of a substance, and where it boils.",
        _look,
        {"substance": _SUBSTANCE, "pressure": _PRESSURE},
        ("substance",),
        {"substance": "toluene", "pressure": "100 mmHg"},
    ),
    Question(
        "mix",
        "Whether boiling parts two to five substances.",
        _mix,
        {
            "substances": {"type": "array", "items": _SUBSTANCE, "minItems": 2, "maxItems": 5},
            "pressure": _PRESSURE,
            "at": {"type": "array", "items": {"type": "number"}, "description": "mole fractions"},
            "curve": {"type": "integer", "description": "points of a pair's boiling diagram"},
            "charge": {
                "type": "string",
                "description": "what is in the pot: in which order it comes",
            },
            "settle": {"type": "string", "description": "temperature at which the charge settles"},
            "between": {"type": "string", "description": "two pressures, to follow azeotropes"},
            "drawn": {"type": "boolean", "description": "also the map of three substances"},
        },
        ("substances",),
        {"substances": ["ethanol", "water"], "curve": 41},
    ),
    Question(
        "fit",
        "Correct a pair by points of one's own.",
        _fit,
        {
            "substances": {"type": "array", "items": _SUBSTANCE, "minItems": 2, "maxItems": 2},
            "points": {"type": "string", "description": "a table as CSV text, such as x1,y1,T_C"},
            "pressure": {"type": "string", "description": "of all points, without a column"},
            "temperature": {"type": "string", "description": "the same for the temperature"},
            "calibration": {"type": "string", "description": "x1 or w1 against n or rho_g_mL"},
            "label": {"type": "string", "description": "what the points are called later"},
            "keep": {
                "type": "boolean",
                "default": False,
                "description": "save the fit in the library of the machine that serves",
            },
        },
        ("substances", "points"),
        {
            "substances": ["hexane", "toluene"],
            "points": "x1,T_C\n0.1,101.5\n0.3,89.7\n0.5,81.4\n0.7,75.4\n0.9,70.8\n",
            "pressure": "760 mmHg",
        },
    ),
    Question(
        "foresee",
        "What comes over when: the forecast of a run sheet.",
        _foresee,
        {
            "sheet": SHEET,
            "members": {"type": "integer", "minimum": 0, "maximum": 4096, "default": 0},
            "seed": {"type": "integer", "minimum": 0, "default": 1},
            "points": {
                "type": "integer",
                "minimum": 2,
                "description": "thin the trace to about this many points; left out: all of them",
            },
        },
        ("sheet",),
        {"sheet": _BLEND, "members": 0, "points": 300},
    ),
    Question(
        "advise",
        "Which method, which pressure, which glass, or don't; and every safety gate.",
        _advise,
        {
            "sheet": SHEET,
            "members": {"type": "integer", "minimum": 2, "maximum": 1024, "default": 12},
            "seed": {"type": "integer", "minimum": 0, "default": 1},
        },
        ("sheet",),
        {"sheet": _BLEND, "members": 4},
    ),
    Question(
        "review",
        "What a run gave, where the rest is, what cannot be right.",
        _review,
        _OF_A_RUN,
        ("sheet", "readings"),
        {
            "sheet": _BLEND,
            "readings": _LOG,
            "assays": _ASSAYS,
            "fit": False,
        },
    ),
    Question(
        "review/keep",
        "The same, and the run is kept, with its score and what it showed of its column.",
        _keep,
        _OF_A_RUN,
        ("sheet", "readings"),
        {"sheet": _BLEND, "readings": _LOG, "fit": False},
        "review --keep",
    ),
    Question(
        "record",
        "The run on paper, labels for its bottles, or everything in one open archive.",
        recorded,
        {
            "sheet": SHEET,
            "readings": {"type": "string", "description": "the log as CSV text; none: the plan"},
            "assays": {"type": "string", "description": "cut,method,substance,value,unit"},
            "notes": {"type": "object", "description": "purpose, operator, owner, ... and lots"},
            "fit": {"type": "boolean", "default": True, "description": "plates and losses"},
            "file": {"enum": list(PAPERS), "default": "record"},
            "paper": {"enum": ["a4", "letter"], "default": "a4"},
            "stock": {"type": "string", "default": "a4-14", "description": "sheet of labels"},
            "skip": {"type": "integer", "minimum": 0, "default": 0, "description": "used labels"},
        },
        ("sheet",),
        {"sheet": _BLEND, "readings": _LOG, "fit": False, "notes": {"owner": "Group 3"}},
    ),
    Question(
        "diagnose",
        "Something is odd in this log: why, which test tells, what then.",
        _diagnose,
        {
            "sheet": SHEET,
            "readings": {"type": "string", "description": "the log as the text of a CSV file"},
            "assays": {"type": "string", "description": "what was weighed, as CSV text"},
        },
        ("sheet", "readings"),
        {"sheet": _BLEND, "readings": "time_min,head_C\n0,20\n30,98\n40,99\n"},
    ),
    Question(
        "mark-runs",
        "Marks with reasons for what the benches of a class really ran.",
        runs_marked,
        {
            "sheet": SHEET,
            "benches": {
                "type": "array",
                "items": {"type": "object"},
                "description": "code, readings, assays (CSV text), answer, sheet (TOML text)",
            },
            "weights": {"type": "object", "description": "data, reasoning, recovery, purity"},
        },
        ("sheet", "benches"),
        {"sheet": _BLEND, "benches": [{"code": "B07", "readings": _LOG, "assays": _ASSAYS}]},
        long=True,
    ),
    Question(
        "calibrate",
        "The run that measures one's own column; of the sheet its glass and pressure count.",
        calibrated,
        {"sheet": SHEET},
        ("sheet",),
        {"sheet": {**_BLEND, "rig": {"column": "Vigreux 30 cm"}}},
        long=True,
    ),
)

QUESTIONS: Mapping[str, Question] = {question.name: question for question in _ALL}
"""Every question by the last part of its path, ``/api/<name>``."""
