"""Distil again or stop; and what another way of running would have given."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from forerun.core.errors import BadInput, CalculationFailed
from forerun.reviewing.ledger import Line, Reconciled
from forerun.sheets.model import Aim, Portion, RunSheet, Setting
from forerun.still.from_sheet import prepare
from forerun.still.inputs import StillInput
from forerun.still.results import Run, Trace
from forerun.still.run import run_still
from forerun.substances.correlations import density

__all__ = ["Redistil", "Replay", "purity_of", "redistil", "replays", "window_of_purity"]

Floats = npt.NDArray[np.float64]

_LEAST_CHARGE = 5.0  # times the hold-up of the column; common practice asks for ten
_LEAST_GAIN = 0.05  # of what was charged of the wanted substance: less is not worth a morning
_TRACE = 1e-4  # mass fraction below which a component is left out of the new charge
_POINTS = 240


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


@dataclass(frozen=True, slots=True)
class Replay:
    """The same charge run in another way.

    Args:
        name: ``as it was``, ``half the heat``, ``better lagged`` or ``earlier switch``.
        words: what was done otherwise.
        pure_kg: most of the wanted substance that could be had in one receiver at the wanted
            purity; without an aim, mass of the receiver that holds most [kg].
        purity: of it, in the basis of the aim [-].
        time_s: when the run ends [s].
    """

    name: str
    words: str
    pure_kg: float
    purity: float
    time_s: float


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
    charged = float(sheet.charge[wanted].mass_kg)
    worth = best.gain_kg >= _LEAST_GAIN * charged
    share = 100.0 * best.gain_kg / charged
    verdict = (
        f"It would add {1e3 * best.gain_kg:.1f} g of {aim.substance.name} at "
        f"{100.0 * aim.purity:g} {aim.purity_basis or 'mol%'}, {share:.0f} % of what was charged, "
        f"in {best.time_s / 3600.0:.1f} h."
        if best.gain_kg > 0.0
        else "No off-cut gives the wanted purity in one more run on this column."
    )
    said = (verdict, *_costs(best), *best.reasons, *_instead(tried, best))
    return replace(best, worth_it=worth, reasons=said, tried=tuple(tried))


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
        if one is not best and not one.reasons
    ]
    others = [reason for one in tried if one is not best for reason in one.reasons]
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
    masses = np.array(sum(line.by_component_kg for line in group), dtype=np.float64)
    volume = sum(line.volume_m3 for line in group)
    nothing = Redistil(False, what, places, 0.0, math.nan, 0.0, ())
    if volume < _LEAST_CHARGE * sheet.rig.holdup_m3.value:
        reason = f"{what[0].upper()}{what[1:]} is less than five times what the column holds."
        return replace(nothing, reasons=(reason,))
    new = _new_sheet(sheet, masses)
    kept = [sheet.names.index(name) for name in new.names]
    try:
        still = prepare(new).still
        if fitted is not None:
            still = _with_glass(still, fitted, volume / sheet.charge_volume_m3)
        run = run_still(still)
    except (BadInput, CalculationFailed) as problem:
        return replace(nothing, reasons=(f"{what[0].upper()}{what[1:]}: {problem}",))
    if wanted not in kept:
        return nothing
    purity = _as_mole_fraction(sheet.aim, new, kept.index(wanted))
    molar = np.array([p.substance.molar_mass for p in new.charge])
    gain, _, end = window_of_purity(run.trace, molar, kept.index(wanted), purity)
    over = [np.interp(end, run.trace.time_s, column) for column in run.trace.received_mol.T]
    gone = sum(
        float(mol) * p.substance.molar_mass / density(293.15, p.substance)
        for mol, p in zip(over, new.charge, strict=True)
    )
    left = max(volume - gone - still.holdup_m3, 0.0)
    return Redistil(
        False, what, places, gain, sheet.aim.purity or math.nan, end, (),
        charged_m3=volume, left_m3=left, held_m3=still.holdup_m3,
    )  # fmt: skip


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


def _new_sheet(sheet: RunSheet, masses: Floats) -> RunSheet:
    total = float(masses.sum())
    portions = []
    for portion, mass in zip(sheet.charge, masses, strict=True):
        if mass < _TRACE * total:
            continue
        moles = float(mass) / portion.substance.molar_mass
        portions.append(
            Portion(
                portion.substance,
                Setting(moles, text=f"{1e3 * mass:.2f} g"),
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


def replays(sheet: RunSheet, fitted: StillInput) -> tuple[Replay, ...]:
    """Return what the same charge would have given otherwise.

    Args:
        sheet: of the run.
        fitted: the still with the sheet's programme and switches.

    Returns:
        First the run as it was, then each variation; one that cannot be run is left out.
    """
    longer = replace(fitted.stop, time_s=2.0 * fitted.stop.time_s)
    cases = [
        ("as it was", "the run as fitted", fitted),
        (
            "half the heat",
            "half the heat into the pot, twice the time allowed",
            replace(fitted, bath_conductance_W_K=0.5 * fitted.bath_conductance_W_K, stop=longer),
        ),
        (
            "better lagged",
            "column and head lose a third of the heat",
            replace(
                fitted,
                column_loss_W_K=fitted.column_loss_W_K / 3.0,
                head_loss_W_K=fitted.head_loss_W_K / 3.0,
            ),
        ),
    ]
    if any(s.head_temperature_K is not None for s in fitted.switches):
        earlier = tuple(
            s
            if s.head_temperature_K is None
            else replace(s, head_temperature_K=s.head_temperature_K - 2.0)
            for s in fitted.switches
        )
        cases.append(
            ("earlier switch", "receivers changed 2 K earlier", replace(fitted, switches=earlier))
        )
    found = []
    for name, words, case in cases:
        try:
            run = run_still(case)
        except CalculationFailed:
            continue
        found.append(_replayed(sheet, name, words, run))
    return tuple(found)


def _replayed(sheet: RunSheet, name: str, words: str, run: Run) -> Replay:
    end = float(run.trace.time_s[-1])
    filled = [cut for cut in run.cuts if cut.amount_mol > 0.0]
    if not filled:
        return Replay(name, words, 0.0, math.nan, end)
    if sheet.aim.substance is None:
        most = max(filled, key=lambda cut: cut.mass_kg)
        return Replay(name, words, most.mass_kg, float(np.max(most.mole_fraction)), end)
    wanted = sheet.names.index(sheet.aim.substance.name)
    basis = sheet.aim.purity_basis
    masses = {c.number: c.mass_kg * c.mass_fraction for c in filled}
    purities = {n: purity_of(m, wanted, basis, sheet) for n, m in masses.items()}
    good = [n for n, p in purities.items() if p >= (sheet.aim.purity or 0.0)]
    best = max(
        good or purities,
        key=lambda n: float(masses[n][wanted]) if good else purities[n],
    )
    pure = float(masses[best][wanted]) if good else 0.0
    return Replay(name, words, pure, purities[best], end)
