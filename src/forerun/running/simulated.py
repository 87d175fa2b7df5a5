"""The simulated bench: a run that never was, its readings, and the truth to judge others by."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from forerun.core.errors import BadInput
from forerun.forecast.drawing import Prior, prior_of
from forerun.records.readings import Readings
from forerun.running.case import Weighed
from forerun.running.simulated_faults import FAULTS, possible_faults
from forerun.running.simulated_reading import SEEN, channels_of, read_off
from forerun.running.simulated_standing import Faulty, Standing
from forerun.running.simulated_truth import equal_truth, richer_truth
from forerun.sheets.model import RunSheet
from forerun.still.from_sheet import prepare
from forerun.still.inputs import StillInput
from forerun.still.results import Run
from forerun.still.run import run_still

__all__ = ["SimulatedLog", "TrueSwitch", "Truth", "simulated_log"]

_MOST_DRAWS = 20
_LEAST_OVER = 0.05  # of the charge: less distillate is no run


@dataclass(frozen=True, slots=True)
class TrueSwitch:
    """When a receiver was full by the sheet's own rule.

    Args:
        receiver: 1 for the first.
        time_s: when it is to be taken away [s].
        volume_m3: distillate until then, all receivers [m3].
    """

    receiver: int
    time_s: float
    volume_m3: float


@dataclass(frozen=True, slots=True)
class Truth:
    """What a forecast or a diagnosis of a simulated log is held against.

    Args:
        cause: name of the fault, ``none`` for a run that goes well.
        start_s: when the fault began, None without one [s].
        damage_s: until when its name is of use, None without a fault [s].
        switches: when receivers were truly full, in order.
        run: everything that happened, before instruments read it and before what the fault does
            beside the model.
        given: what the run was made from.
    """

    cause: str
    start_s: float | None
    damage_s: float | None
    switches: tuple[TrueSwitch, ...]
    run: Run
    given: StillInput


@dataclass(frozen=True, slots=True)
class SimulatedLog:
    """A log that never was.

    Args:
        readings: what the instruments showed, from heating to the end.
        truth: what happened.
        weighed: the account in mass at the end.
    """

    readings: Readings
    truth: Truth
    weighed: Weighed


def simulated_log(
    sheet: RunSheet,
    seed: int,
    fault: str | None = None,
    every_s: float = 10.0,
    *,
    richer: bool = True,
    channels: Sequence[str] = SEEN,
    prior: Prior | None = None,
) -> SimulatedLog:
    """Return a log of a run of a sheet whose still is not quite what the sheet says.

    Args:
        sheet: the run sheet.
        seed: the same seed gives the same log.
        fault: name of what goes wrong, None for nothing.
        every_s: distance of the readings [s].
        richer: whether the truth is richer than what the forecast's members are drawn from.
        channels: those that are read.
        prior: what is not known about the sheet, where somebody has it already.

    Raises:
        BadInput: a fault that is not known, or that this sheet cannot have; or a sheet of which
            hardly anything comes over.
    """
    prior = prior or prior_of(prepare(sheet))
    random = np.random.default_rng([seed, 8])
    _known(fault, prior)
    given, run = _healthy(prior, random, richer)
    what = Standing(prior, given, run, random)
    faulty = FAULTS[fault].make(what) if fault is not None else Faulty(given)
    if fault is not None:
        run = run_still(faulty.given)
    true = channels_of(run.trace, every_s)
    if faulty.also is not None:
        faulty.also(true)
    read = [name for name in channels if name not in faulty.unread]
    readings = read_off(true, faulty.remarks, random, read)
    grace = 0.0 if fault is None else FAULTS[fault].grace_s
    start = faulty.start_s
    truth = Truth(
        cause=fault or "none",
        start_s=start if fault else None,
        damage_s=start + grace if fault else None,
        switches=_switches(run),
        run=run,
        given=faulty.given,
    )
    return SimulatedLog(readings, truth, _weighed(prior, run, faulty, random))


def _known(fault: str | None, prior: Prior) -> None:
    if fault is None:
        return
    if fault not in FAULTS:
        raise BadInput("fault", fault, "one of " + ", ".join(FAULTS))
    possible = possible_faults(prior.prepared)
    if fault not in possible:
        raise BadInput("fault", fault, "for this sheet one of " + ", ".join(possible))


def _healthy(prior: Prior, random: np.random.Generator, richer: bool) -> tuple[StillInput, Run]:
    """Return the first drawn still from which enough comes over to speak of a run."""
    for _ in range(_MOST_DRAWS):
        given = (richer_truth if richer else equal_truth)(prior, random)
        run = run_still(given)
        charge = sum(p.volume_m3 for p in prior.prepared.sheet.charge)
        if float(run.trace.distillate_volume_m3[-1]) > _LEAST_OVER * charge:
            return given, run
    raise BadInput("sheet", prior.prepared.sheet.title, "a sheet of which something comes over")


def _switches(run: Run) -> tuple[TrueSwitch, ...]:
    over = 0.0
    found = []
    for cut in run.cuts[:-1]:
        over += cut.volume_m3
        found.append(TrueSwitch(cut.number, cut.end_s, over))
    return tuple(found)


def _weighed(prior: Prior, run: Run, faulty: Faulty, random: np.random.Generator) -> Weighed:
    """Return the account in mass: the charge as the sheet says, the rest as it was found."""
    sheet = prior.prepared.sheet
    molar = np.array([p.substance.molar_mass for p in sheet.charge])
    charge = sum(p.mass_kg for p in sheet.charge)
    true_charge = float(faulty.given.charge_mol @ molar)
    vented = max(float(run.ledger.vent_mol @ molar), 0.0)
    splashed = random.exponential(0.003)
    found = (true_charge - vented) * (1.0 - splashed) * faulty.found_again
    return Weighed(charge, found + faulty.in_trap * vented, faulty.in_trap * vented)
