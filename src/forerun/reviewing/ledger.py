"""Where every gram went: charge, receivers, pot, column and head, trap, and what is missing."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from forerun.equilibrium.band_rules import EIGHTY
from forerun.records.assays import Assays
from forerun.reviewing.assays import Statement
from forerun.reviewing.balance import LOST, Measured, System, system_of
from forerun.reviewing.observed import ObservedCut
from forerun.reviewing.standing_in import filled, shared_out
from forerun.reviewing.suspects import Suspect, find_suspects
from forerun.sheets.model import RunSheet
from forerun.still.results import Run
from forerun.substances.correlations import density

__all__ = ["Line", "Reconciled", "reconcile"]

Floats = npt.NDArray[np.float64]

# One standard deviation where none is stated; common practice, no source, unless said otherwise.
_CHARGE = 0.01  # relative, a measuring cylinder
_WEIGHED = (5e-5, 5e-4)  # kg absolute, relative: balance, drops on the joint
_READ_VOLUME = (4e-7, 0.01)  # m3 absolute, relative: graduated receiver
_READ_MASS = (5e-5, 1e-3)  # kg absolute, relative
_LOST = 0.015  # of each component charged: evaporation and transfer
_HELD = 0.5  # relative doubt of what the forecast leaves on column and head
_HELD_LEAST = 2e-4  # kg: wetted glass
_FORESEEN = (0.5, 0.10)  # of the forecast's amount, of the charge: where nothing was measured


@dataclass(frozen=True, slots=True)
class Line:
    """One line of the account.

    Args:
        place: a receiver's number, ``pot``, ``column``, ``trap`` or ``lost``.
        mass_kg: [kg].
        band_kg: half-width of its 80 % band [kg].
        volume_m3: at 20 degC, volumes taken as additive [m3].
        by_component_kg: (C,) [kg].
        component_band_kg: (C,) half-widths of the 80 % bands [kg].
        mole_fraction: (C,) [-]; not-a-number when nothing is there.
        mole_fraction_band: (C,) half-widths of the 80 % bands [-].
        measured: whether anything was measured there; otherwise the forecast stands in.
    """

    place: str
    mass_kg: float
    band_kg: float
    volume_m3: float
    by_component_kg: Floats
    component_band_kg: Floats
    mole_fraction: Floats
    mole_fraction_band: Floats
    measured: bool

    @property
    def mass_fraction(self) -> Floats:
        """Composition as mass fractions (C,) [-]; not-a-number when nothing is there."""
        total = float(self.by_component_kg.sum())
        if total <= 1e-9:
            return np.full(self.by_component_kg.size, np.nan)
        return self.by_component_kg / total


@dataclass(frozen=True, slots=True)
class Reconciled:
    """The account after everything measured was brought to agree.

    Args:
        names: (C,) components.
        molar_masses: (C,) [kg/mol].
        charge: what went in, adjusted.
        lines: receivers, pot, column, trap, lost, in this order.
        system: the adjustment itself.
        wrong: whether a measured number cannot be right.
        suspects: which, the likeliest first.
        unexplained_kg: charge as stated minus all masses that were measured or are held up by the
            forecast; what nobody has seen [kg].
    """

    names: tuple[str, ...]
    molar_masses: Floats
    charge: Line
    lines: tuple[Line, ...]
    system: System
    wrong: bool
    suspects: tuple[Suspect, ...]
    unexplained_kg: float

    def line(self, place: str) -> Line | None:
        """Return the line of a place, None when there is none."""
        return next((line for line in self.lines if line.place == place), None)


def reconcile(
    sheet: RunSheet,
    observed: Sequence[ObservedCut],
    assays: Assays,
    statements: Sequence[Statement],
    foreseen: Run,
) -> Reconciled:
    """Return the account of a run.

    Args:
        sheet: what was charged.
        observed: receivers by the readings.
        assays: what was weighed and measured out.
        statements: what was analysed, as linear statements.
        foreseen: the forecast, which stands in with wide bands where nothing was measured.

    Returns:
        Adjusted masses with bands, and what cannot be right.
    """
    places = _places(observed, assays, foreseen)
    receivers = [place for place in places if place.isdecimal()]
    amounts = filled(receivers, observed, assays, foreseen)
    # nothing that was weighed can be wrong: a run that was ended early is no contradiction
    own = amounts if _by_the_log_alone(receivers, assays) else None
    rows = _measured_rows(sheet, places, observed, assays, statements, foreseen, own)
    system = system_of(places, sheet.names, rows)
    substances = [portion.substance for portion in sheet.charge]
    molar = np.array([s.molar_mass for s in substances])
    densities = np.array([density(293.15, s) for s in substances])
    wrong, suspects = find_suspects(system, molar, densities)
    if not wrong and own is None:
        # only now: shared out by masses of which one is wrong, the forecast would bear it out
        rows = _measured_rows(sheet, places, observed, assays, statements, foreseen, amounts)
        system = system_of(places, sheet.names, rows)
    touched = {row.place for row in system.measured if row.kind not in {"prior", "charge"}}
    lines = tuple(
        _line(system, [k], place, densities, molar, place in touched)
        for k, place in enumerate(places)
    )
    charge = _line(system, list(range(len(places))), "charge", densities, molar, True)
    stated = sum(portion.mass_kg for portion in sheet.charge)
    seen = sum(line.mass_kg for line in lines if line.place != LOST)
    return Reconciled(
        sheet.names, molar, charge, lines, system, wrong, suspects, float(stated - seen)
    )


def _by_the_log_alone(receivers: Sequence[str], assays: Assays) -> bool:
    """Return whether nobody weighed or measured out what is in the receivers."""
    return not any(row.cut in receivers and row.method in {"mass", "volume"} for row in assays.rows)


def _places(observed: Sequence[ObservedCut], assays: Assays, foreseen: Run) -> list[str]:
    numbers = {str(cut.number) for cut in observed}
    numbers |= {cut for cut in assays.cuts if cut.isdecimal()}
    if not numbers:
        numbers = {str(cut.number) for cut in foreseen.cuts}
    receivers = sorted(numbers, key=int)
    trap = ["trap"] if "trap" in assays.cuts else []
    return [*receivers, "pot", "column", *trap, LOST]


def _measured_rows(
    sheet: RunSheet,
    places: Sequence[str],
    observed: Sequence[ObservedCut],
    assays: Assays,
    statements: Sequence[Statement],
    foreseen: Run,
    amounts: Floats | None = None,
) -> list[Measured]:
    """Return every row of the linear system.

    Args:
        sheet: what was charged.
        places: from the receivers to what was lost.
        observed: receivers by the readings.
        assays: what was weighed and measured out.
        statements: what was analysed.
        foreseen: stands in where nothing was measured.
        amounts: of the receivers, in which the forecast is shared out [kg]; None for its own.
    """
    maker = _Maker(tuple(places), sheet)
    rows = [maker.charge(k) for k in range(len(sheet.charge))]
    rows += maker.weighed(assays)
    rows += maker.read(observed, assays)
    rows += [maker.composition(s) for s in statements if s.cut in places]
    return rows + maker.priors(foreseen, amounts)


class _Maker:
    """Makes the rows of one system."""

    def __init__(self, places: tuple[str, ...], sheet: RunSheet) -> None:
        self.places, self.sheet = places, sheet
        self.substances = [portion.substance for portion in sheet.charge]
        self.count = len(self.substances)
        self.densities = np.array([density(293.15, s) for s in self.substances])
        self.charged = np.array([portion.mass_kg for portion in sheet.charge])

    def _at(self, place: str, coefficients: Floats) -> Floats:
        weights = np.zeros(len(self.places) * self.count)
        start = self.places.index(place) * self.count
        weights[start : start + self.count] = coefficients
        return weights

    def _row(
        self, label: str, kind: str, place: str, weights: Floats, value: float, sigma: float
    ) -> Measured:
        return Measured(label, kind, place, weights, value, sigma, np.empty(0))

    def charge(self, k: int) -> Measured:
        portion = self.sheet.charge[k]
        relative = portion.amount_mol.sigma / portion.amount_mol.value or _CHARGE
        weights = np.zeros(len(self.places) * self.count)
        weights[k :: self.count] = 1.0
        label = f"{portion.substance.name} in the charge"
        return self._row(label, "charge", "", weights, portion.mass_kg, relative * portion.mass_kg)

    def weighed(self, assays: Assays) -> list[Measured]:
        rows = []
        for row in assays.rows:
            if row.cut not in self.places or row.method not in {"mass", "volume"}:
                continue
            coefficients = np.ones(self.count) if row.method == "mass" else 1.0 / self.densities
            usual = _WEIGHED if row.method == "mass" else _READ_VOLUME
            sigma = row.sigma or math.hypot(usual[0], usual[1] * row.value)
            label = f"{row.method} of {_named(row.cut)}"
            weights = self._at(row.cut, coefficients)
            rows.append(self._row(label, row.method, row.cut, weights, row.value, sigma))
        return rows

    def read(self, observed: Sequence[ObservedCut], assays: Assays) -> list[Measured]:
        rows = []
        for cut in observed:
            place = str(cut.number)
            if math.isfinite(cut.volume_m3) and not assays.of(place, "volume"):
                usual = (_READ_VOLUME[0], _READ_VOLUME[1] * cut.volume_m3)
                sigma = math.hypot(*usual, cut.volume_edge_m3)
                weights = self._at(place, 1.0 / self.densities)
                label = f"volume of cut {place} by the readings"
                rows.append(self._row(label, "volume", place, weights, cut.volume_m3, sigma))
            if math.isfinite(cut.mass_kg):
                usual = (_READ_MASS[0], _READ_MASS[1] * cut.mass_kg)
                sigma = math.hypot(*usual, cut.mass_edge_kg)
                weights = self._at(place, np.ones(self.count))
                label = f"mass of cut {place} by the readings"
                rows.append(self._row(label, "mass", place, weights, cut.mass_kg, sigma))
        return rows

    def composition(self, said: Statement) -> Measured:
        return Measured(
            label=said.label,
            kind="composition",
            place=said.cut,
            weights=self._at(said.cut, said.weights - said.value),
            value=0.0,
            sigma=said.sigma * float(self.charged.sum()) / len(self.places),
            fractions=said.weights,
            share=said.value,
            share_sigma=said.sigma,
        )

    def priors(self, foreseen: Run, amounts: Floats | None) -> list[Measured]:
        """Return what the forecast would have at every place, with the doubt of each place."""
        molar = np.array([s.molar_mass for s in self.substances])
        by_cut = {
            str(cut.number): np.nan_to_num(cut.mass_kg * cut.mass_fraction) for cut in foreseen.cuts
        }
        by_cut["pot"] = np.nan_to_num(foreseen.residue.mass_kg * foreseen.residue.mass_fraction)
        if amounts is not None:
            # receivers changed otherwise than the sheet has it: what came over is what was foreseen
            # of it, in the shares in which it was found
            receivers = [place for place in self.places if place.isdecimal()]
            by_cut |= shared_out(receivers, amounts, foreseen, molar) or {}
        by_cut["column"] = foreseen.ledger.holdup_mol * molar
        by_cut[LOST] = foreseen.ledger.vent_mol * molar
        rows = []
        for place in self.places:
            mass = by_cut.get(place, np.zeros(self.count))
            for k, substance in enumerate(self.substances):
                weights = self._at(place, np.eye(self.count)[k])
                label = f"{substance.name} in {_named(place)} by the forecast"
                sigma = self._doubt(place, float(mass[k]), float(self.charged[k]))
                rows.append(self._row(label, "prior", place, weights, float(mass[k]), sigma))
        return rows

    def _doubt(self, place: str, mass: float, charged: float) -> float:
        if place == LOST:
            return math.hypot(_LOST * charged, 0.5 * mass)
        if place == "column":
            return math.hypot(_HELD * mass, _HELD_LEAST)
        return math.hypot(_FORESEEN[0] * mass, _FORESEEN[1] * charged)


def _named(place: str) -> str:
    return f"cut {place}" if place.isdecimal() else f"the {place}"


def _line(
    system: System,
    rows: Sequence[int],
    place: str,
    densities: Floats,
    molar: Floats,
    measured: bool,
) -> Line:
    """Return the sum of some places as one line of the account."""
    count = len(system.components)
    masses = system.masses[list(rows)].sum(axis=0)
    pick = np.zeros((count, system.covariance.shape[0]))
    for k in range(count):
        pick[k, [p * count + k for p in rows]] = 1.0
    spread = pick @ system.covariance @ pick.T
    x, x_band = _mole_fractions(masses, spread, molar)
    return Line(
        place=place,
        mass_kg=float(masses.sum()),
        band_kg=EIGHTY * float(np.sqrt(max(spread.sum(), 0.0))),
        volume_m3=float(masses @ (1.0 / densities)),
        by_component_kg=masses,
        component_band_kg=EIGHTY * np.sqrt(np.maximum(np.diag(spread), 0.0)),
        mole_fraction=x,
        mole_fraction_band=x_band,
        measured=measured,
    )


def _mole_fractions(masses: Floats, spread: Floats, molar: Floats) -> tuple[Floats, Floats]:
    """Return mole fractions and their half-widths, to first order in the masses."""
    moles = masses / molar
    total = float(moles.sum())
    if total <= 1e-9:
        empty = np.full(masses.size, np.nan)
        return empty, empty
    x = moles / total
    slopes = (np.eye(masses.size) - x[:, None]) / total / molar
    return x, EIGHTY * np.sqrt(np.maximum(np.diag(slopes @ spread @ slopes.T), 0.0))
