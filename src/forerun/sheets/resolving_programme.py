"""The programme of a sheet: pressure, bath and reflux against time, and what ends the run."""

from __future__ import annotations

from forerun.core.errors import BadInput
from forerun.core.quantities import format_temperature, format_time, format_volume
from forerun.sheets.fields import CourseGiven
from forerun.sheets.filling import Filler
from forerun.sheets.form import ProgrammeForm, StopForm, SwitchForm
from forerun.sheets.heating import (
    MOST_ABOVE,
    bath_above,
    bath_ceiling,
    load_difference,
    losing,
    ramp_time,
    wetted_share,
)
from forerun.sheets.model import Course, Portion, Programme, Rig, Stop, Switch
from forerun.substances.correlations import boiling_temperature, vapour_pressure
from forerun.substances.model import Substance

__all__ = ["is_vacuum", "pressure_course", "resolve_programme", "resolve_switches"]

ATMOSPHERE = 101325.0  # Pa
_WEATHER = 1000.0  # Pa, one standard deviation of the barometer at one place, from memory
_GAUGE = 133.322  # Pa, one millimetre of mercury
_GAUGE_SHARE = 0.003  # of the reading, at the least
_GAUGE_LOW_SHARE = 0.05  # of the reading, at the most, where a millimetre would be more
_VACUUM = 5.0e4  # Pa; below it a run counts as under reduced pressure

_WARM_UP = 1200.0  # s, to the first bath temperature of the default programme
_LEAST_LEFT = 0.05  # of the charge: nobody heats for the last drop; a judgement, no source
_HARDLY = 15.0  # K that the bath may be short of at the end without a word; a judgement
_HALVINGS = 40
_FIELD = "programme.pressure"
_LONGEST = 8 * 3600.0  # s
_RESIDUE_SHARE = 0.10  # of the charge
_RESIDUE_SHARE_PEROXIDES = 0.20


def is_vacuum(pressure: Course) -> bool:
    """Tell whether a run is under reduced pressure.

    Args:
        pressure: against time [Pa].
    """
    return min(value for _, value in pressure.points) < _VACUUM


def pressure_course(form: ProgrammeForm, filler: Filler) -> Course:
    """Return the pressure against time.

    Args:
        form: as written.
        filler: collects defaults.
    """
    given = form.pressure
    if given is None:
        origin = "sea level; the barometer of the day may differ by 20 mmHg, altitude by more"
        filler.note("programme.pressure", '"760 mmHg"', origin)
        return Course(((0.0, ATMOSPHERE),), _WEATHER, False, "760 mmHg")
    lowest = min(value for _, value in given.points)
    usual = max(_GAUGE_SHARE * lowest, min(_GAUGE, _GAUGE_LOW_SHARE * lowest))
    return Course(given.points, given.sigma or usual, True, given.text)


def resolve_programme(
    form: ProgrammeForm, charge: tuple[Portion, ...], rig: Rig, pressure: Course, filler: Filler
) -> Programme:
    """Return the programme with every course filled in.

    Args:
        form: as written.
        charge: the components.
        rig: the resolved rig.
        pressure: from `pressure_course`.
        filler: collects defaults and warnings.

    Raises:
        BadInput: a stop that leaves nothing to distil.
    """
    stop = _stop(form.stop, charge, filler)
    reflux = _reflux(form.reflux_ratio, filler)
    strongest = max(value for _, value in reflux.points)
    bath, held_back = _bath(form.bath, charge, rig, pressure, stop, strongest, filler)
    hottest = max(value for _, value in bath.points)
    if hottest > rig.bath_limit_K:
        filler.warnings.append(
            f"The bath is to reach {format_temperature(hottest)}, above the usual limit of "
            f"{rig.bath} ({format_temperature(rig.bath_limit_K)})."
        )
    return Programme(pressure, bath, reflux, stop, held_back)


def _reflux(given: CourseGiven | None, filler: Filler) -> Course:
    if given is not None:
        return Course(given.points, 0.0, True, given.text)
    filler.note("programme.reflux_ratio", "0", "all condensate is taken off")
    return Course(((0.0, 0.0),), 0.0, False, "0")


def _bath(
    given: CourseGiven | None,
    charge: tuple[Portion, ...],
    rig: Rig,
    pressure: Course,
    stop: Stop,
    reflux: float,
    filler: Filler,
) -> tuple[Course, str]:
    if given is not None:
        return Course(given.points, given.sigma, True, given.text), ""
    in_pot = pressure.points[-1][1] + rig.pressure_drop_Pa.value
    boiling = [boiling_temperature(p.substance, in_pot, _FIELD).temperature for p in charge]
    total = sum(p.volume_m3 for p in charge)
    floor = min(stop.residue_m3 or 0.0, total)
    left = _left_behind(charge, boiling, max(floor, _LEAST_LEFT * total))
    hottest = _ideal_boiling([p.substance for p in charge], left, in_pot)

    above = load_difference(charge, rig, min(boiling))
    wetted = wetted_share(rig, max(floor, _LEAST_LEFT * total), total)
    begins = bath_above(rig, min(boiling), above, 1.0)
    ends = max(begins, bath_above(rig, hottest, above, wetted))
    ceiling = min(bath_ceiling(charge, rig), hottest + MOST_ABOVE)
    comes_over = [1.0 - n / p.amount_mol.value for n, p in zip(left, charge, strict=True)]
    last_s = _WARM_UP + ramp_time(charge, comes_over, rig, above, reflux)
    points = (
        (0.0, rig.room_temperature_K.value),
        (_WARM_UP, min(begins, ceiling)),
        (last_s, min(ends, ceiling)),
    )
    text = (
        f"{format_temperature(points[1][1])} after {format_time(_WARM_UP)}, "
        f"{format_temperature(points[2][1])} after {format_time(last_s)}"
    )
    filler.note("programme.bath", text, _why_so_hot(rig, above))
    short = ends > ceiling + _HARDLY
    held_back = _held_back(charge, rig, hottest, ends, ceiling) if short else ""
    return Course(points, 0.0, False, text), held_back


def _why_so_hot(rig: Rig, above: float) -> str:
    return (
        f"{above:.0f} K above the pot and what the glass loses on top; climbing as the pot gets "
        "hotter and its liquid touches less wall, for the heat of what is to come over; at most "
        f"{MOST_ABOVE:.0f} K above the pot, the limit of {rig.bath}, and 25 K below any "
        "autoignition temperature"
    )


def _held_back(
    charge: tuple[Portion, ...], rig: Rig, pot: float, wanted: float, ceiling: float
) -> str:
    """Return why the default bath stays below what the distillation asks for."""
    if ceiling < bath_ceiling(charge, rig):
        why = (
            f"{MOST_ABOVE:.0f} K above the pot, for the glass loses {losing(rig, pot):.0f} W. "
            "Lag it before heating harder"
        )
    elif ceiling < rig.bath_limit_K:
        lights = [p for p in charge if p.substance.autoignition is not None]
        first = min(lights, key=lambda p: bath_ceiling((p,), rig)).substance.name
        why = (
            f"25 K below the autoignition temperature of {first}. Less pressure, or lagged glass, "
            "would need less"
        )
    else:
        why = f"the usual limit of {rig.bath}. Another bath, lagging or less pressure would help"
    return (
        f"To the end the bath would have to reach {format_temperature(wanted)}; it is held at "
        f"{format_temperature(ceiling)}, {why}."
    )


def _left_behind(charge: tuple[Portion, ...], boiling: list[float], volume: float) -> list[float]:
    """Return the moles in the pot when so much is left [mol].

    Derivation: what boils higher stays, so as a perfect column leaves it, which is the hottest
    that a pot gets.
    """
    left = [0.0] * len(charge)
    for k in sorted(range(len(charge)), key=lambda k: -boiling[k]):
        taken = min(charge[k].volume_m3, volume)
        left[k] = charge[k].amount_mol.value * taken / charge[k].volume_m3
        volume -= taken
    return left


def _ideal_boiling(substances: list[Substance], moles: list[float], pressure: float) -> float:
    """Return where an ideal mixture boils [K].

    Derivation: Raoult's law, solved for the temperature by halving between the boiling points of
    its components.
    """
    there = [(s, n) for s, n in zip(substances, moles, strict=True) if n > 0.0]
    total = sum(n for _, n in there)
    points = [boiling_temperature(s, pressure, _FIELD).temperature for s, _ in there]
    low, high = min(points), max(points)
    for _ in range(_HALVINGS):
        middle = 0.5 * (low + high)
        exerted = sum(n * vapour_pressure(middle, s.vapour_pressure) for s, n in there) / total
        low, high = (low, middle) if exerted > pressure else (middle, high)
    return high


def _stop(form: StopForm | None, charge: tuple[Portion, ...], filler: Filler) -> Stop:
    total = sum(portion.volume_m3 for portion in charge)
    given = form or StopForm()
    residue = given.residue.value if given.residue else None
    head = given.head.value if given.head else None
    time = given.time.value if given.time else None
    if residue is not None and given.residue and residue >= total:
        raise BadInput(
            "programme.stop.residue",
            given.residue.text,
            f"less than the charge of {format_volume(total)}",
        )
    if time is not None and time <= 0.0:
        raise BadInput("programme.stop.time", "0", 'a time above 0, such as "3 h"')
    if residue is None and head is None and time is None:
        formers = [p.substance.name for p in charge if p.substance.peroxide_class]
        share = _RESIDUE_SHARE_PEROXIDES if formers else _RESIDUE_SHARE
        residue = share * total
        why = f"{100 * share:.0f} % of the charge, never to dryness"
        if formers:
            why += f"; {', '.join(formers)} may form peroxides"
        filler.note("programme.stop.residue", format_volume(residue), why)
    if time is None:
        time = _LONGEST
        filler.note("programme.stop.time", format_time(time), "the run is followed no longer")
    return Stop(residue, time, head)


def resolve_switches(
    forms: list[SwitchForm], charge_m3: float, filler: Filler
) -> tuple[Switch, ...]:
    """Return when receivers are changed.

    Args:
        forms: as written, in order.
        charge_m3: volume of the charge at 20 °C [m3].
        filler: collects defaults and warnings.

    Raises:
        BadInput: not exactly one of head, volume and time.
    """
    if not forms:
        filler.note("switch", "none", "one receiver takes everything")
    switches = []
    for n, form in enumerate(forms, start=1):
        stated = {
            kind: quantity
            for kind in ("head", "volume", "time")
            if (quantity := getattr(form, kind)) is not None
        }
        if len(stated) != 1:
            written = " and ".join(stated) or "nothing"
            raise BadInput(f"switch[{n}]", written, "one of head, volume and time")
        ((kind, quantity),) = stated.items()
        if kind == "volume" and quantity.value >= charge_m3:
            filler.warnings.append(
                f"switch[{n}] waits for {quantity.text} of distillate, the charge is only "
                f"{format_volume(charge_m3)}."
            )
        switches.append(Switch(kind, quantity.value, quantity.text))
    return tuple(switches)
