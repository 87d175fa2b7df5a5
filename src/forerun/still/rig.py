"""The rig and its programme as the compiled kernels see them, made from a `StillInput`."""

from __future__ import annotations

import itertools
import math
from bisect import bisect_left, bisect_right
from functools import lru_cache
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from forerun.core.errors import BadInput
from forerun.glassware.flasks import wetting_exponent
from forerun.numerics.signatures import float64, record
from forerun.still.boiling_type import ENTHALPY_UNIT, REFERENCE_TEMPERATURE
from forerun.still.inputs import StillInput

__all__ = ["RIG_TYPE", "RigArrays", "own_rig", "programme_segments", "rig_arrays", "volumes_at"]

Floats = npt.NDArray[np.float64]
Programme = tuple[tuple[float, ...], tuple[float, ...]]  # times and values

# Numbers of the formulation; none of them is a property of a real still.
_VAPOUR_RATE = 0.5  # 1/s: vapour rate over charge at a relative overpressure of one
_OVERPRESSURE = 1e-3  # half-width of the ramp that starts boiling, relative to the pressure
_CENTRE = 0.6  # the ramp is moved by this share of its half-width, so that its bias is centred
# the head lets vapour through more easily than a plate, so that in a head without loss the
# film on its wall dries up instead of growing, running back and enriching what passes
_EASY = 10.0
_VANISHING = 1e-5  # amount at which a stage has half its vapour rate, relative to the charge
_FILM = 1e-6  # liquid on a dry plate at the start, relative to the charge
_LEAST_HOLDUP = 2e-4  # of a plate or the head, relative to the volume of the charge
_HOLDUP_SWING = 0.2  # share of the hold-up that goes with the liquid rate
_HOLDUP_RAMP = 0.05  # half-width of the ramp that starts overflow, relative to the hold-up
_HEAD_DRAIN = 1.0  # s: liquid that condenses in the head runs back in this time
_USUAL_DRIVE = 25.0  # K: bath above pot in ordinary work, TRADE of the bench, from memory
_USUAL_LATENT_HEAT = 35e3  # J/mol: for the nominal liquid rate alone, from memory
_CONDENSER_RAMP = 0.02  # half-width of the ramp where the condenser is full, relative to its duty
_SLOWEST, _FASTEST = 5.0, 0.2  # s: bounds of the time in which a plate overflows
_WETTING = 2.0 / 3.0  # where the flask is not known: the surface of bodies of one shape
_QUICKEST_THERMOMETER = 0.05  # s
_PROGRAMMES_KEPT = 32


class RigArrays(NamedTuple):
    """S = plates + 2 stages, pot first, head last.

    Args:
        glass: (S,) heat capacity of the glass [J/K].
        loss: (S,) heat loss to the room [W/K].
        extra_pressure: (S,) pressure above that of the programme, now [Pa].
        extra_start: (S,) the same at the start of a step [Pa].
        extra_trend: (S,) its rate of change in a step [Pa/s].
        drops: (2, S) rate of change of the pressure drop over each stage, and that drop [Pa/s, Pa].
        carried: (S,) liquid that a mole of vapour carries up [-].
        drain: (S,) share of its usual rate at which liquid runs down [-].
        trap: (2,) 1 where a decanting trap stands and 1 once it is full [-].
        returned: (C,) share of each component that a full trap returns [-].
        overflow_start: (S,) volume at which liquid begins to run down [m3].
        overflow_ramp: (S,) half-width of the ramp of overflow [m3].
        overflow_time: (S,) time constant of overflow [s]; not read for the pot.
        vapour_rate: (S,) vapour per relative overpressure [mol/s].
        ramp: half-width of the ramp of boiling, relative [-].
        centre: by how much the ramp is moved, relative [-].
        vanishing: amount at which a stage has half its vapour rate [mol].
        film: liquid on each stage above the pot at the start [mol].
        room: [K].
        bath_conductance: [W/K] at `fill`.
        fill: [m3].
        wetting: exponent of the volume that the wetted wall goes with [-].
        dry: volume below which the bath no longer reaches the liquid [m3].
        condenser_limit: [W].
        condenser_ramp: relative half-width [-].
        coolant: [K].
        lag: [s].
        drop: pressure drop over a plate at its working load [Pa].
        largest_load: vapour at which the column floods at 101325 Pa [mol/s]; 0: never.
        carried_least: liquid carried up at small load, for plates that are not whole [-].
        worse: liquid carried up at the largest load, above that [-].
        pump_speed: [m3/s]; 0: the pressure is that of the programme whatever passes.
        diluent: what does not distil, in the pot [mol].
        diluent_volume: its volume [m3].
        steam: number of the component that is fed as vapour, as a float [-].
        steam_enthalpy: of that vapour [`ENTHALPY_UNIT`/mol].
    """

    glass: Floats
    loss: Floats
    extra_pressure: Floats
    extra_start: Floats
    extra_trend: Floats
    drops: Floats
    carried: Floats
    drain: Floats
    trap: Floats
    returned: Floats
    overflow_start: Floats
    overflow_ramp: Floats
    overflow_time: Floats
    vapour_rate: Floats
    ramp: float
    centre: float
    vanishing: float
    film: float
    room: float
    bath_conductance: float
    fill: float
    wetting: float
    dry: float
    condenser_limit: float
    condenser_ramp: float
    coolant: float
    lag: float
    drop: float
    largest_load: float
    carried_least: float
    worse: float
    pump_speed: float
    diluent: float
    diluent_volume: float
    steam: float
    steam_enthalpy: float


RIG_TYPE = record(
    RigArrays,
    *("S",) * 5,
    *("2 S", "S", "S", "2", "C", "S", "S", "S", "S"),
    *(float64,) * 22,
)


def volumes_at(temperature: float, molar_volume: Floats) -> Floats:
    """Return molar volumes of the liquids.

    Args:
        temperature: [K].
        molar_volume: (C, 3) coefficients as in `LiquidArrays`.

    Returns:
        (C,) molar volumes [m3/mol].

    Source: quadratics fitted to cited data by the substances room; valid between melting and
    boiling point.
    """
    t = temperature - 293.15
    return np.asarray(molar_volume @ np.array([1.0, t, t * t]), dtype=np.float64)


def rig_arrays(given: StillInput) -> RigArrays:
    """Return the rig of a run as arrays.

    Args:
        given: the run.

    Returns:
        Its arrays.
    """
    plates = given.plates
    stages = plates + 2
    charge = sum(given.charge_mol.tolist())
    volumes = volumes_at(given.charge_temperature_K, given.liquids.molar_volume)
    charge_m3 = float(given.charge_mol @ volumes)

    def along(pot: float, column: float, head: float) -> Floats:
        share = column / plates if plates else 0.0
        # without plates the neck below the head still has what the column was said to have
        return np.array([pot, *[share] * plates, head if plates else head + column])

    least = _LEAST_HOLDUP * charge_m3
    holdup = max(given.holdup_m3 / plates, least) if plates else least
    rate = _usual_liquid_rate(given) * charge_m3 / charge
    time = min(max(_HOLDUP_SWING * holdup / rate, _FASTEST), _SLOWEST) if rate > 0 else _SLOWEST
    start = holdup * (1.0 - _HOLDUP_RAMP) - min(rate * time, _HOLDUP_SWING * holdup)
    drops = _drops(given, stages)
    above = _above(drops)
    fill = given.bath_reference_m3 or charge_m3
    return RigArrays(
        glass=along(
            given.pot_glass_J_K + given.diluent_J_K, given.column_glass_J_K, given.head_glass_J_K
        ),
        loss=along(given.pot_loss_W_K, given.column_loss_W_K, given.head_loss_W_K),
        extra_pressure=above,
        extra_start=above.copy(),
        extra_trend=np.zeros(stages),
        drops=drops,
        carried=np.array([0.0, *[given.carried] * plates, 0.0]),
        drain=np.ones(stages),
        trap=np.array([0.0 if given.trap is None else 1.0, 0.0]),
        returned=np.zeros(given.charge_mol.size) if given.trap is None else given.trap.returned,
        overflow_start=np.array([0.0, *[start] * plates, 0.0]),
        overflow_ramp=np.array([1.0, *[_HOLDUP_RAMP * holdup] * plates, 0.5 * least]),
        overflow_time=np.array([1.0, *[time] * plates, _HEAD_DRAIN]),
        vapour_rate=np.array(
            [_VAPOUR_RATE * charge] * (stages - 1) + [_EASY * _VAPOUR_RATE * charge]
        ),
        ramp=_OVERPRESSURE,
        centre=_CENTRE * _OVERPRESSURE,
        vanishing=_VANISHING * charge,
        film=_FILM * charge,
        room=given.room_temperature_K,
        bath_conductance=given.bath_conductance_W_K,
        fill=fill,
        wetting=_wetting(given, fill),
        dry=1e-3 * charge_m3,
        condenser_limit=given.condenser_limit_W,
        condenser_ramp=_CONDENSER_RAMP,
        coolant=given.coolant_temperature_K,
        lag=max(given.thermometer_lag_s, _QUICKEST_THERMOMETER),
        drop=given.pressure_drop_Pa,
        largest_load=0.0
        if math.isinf(given.largest_load_m3_s)
        else given.largest_load_m3_s * charge / charge_m3,
        carried_least=given.carried,
        worse=given.carried_at_largest,
        pump_speed=given.pump_speed_m3_s,
        diluent=given.diluent_mol,
        diluent_volume=given.diluent_m3,
        steam=float(given.steam_component),
        steam_enthalpy=_steam_enthalpy(given),
    )


def own_rig(rig: RigArrays) -> RigArrays:
    """Return a rig with arrays of its own where a run writes into them.

    Args:
        rig: from `rig_arrays`.

    Returns:
        The same numbers; all else is shared.
    """
    return rig._replace(
        extra_pressure=rig.extra_pressure.copy(),
        extra_start=rig.extra_start.copy(),
        extra_trend=rig.extra_trend.copy(),
        drops=rig.drops.copy(),
        carried=rig.carried.copy(),
        drain=rig.drain.copy(),
        trap=rig.trap.copy(),
    )


def _wetting(given: StillInput, fill: float) -> float:
    """Return the exponent of the volume that the wetted wall goes with [-]."""
    if given.flask_m3 is None or fill >= given.flask_m3:
        return _WETTING
    return wetting_exponent(given.flask_m3, fill)


def _drops(given: StillInput, stages: int) -> Floats:
    """Return rate of change and pressure drop over each stage at the start."""
    drops = np.zeros((2, stages))
    if math.isinf(given.largest_load_m3_s):
        drops[1, 1:-1] = given.pressure_drop_Pa
    return drops


def _above(drops: Floats) -> Floats:
    """Return the pressure on each stage above that of the programme: the drops higher up."""
    down = list(itertools.accumulate(drops[1, ::-1].tolist()))[::-1]
    return np.array([*down[1:], down[-1]])


def _steam_enthalpy(given: StillInput) -> float:
    """Return the enthalpy of the vapour that is fed; Watson (1943) for its latent heat."""
    i, temperature = given.steam_component, given.steam_temperature_K
    c0, c1 = given.liquids.heat_capacity[i].tolist()
    value, reference, critical, exponent = given.liquids.latent_heat[i].tolist()
    t = temperature - REFERENCE_TEMPERATURE
    latent = value * (max(critical - temperature, 0.0) / (critical - reference)) ** exponent
    steam: float = (t * (c0 + 0.5 * c1 * t) + latent) / ENTHALPY_UNIT
    return steam


def _usual_liquid_rate(given: StillInput) -> float:
    """Return the liquid rate [mol/s] for which the hold-up is as stated: of ordinary boiling."""
    heat = given.bath_conductance_W_K * _USUAL_DRIVE
    ratios: list[float] = given.reflux_ratio[:, 1].tolist()
    reflux = sum(1.0 - 1.0 / (1.0 + ratio) for ratio in ratios) / len(ratios)
    return heat / _USUAL_LATENT_HEAT * max(reflux, 0.1)


def programme_segments(given: StillInput) -> tuple[Floats, Floats, Floats]:
    """Return the programmes cut at every knot, receivers changed by the clock included.

    Args:
        given: the run.

    Returns:
        times (G + 1,) [s], from 0 to the end; start (G, 4) bath [K], pressure [Pa], reflux
        fraction [-] and vapour fed [mol/s] at the beginning of each segment; slope (G, 4) per
        second.

    Not a published model: an arrangement of the sheet's programmes.

    Raises:
        BadInput: a programme whose times fall, or with values that mean nothing.
    """
    programmes = (
        _programme("programme.bath", given.bath_temperature),
        _programme("programme.pressure", given.pressure),
        _programme("programme.reflux_ratio", given.reflux_ratio),
        _programme("programme.steam", given.steam),
    )
    clock = tuple([float(s.time_s) for s in given.switches if s.time_s is not None])
    times = _knots((*[at for at, _ in programmes], clock), float(given.stop.time_s))
    parts = [_segments(programme, times) for programme in programmes]
    start, slope = (np.array([part[k] for part in parts]).T.copy() for k in (0, 1))
    return np.array(times), start, slope


@lru_cache(maxsize=_PROGRAMMES_KEPT)
def _knots(courses: tuple[tuple[float, ...], ...], end: float) -> tuple[float, ...]:
    """Return the times at which something bends, from 0 to the end."""
    within = {t for times in courses for t in times if 0.0 < t < end}
    return tuple(sorted({0.0, end} | within))


def _programme(field: str, programme: Floats) -> Programme:
    """Return a programme that was looked at, the reflux as a fraction."""
    return _looked_at(field, programme.astype(np.float64).tobytes(), programme.shape)


@lru_cache(maxsize=_PROGRAMMES_KEPT)
def _looked_at(field: str, raw: bytes, shape: tuple[int, ...]) -> Programme:
    times, values = np.frombuffer(raw).reshape(shape).T.tolist()
    if not all(map(math.isfinite, times)) or any(b < a for a, b in itertools.pairwise(times)):
        raise BadInput(field, times, "times that rise")
    lowest = -1e-300 if field.endswith(("reflux_ratio", "steam")) else 0.0
    if not all(value > lowest for value in values):  # false for not-a-number, too
        raise BadInput(field, values, "values above zero")
    if field.endswith("reflux_ratio"):
        values = [1.0 - 1.0 / (1.0 + ratio) for ratio in values]
    return tuple(times), tuple(values)


@lru_cache(maxsize=_PROGRAMMES_KEPT)
def _segments(
    programme: Programme, times: tuple[float, ...]
) -> tuple[tuple[float, ...], tuple[float, ...]]:
    """Return value and slope of a programme at the beginning of each segment.

    Members of an ensemble differ in the pressure alone, so the others are kept.
    """
    start, slope = [], []
    for t0, t1 in itertools.pairwise(times):
        # a step at a knot belongs to the segment after it
        first, last = _value(programme, t0, after=True), _value(programme, t1, after=False)
        start.append(first)
        slope.append((last - first) / (t1 - t0))
    return tuple(start), tuple(slope)


def _value(programme: Programme, time: float, *, after: bool) -> float:
    times, values = programme
    i = bisect_right(times, time) if after else bisect_left(times, time)
    if i == 0:
        return values[0]
    if i == len(times):
        return values[-1]
    share = (time - times[i - 1]) / (times[i] - times[i - 1])
    return values[i - 1] + share * (values[i] - values[i - 1])
