"""Distil again or stop: what off-cuts would give in another run."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from forerun.core.errors import BadInput, CalculationFailed
from forerun.forecast.drawing import as_member, draw_member, normal_points, prior_of
from forerun.forecast.ensemble import run_ensemble
from forerun.reviewing.ledger import Line, Reconciled
from forerun.sheets.model import Aim, Portion, RunSheet, Setting
from forerun.still.from_sheet import Prepared, prepare
from forerun.still.inputs import StillInput
from forerun.still.results import Run, Trace
from forerun.still.run import run_still
from forerun.substances.correlations import density

__all__ = ["Redistil", "purity_of", "redistil", "window_of_purity"]

Floats = npt.NDArray[np.float64]

_LEAST_CHARGE = 5.0  # times the hold-up of the column; common practice asks for ten
_LEAST_GAIN = 0.05  # of what was charged of the wanted substance: less is not worth a morning
_TRACE = 1e-4  # mass fraction below which a component is left out of the new charge
_POINTS = 240
_MEMBERS = 16
_BAND = 1.2816  # half-width of an 80 % band in standard deviations


@dataclass(frozen=True, slots=True)
class Redistil:
    """Whether off-cuts are worth another run.

    Args:
        worth_it: the verdict.
        what: receivers that would be put together, e.g. ``cuts 2 and 3``; empty for none.
        places: the same as places of the account.
        gain_kg: more of the wanted substance at the wanted purity [kg].
        purity: of it, in the basis of the aim [-]; NaN where nothing can be gained.
        time_s: from lighting the bath until it is over [s].
        reasons: sentences.
        charged_m3: what would go into the pot [m3].
        left_m3: what is in the pot when it is over, without what the column holds [m3].
        held_m3: what the column holds and keeps [m3].
        tried: each off-cut alone and all together, as they were compared; empty for one of them.
        gain_band_kg: 80 % band of the gain, over what is in the off-cuts, the boiling behaviour
            and, where the glass was not fitted, the glass [kg]; NaN where nothing is gained.
    """

    worth_it: bool
    what: str
    places: tuple[str, ...]
    gain_kg: float
    purity: float
    time_s: float
    reasons: tuple[str, ...]
    charged_m3: float = math.nan
    left_m3: float = math.nan
    held_m3: float = math.nan
    tried: tuple[Redistil, ...] = ()
    gain_band_kg: tuple[float, float] = (math.nan, math.nan)


def purity_of(masses: Floats, wanted: int, basis: str | None, sheet: RunSheet) -> float:
    """Return the purity of a mixture in the basis of the aim.

    Args:
        masses: (C,) [kg].
        wanted: index of the component.
        basis: ``mol%``, ``wt%`` or ``vol%``; None for ``mol%``.
        sheet: for the substances.

    Returns:
        fraction [-]; not-a-number of nothing.

    Derivation:
        masses over molar masses, over one, or over densities at 20 degC. Valid for volumes that
        add up.
    """
    per = [
        p.substance.molar_mass
        if basis in {None, "mol%"}
        else (1.0 if basis == "wt%" else density(293.15, p.substance))
        for p in sheet.charge
    ]
    amounts = masses / np.array(per)
    total = float(amounts.sum())
    return float(amounts[wanted] / total) if total > 0.0 else math.nan


def window_of_purity(
    trace: Trace, molar_masses: Floats, wanted: int, purity: float
) -> tuple[float, float, float]:
    """Return the stretch of a run that gives most of a substance at a purity.

    Args:
        trace: of the run.
        molar_masses: (C,) [kg/mol].
        wanted: index of the component.
        purity: mole fraction that the whole stretch must have [-].

    Returns:
        mass of the wanted substance [kg], and when the receiver is put there and taken away [s];
        zero mass where no stretch is pure enough.

    Derivation:
        running sums of what drips; the longest span between any two moments whose mean is pure
        enough. Valid within the steps of the trace.
    """
    rate = np.nan_to_num(trace.distillate_rate_mol_s)
    parts = np.nan_to_num(trace.distillate_mole_fraction) * rate[:, None]
    steps = np.diff(trace.time_s)[:, None]
    over = np.vstack(
        [np.zeros(parts.shape[1]), np.cumsum(0.5 * (parts[1:] + parts[:-1]) * steps, 0)]
    )
    grid = np.linspace(0.0, trace.time_s[-1], _POINTS)
    sums = np.column_stack([np.interp(grid, trace.time_s, column) for column in over.T])
    gained = sums[None, :, :] - sums[:, None, :]
    total = gained.sum(axis=2)
    pure = np.where(total > 1e-9, gained[:, :, wanted] / np.maximum(total, 1e-12), 0.0) >= purity
    mass = np.where(pure, gained[:, :, wanted], 0.0) * molar_masses[wanted]
    a, b = np.unravel_index(int(np.argmax(mass)), mass.shape)
    return float(mass[a, b]), float(grid[a]), float(grid[b])


def redistil(sheet: RunSheet, account: Reconciled, fitted: StillInput | None) -> Redistil:
    """Return whether running off-cuts again is worth the time.

    Args:
        sheet: of the run; its aim says what is wanted.
        account: what is in the receivers.
        fitted: the still as it was fitted, None for the sheet's own values.

    Returns:
        The best of each off-cut alone and all together.
    """
    aim = sheet.aim
    if aim.substance is None or aim.purity is None:
        reason = "The sheet names no aim: say which substance is wanted, and how pure."
        return Redistil(False, "", (), 0.0, math.nan, 0.0, (reason,))
    wanted = sheet.names.index(aim.substance.name)
    receivers = [line for line in account.lines if line.place.isdecimal() and line.mass_kg > 1e-4]
    off = [x for x in receivers if _purity(x, wanted, sheet) < aim.purity]
    if not off:
        reason = f"Every receiver already holds {aim.substance.name} at the wanted purity."
        return Redistil(False, "", (), 0.0, math.nan, 0.0, (reason,))
    groups = [[line] for line in off] + ([off] if len(off) > 1 else [])
    tried = [_tried(sheet, group, wanted, fitted) for group in groups]
    best = max(tried, key=lambda found: found.gain_kg)
    if best.gain_kg > 0.0:
        again = _again(sheet, groups[tried.index(best)], wanted, fitted)
        best = replace(best, gain_band_kg=_band(again))
    charged = float(sheet.charge[wanted].mass_kg)
    worth = best.gain_kg >= _LEAST_GAIN * charged
    share = 100.0 * best.gain_kg / charged
    verdict = (
        f"It would add {1e3 * best.gain_kg:.1f} g{_band_words(best)} of {aim.substance.name} at "
        f"{100.0 * aim.purity:g} {aim.purity_basis or 'mol%'}, {share:.0f} % of what was charged, "
        f"in {best.time_s / 3600.0:.1f} h."
        if best.gain_kg > 0.0
        else "No off-cut gives the wanted purity in one more run on this column."
    )
    said = (verdict, *_costs(best), *best.reasons, *_instead(tried, best))
    return replace(best, worth_it=worth, reasons=said, tried=tuple(tried))


def _band_words(best: Redistil) -> str:
    low, high = (1e3 * end for end in best.gain_band_kg)
    return f" (8 in 10: {low:.1f} to {high:.1f} g)" if math.isfinite(low) else ""


def _costs(best: Redistil) -> tuple[str, ...]:
    """Return what another run leaves behind, in a sentence."""
    if best.gain_kg <= 0.0:
        return ()
    left, charged, held = (1e6 * v for v in (best.left_m3, best.charged_m3, best.held_m3))
    keeps = f", and the column keeps {held:.1f} mL" if held > 0.0 else ""
    return (f"The pot is then down to {left:.0f} mL of {charged:.0f} mL{keeps}.",)


def _instead(tried: Sequence[Redistil], best: Redistil) -> tuple[str, ...]:
    """Return what the other ways would give, in a sentence."""
    words = [
        f"{one.what}{'' if len(one.places) > 1 else ' alone'} "
        + (
            f"{1e3 * one.gain_kg:.1f} g in {one.time_s / 3600.0:.1f} h"
            if one.gain_kg > 0.0
            else "nothing pure enough"
        )
        for one in tried
        if one.places != best.places and not one.reasons
    ]
    others = [reason for one in tried if one.places != best.places for reason in one.reasons]
    return (*([f"Instead: {'; '.join(words)}."] if words else []), *others)


def _purity(line: Line, wanted: int, sheet: RunSheet) -> float:
    return purity_of(line.by_component_kg, wanted, sheet.aim.purity_basis, sheet)


def _tried(
    sheet: RunSheet, group: Sequence[Line], wanted: int, fitted: StillInput | None
) -> Redistil:
    places = tuple(line.place for line in group)
    what = (
        f"cut {places[0]}"
        if len(places) == 1
        else f"cuts {', '.join(places[:-1])} and {places[-1]}"
    )
    volume = sum(line.volume_m3 for line in group)
    nothing = Redistil(False, what, places, 0.0, math.nan, 0.0, ())
    if volume < _LEAST_CHARGE * sheet.rig.holdup_m3.value:
        reason = f"{what[0].upper()}{what[1:]} is less than five times what the column holds."
        return replace(nothing, reasons=(reason,))
    try:
        again = _again(sheet, group, wanted, fitted)
        run = run_still(again.still)
    except (BadInput, CalculationFailed) as problem:
        return replace(nothing, reasons=(f"{what[0].upper()}{what[1:]}: {problem}",))
    if again.wanted is None:
        return nothing
    gain, end = again.gain_of(run)
    over = [np.interp(end, run.trace.time_s, column) for column in run.trace.received_mol.T]
    gone = sum(
        float(mol) * p.substance.molar_mass / density(293.15, p.substance)
        for mol, p in zip(over, again.prepared.sheet.charge, strict=True)
    )
    held = again.still.holdup_m3
    return Redistil(
        False, what, places, gain, sheet.aim.purity or math.nan, end, (),
        charged_m3=volume, left_m3=max(volume - gone - held, 0.0), held_m3=held,
    )  # fmt: skip


@dataclass(frozen=True, slots=True)
class _Again:
    """Another run, of off-cuts put together."""

    prepared: Prepared
    wanted: int | None  # None where hardly any of it is in them
    purity: float  # mole fraction
    fitted: StillInput | None
    fill: float  # of the first charge

    @property
    def still(self) -> StillInput:
        return self.on_glass(self.prepared.still)

    def on_glass(self, still: StillInput) -> StillInput:
        return still if self.fitted is None else _with_glass(still, self.fitted, self.fill)

    def gain_of(self, run: Run) -> tuple[float, float]:
        """Return how much of the wanted substance comes pure enough [kg], and when it is over."""
        molar = np.array([p.substance.molar_mass for p in self.prepared.sheet.charge])
        gain, _, end = window_of_purity(run.trace, molar, self.wanted or 0, self.purity)
        return gain, end


def _again(
    sheet: RunSheet, group: Sequence[Line], wanted: int, fitted: StillInput | None
) -> _Again:
    masses = np.array(sum(line.by_component_kg for line in group), dtype=np.float64)
    bands = np.sqrt(sum(line.component_band_kg**2 for line in group))
    new = _new_sheet(sheet, masses, bands)
    name = sheet.names[wanted]
    at = new.names.index(name) if name in new.names else None
    purity = math.nan if at is None else _as_mole_fraction(sheet.aim, new, at)
    fill = sum(line.volume_m3 for line in group) / sheet.charge_volume_m3
    return _Again(prepare(new), at, purity, fitted, fill)


def _band(again: _Again) -> tuple[float, float]:
    """Return the middle 80 % of what other guesses at what is not known would gain [kg]."""
    prior = prior_of(again.prepared)
    points = normal_points(len(prior.unknowns), _MEMBERS, 1)
    runs = run_ensemble([again.on_glass(as_member(draw_member(prior, z))) for z in points])
    gains = [again.gain_of(run)[0] for run in runs if isinstance(run, Run)]
    if len(gains) < 0.5 * _MEMBERS:
        return math.nan, math.nan
    low, high = np.quantile(gains, (0.1, 0.9))
    return float(low), float(high)


def _as_mole_fraction(aim: Aim, sheet: RunSheet, wanted: int) -> float:
    """Return a mole fraction that is at least as pure as the aim, whatever the other is."""
    purity = aim.purity or 0.0
    if aim.purity_basis in {None, "mol%"} or len(sheet.charge) == 1:
        return purity
    molar = [p.substance.molar_mass for p in sheet.charge]
    per = molar
    if aim.purity_basis == "vol%":
        per = [p.substance.molar_mass / density(293.15, p.substance) for p in sheet.charge]
    others = [value for k, value in enumerate(per) if k != wanted]
    worst = min(others)  # the lightest impurity counts most in moles
    return purity / per[wanted] / (purity / per[wanted] + (1.0 - purity) / worst)


def _new_sheet(sheet: RunSheet, masses: Floats, bands: Floats) -> RunSheet:
    total = float(masses.sum())
    portions = []
    for portion, mass, band in zip(sheet.charge, masses, bands, strict=True):
        if mass < _TRACE * total:
            continue
        moles = float(mass) / portion.substance.molar_mass
        portions.append(
            Portion(
                portion.substance,
                Setting(
                    moles,
                    sigma=min(float(band) / _BAND / portion.substance.molar_mass, moles),
                    text=f"{1e3 * mass:.2f} g",
                ),
                float(mass),
                float(mass) / density(293.15, portion.substance),
                f"{1e3 * mass:.2f} g",
            )
        )
    return replace(sheet, charge=tuple(portions), switches=())


def _with_glass(still: StillInput, fitted: StillInput, fill: float) -> StillInput:
    """Return a run on the fitted glass; the wetted wall goes with the volume to the power 2/3."""
    return replace(
        still,
        plates=fitted.plates,
        holdup_m3=fitted.holdup_m3,
        bath_conductance_W_K=fitted.bath_conductance_W_K * min(fill, 1.0) ** (2.0 / 3.0),
        pot_loss_W_K=fitted.pot_loss_W_K,
        column_loss_W_K=fitted.column_loss_W_K,
        head_loss_W_K=fitted.head_loss_W_K,
    )
