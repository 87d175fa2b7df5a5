"""What really stands on a simulated bench: a still that its run sheet does not describe.

Widths are our own choice, no source.  They are meant to be worse than the forecast's own doubts,
so that a forecast judged on such runs is not judged against itself.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import numpy.typing as npt

from forerun.forecast.drawing import LEAST_PLATES, Prior, draw_member
from forerun.still.inputs import StillInput, plates_as_stages
from forerun.still.results import Trace
from forerun.still.run import run_still

__all__ = ["equal_truth", "richer_truth", "working_plates"]

Floats = npt.NDArray[np.float64]

_ALONE = 1.2815515655446004 / 1.4  # of what would make one model alone right, our own choice
_PLATES_POWER = -0.3  # of the vapour load
_EASY = 0.5  # of the largest load, below which a plate carries nothing up: forerun.still.loads
_MOST_LAG = 3.0  # times the thermometer's own
_ROOM = (288.15, 301.15)  # K
_BATH_OFF = 2.0  # K
_PRESSURE_DRIFT = 0.005
_WANDER = 1.0  # K, of the heat that the flask feels: uneven stirring, draughts
_WANDER_OVER = 600.0  # s
_STEP = 60.0  # s


def equal_truth(prior: Prior, random: np.random.Generator) -> StillInput:
    """Return a run drawn from what the forecast itself thinks possible.

    Args:
        prior: what is not known about the prepared run.
        random: source of chance.
    """
    return draw_member(prior, random.standard_normal(len(prior.unknowns)))


def richer_truth(prior: Prior, random: np.random.Generator) -> StillInput:
    """Return a run that the forecast's description does not hold.

    Where models predict a pair, one of them alone draws it its way; fitted pairs and amounts err
    with heavy tails; heat paths vary half as much again; the bath is off and wanders; the room is
    another; the pressure drifts; the thermometer is slower; plates follow the vapour load by
    another law than the forecast's.

    Args:
        prior: what is not known about the prepared run.
        random: source of chance.
    """
    z = _heavier(prior, random)
    given = draw_member(prior, z)
    pressure = given.pressure.copy()
    if pressure.shape[0] == 1:
        pressure = np.array([pressure[0], [given.stop.time_s, pressure[0, 1]]])
    pressure[-1, 1] *= 1.0 + random.uniform(-_PRESSURE_DRIFT, _PRESSURE_DRIFT)
    given = replace(
        given,
        pressure=pressure,
        bath_temperature=_uneven(given, random),
        room_temperature_K=random.uniform(*_ROOM),
        thermometer_lag_s=given.thermometer_lag_s * random.uniform(1.0, _MOST_LAG),
    )
    return _loaded(prior.prepared.still, given)


def _heavier(prior: Prior, random: np.random.Generator) -> Floats:
    names = [u.name for u in prior.unknowns]
    z = random.standard_normal(len(names))
    heavy = random.standard_t(4, len(names)) / np.sqrt(2.0)  # variance of t with 4 degrees: 2
    for k, name in enumerate(names):
        kind = name.partition(":")[0]
        if kind in {"charge", "activity"}:
            z[k] = heavy[k]
        if kind in {"heat_transfer", "heat_loss"}:
            z[k] *= 1.5
    models = prior.errors.models
    if len(models) > 1 and f"activity:{models[0]}" in names:
        alone = int(random.integers(len(models)))
        for m, model in enumerate(models):
            one = _ALONE * np.sqrt(len(models) - 1) if m == alone else 0.0
            z[names.index(f"activity:{model}")] = one
    return z


def _uneven(given: StillInput, random: np.random.Generator) -> Floats:
    """Return the bath that the flask feels: off by a constant, and wandering."""
    bath = given.bath_temperature
    times = np.arange(0.0, given.stop.time_s + _STEP, _STEP)
    wander = np.empty(times.size)
    wander[0] = 0.0
    keep = np.exp(-_STEP / _WANDER_OVER)
    kicks = _WANDER * np.sqrt(1.0 - keep**2) * random.standard_normal(times.size)
    for k in range(1, times.size):
        wander[k] = keep * wander[k - 1] + kicks[k]
    off = random.uniform(-_BATH_OFF, _BATH_OFF)
    return np.column_stack([times, np.interp(times, bath[:, 0], bath[:, 1]) + off + wander])


def _loaded(usual: StillInput, given: StillInput) -> StillInput:
    """Return the run with as many plates as its own vapour load leaves, by another law.

    The forecast's column loses plates above half of its largest load.  This one loses them by a
    power of its load, from small loads on, and not by the forecast's law as well; at the load that
    the sheet foresees both work alike.
    """
    if given.plates == 0:
        return given
    own, foreseen = (run_still(one).trace for one in (given, usual))
    loads = [_boils_up(trace) for trace in (own, foreseen)]
    if not min(loads) > 0.0:
        return given
    drawn = given.plates / (1.0 + given.carried)
    kept = working_plates(usual, foreseen) * (1.0 + usual.carried) / usual.plates
    plates = max(drawn * kept * (loads[0] / loads[1]) ** _PLATES_POWER, LEAST_PLATES)
    stages, carried = plates_as_stages(plates)
    return replace(
        given,
        plates=stages,
        carried=carried,
        carried_at_largest=0.0,
        pressure_drop_Pa=given.pressure_drop_Pa * given.plates / stages,
    )


def _boils_up(trace: Trace) -> float:
    """Return the vapour that leaves the pot, on average while it drips [mol/s]; 0 if it never does.

    Not a published model: a mean over the points of the trace.
    """
    drips = trace.distillate_volume_m3 > 0.0
    return float(np.mean(trace.boilup_rate_mol_s[drips])) if drips.any() else 0.0


def working_plates(given: StillInput, trace: Trace) -> float:
    """Return the plates that a column has at its load, on average while it drips [-].

    Args:
        given: the run.
        trace: what it did.

    Source:
        Liquid carried up lowers the efficiency: Colburn, Ind. Eng. Chem. 28 (1936) 526,
        doi:10.1021/ie50317a006 (from memory), as `forerun.still.loads` has it short of flooding.
    """
    drips = trace.distillate_volume_m3 > 0.0
    load = trace.load[drips] if trace.load.size else np.zeros(1)
    busy = np.maximum(load - _EASY, 0.0) / (1.0 - _EASY)
    carried = given.carried + given.carried_at_largest * busy**2
    return float(np.mean(given.plates / (1.0 + carried))) if carried.size else float(given.plates)
