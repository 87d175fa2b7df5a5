"""The whole review of a run, put together."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from forerun.core.errors import BadInput
from forerun.core.references import Reference
from forerun.equilibrium.band_rules import EIGHTY
from forerun.equilibrium.bubble import boiling_curve
from forerun.records.assays import Assays
from forerun.records.readings import Readings
from forerun.reviewing.again import Redistil, redistil
from forerun.reviewing.assays import Statements, statements_of
from forerun.reviewing.fitting_run import Estimate, RunFit, fit_run, fitted_input
from forerun.reviewing.ledger import Reconciled, reconcile
from forerun.reviewing.mixture_curves import MeasuredCurve
from forerun.reviewing.observed import ObservedCut, observed_cuts
from forerun.reviewing.plateaus import (
    Plateau,
    Transition,
    find_plateaus,
    smoothed,
    transitions_between,
)
from forerun.reviewing.plates import FENSKE, plates_stepped
from forerun.reviewing.replaying import Replay, replays
from forerun.reviewing.standard_pressure import (
    HASS_NEWTON,
    hass_newton_phi,
    standard_temperature_hass_newton,
)
from forerun.sheets.model import RunSheet
from forerun.still.from_sheet import Prepared, prepare
from forerun.still.results import Run
from forerun.still.run import run_still
from forerun.substances.correlations import boiling_temperature
from forerun.substances.model import Substance

__all__ = ["Review", "review_run", "standard_temperature"]

Floats = npt.NDArray[np.float64]
Progress = Callable[[int, int], None]

_MOST_FLAGS = 6  # told one by one


@dataclass(frozen=True, slots=True)
class Review:
    """What a run gave, and what the glass did.

    Args:
        sheet: the sheet of the run.
        readings: the log as it was read.
        assays: what was weighed and analysed.
        head: (n,) smoothed head temperature [K].
        plateaus: where the head stood.
        standard_K: (k,) temperature of each plateau at 760 mmHg [K].
        transitions: what lies between them.
        observed: the receivers by the readings.
        foreseen: the forecast by the sheet's own values.
        account: where every gram went.
        statements: what the assays say of compositions, and what they could not.
        fit: the still fitted to the readings; None where that was left out or not possible.
        at_total_reflux: plates by samples of head and pot at total reflux; None without them.
        again: whether off-cuts are worth another run.
        replays: what another way of running would have given; empty without a fit.
        warnings: sentences that the reader should see.
        references: sources of methods and data.
    """

    sheet: RunSheet
    readings: Readings
    assays: Assays
    head: Floats
    plateaus: tuple[Plateau, ...]
    standard_K: Floats
    transitions: tuple[Transition, ...]
    observed: tuple[ObservedCut, ...]
    foreseen: Run
    account: Reconciled
    statements: Statements
    fit: RunFit | None
    at_total_reflux: Estimate | None
    again: Redistil
    replays: tuple[Replay, ...]
    warnings: tuple[str, ...]
    references: tuple[Reference, ...]

    @property
    def analysed(self) -> frozenset[str]:
        """Places of whose composition an assay says something; of the others the forecast does."""
        return frozenset(said.cut for said in self.statements.rows)

    @property
    def plates(self) -> Estimate | None:
        """Plates achieved: at total reflux where samples tell, else by the fit; None else."""
        if self.at_total_reflux is not None:
            return self.at_total_reflux
        return None if self.fit is None else self.fit.get("plates")


def standard_temperature(
    temperature: float, pressure: float, substances: tuple[Substance, ...]
) -> float:
    """Return a head temperature as it would read at 760 mmHg.

    Args:
        temperature: as read [K].
        pressure: at which it was read [Pa].
        substances: what may be boiling; the one whose boiling point lies nearest is taken.

    Returns:
        temperature at 760 mmHg [K].

    Derivation:
        `standard_temperature_hass_newton` with the constant of the nearest substance. Valid from
        about 10 kPa on.
    """
    nearest = min(
        substances, key=lambda s: abs(boiling_temperature(s, pressure).temperature - temperature)
    )
    return standard_temperature_hass_newton(temperature, pressure, hass_newton_phi(nearest))


def review_run(
    sheet: RunSheet,
    readings: Readings,
    assays: Assays,
    *,
    fit: bool = True,
    curves: Mapping[str, MeasuredCurve] | None = None,
    progress: Progress | None = None,
) -> Review:
    """Review a run.

    Args:
        sheet: what was charged, in which glass, for what aim.
        readings: the log.
        assays: what was weighed and analysed; may be empty.
        fit: whether the still is fitted to the readings, which takes seconds.
        curves: measured density or refractive index of a pair, see `statements_of`.
        progress: called during the fit, with parts done and all parts.

    Returns:
        Everything that can be said of the run.

    Raises:
        CalculationFailed: the still could not be run with the values of the sheet.
    """
    prepared = prepare(sheet)
    foreseen = run_still(prepared.still)
    substances = tuple(portion.substance for portion in sheet.charge)
    plateaus, head = _curve(readings)
    pressure = _pressure(sheet, readings)
    observed = observed_cuts(readings, head, sheet.switches, float(np.mean(pressure)))
    statements = statements_of(assays, substances, curves)
    account = reconcile(sheet, observed, assays, statements.rows, foreseen)
    found = fit_run(prepared, readings, progress) if fit else None
    still = None if found is None else fitted_input(prepared, found)
    standard = [
        standard_temperature(p.temperature_K, _at(readings, pressure, p), substances)
        for p in plateaus
    ]
    reflux = _at_total_reflux(prepared, statements, float(np.mean(pressure)))
    return Review(
        sheet=sheet,
        readings=readings,
        assays=assays,
        head=head,
        plateaus=plateaus,
        standard_K=np.array(standard),
        transitions=transitions_between(plateaus),
        observed=observed,
        foreseen=foreseen,
        account=account,
        statements=statements,
        fit=found,
        at_total_reflux=reflux,
        again=redistil(sheet, account, still),
        replays=() if still is None else replays(sheet, still),
        warnings=_warnings(prepared, readings, assays, statements, account, observed),
        references=_references(prepared, foreseen, statements, reflux),
    )


def _curve(readings: Readings) -> tuple[tuple[Plateau, ...], Floats]:
    times, raw = readings.time_s, readings.channel("head_K")
    plateaus = find_plateaus(times, raw)
    read = np.isfinite(raw)
    if read.sum() < 2:
        return plateaus, raw
    edges = sorted(edge for p in plateaus for edge in (p.start_s, p.end_s))
    head = np.interp(times, times[read], smoothed(times[read], raw[read], edges))
    return plateaus, head


def _pressure(sheet: RunSheet, readings: Readings) -> Floats:
    """Return the pressure at every reading: as read, else as the sheet has it [Pa]."""
    points = np.array(sheet.programme.pressure_Pa.points)
    stated = np.interp(readings.time_s, points[:, 0], points[:, 1])
    read = readings.channel("pressure_Pa")
    return np.where(np.isfinite(read), read, stated)


def _at(readings: Readings, pressure: Floats, plateau: Plateau) -> float:
    times = readings.time_s
    return float(np.mean(pressure[(times >= plateau.start_s) & (times <= plateau.end_s)]))


def _at_total_reflux(
    prepared: Prepared, statements: Statements, pressure: float
) -> Estimate | None:
    """Return plates from samples of head and pot of a pair, with a band from their errors."""
    if len(prepared.sheet.charge) != 2:
        return None
    pair = {}
    for place in ("head", "pot"):
        said = [s for s in statements.rows if s.cut == place and math.isfinite(s.fraction)]
        if not said:
            return None
        pair[place] = said[0]
    molar = [p.substance.molar_mass for p in prepared.sheet.charge]
    curve = boiling_curve(prepared.mixture, pressure)

    def plates(z: tuple[float, float]) -> float:
        x = [
            _first_mole_fraction(
                s.fraction + v * _own_sigma(s.weights, s.sigma), s.component, molar
            )
            for s, v in zip((pair["head"], pair["pot"]), z, strict=True)
        ]
        return plates_stepped(x[0], x[1], lambda v: float(np.interp(v, curve.x, curve.y)))

    try:
        value = plates((0.0, 0.0))
        moved = [plates(z) - value for z in ((1.0, 0.0), (-1.0, 0.0), (0.0, 1.0), (0.0, -1.0))]
    except BadInput:
        return None
    sigma = math.hypot(0.5 * (abs(moved[0]) + abs(moved[1])), 0.5 * (abs(moved[2]) + abs(moved[3])))
    half = EIGHTY * sigma
    return Estimate("plates", value, max(value - half, 0.0), value + half, 1.0)


def _own_sigma(weights: Floats, sigma: float) -> float:
    """Return the standard deviation of a mass fraction of a pair from that of its statement."""
    return sigma / abs(float(weights[0] - weights[1]))


def _first_mole_fraction(mass_fraction: float, component: int, molar: list[float]) -> float:
    w = mass_fraction if component == 0 else 1.0 - mass_fraction
    w = min(max(w, 1e-6), 1.0 - 1e-6)
    return w / molar[0] / (w / molar[0] + (1.0 - w) / molar[1])


def _warnings(
    prepared: Prepared,
    readings: Readings,
    assays: Assays,
    statements: Statements,
    account: Reconciled,
    observed: tuple[ObservedCut, ...],
) -> tuple[str, ...]:
    flags = [*readings.flags, *assays.flags]
    found = [*readings.notes, *(str(flag) for flag in flags[:_MOST_FLAGS])]
    if len(flags) > _MOST_FLAGS:
        found.append(f"{len(flags) - _MOST_FLAGS} more rows or cells were not used.")
    found += statements.not_used
    found += [suspect.sentence + "." for suspect in account.suspects[:1]]
    if not observed:
        found.append("No distillate was read: the receivers are known by their assays alone.")
    if not any(line.measured for line in account.lines):
        found.append("Nothing was weighed or read: every amount is the forecast's.")
    return tuple(dict.fromkeys([*prepared.warnings, *found]))


def _references(
    prepared: Prepared, foreseen: Run, statements: Statements, reflux: Estimate | None
) -> tuple[Reference, ...]:
    own = [HASS_NEWTON, *statements.references]
    own += [FENSKE] if reflux is not None else []
    known = {r.key: r for r in (*prepared.still.references, *foreseen.references, *own)}
    return tuple(known.values())
