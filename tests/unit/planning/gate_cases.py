"""Sheets, substances and runs as the tests of the gates need them."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace
from typing import Any, cast

import numpy as np

from forerun.planning.gates import gates_of
from forerun.planning.gates_model import Gate, GateCase
from forerun.sheets.model import RunSheet
from forerun.sheets.resolving import load
from forerun.still.results import Run
from forerun.substances.model import Sourced
from unit.planning.test_gates import TODAY

HEPTANE = {"heptane": "50 mL"}


def said(found: Gate) -> str:
    """Return the sentence with plain spaces."""
    return found.says.replace("\N{NARROW NO-BREAK SPACE}", " ")


def sheet_of(charge: dict[str, str], **tables: Any) -> RunSheet:
    return load({"charge": [{"substance": s, "amount": a} for s, a in charge.items()], **tables})


def answer(name: str, sheet: RunSheet, run: Run | None = None, low: float | None = None) -> Gate:
    return next(g for g in gates_of(GateCase(sheet, run, TODAY, low)) if g.name == name)


def run_of(
    drips: list[list[float]] | None = None,
    bath_K: tuple[float, ...] = (300.0, 350.0),
    left_m3: float = 1e-5,
    vent_mol: tuple[float, ...] = (),
    parts: int = 1,
) -> Run:
    """Return what a gate reads of a run, and nothing else."""
    return cast(
        Run,
        SimpleNamespace(
            first_drop_s=None if drips is None else 60.0,
            residue=SimpleNamespace(volume_m3=left_m3),
            ledger=SimpleNamespace(vent_mol=np.array(vent_mol or parts * (0.0,))),
            trace=SimpleNamespace(
                bath_temperature_K=np.array(bath_K),
                distillate_mole_fraction=np.array(drips or [[1.0]]),
            ),
        ),
    )


def with_constants(sheet: RunSheet, number: int, **changed: Any) -> RunSheet:
    """Return a sheet whose substance of that number has other constants."""
    portions = list(sheet.charge)
    portions[number] = replace(
        portions[number], substance=replace(portions[number].substance, **changed)
    )
    return replace(sheet, charge=tuple(portions))


def sourced(sheet: RunSheet, constant: str, value: float, **more: Any) -> Sourced:
    """Return a constant of the first substance with another value."""
    kept = cast(Sourced, getattr(sheet.charge[0].substance, constant))
    return replace(kept, value=value, **more)
