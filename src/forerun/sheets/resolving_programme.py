"""The programme of a sheet: pressure, bath and reflux against time, and what ends the run."""

from __future__ import annotations

from forerun.core.errors import BadInput
from forerun.core.quantities import format_temperature, format_time, format_volume
from forerun.sheets.fields import CourseGiven
from forerun.sheets.filling import Filler
from forerun.sheets.form import ProgrammeForm, StopForm, SwitchForm
from forerun.sheets.model import Course, Portion, Programme, Rig, Stop, Switch
from forerun.substances.correlations import boiling_temperature

__all__ = ["bath_ceiling", "is_vacuum", "pressure_course", "resolve_programme", "resolve_switches"]

ATMOSPHERE = 101325.0  # Pa
_WEATHER = 1000.0  # Pa, one standard deviation of the barometer at one place, from memory
_GAUGE = 133.322  # Pa, one millimetre of mercury
_GAUGE_SHARE = 0.003  # of the reading, at the least
_GAUGE_LOW_SHARE = 0.05  # of the reading, at the most, where a millimetre would be more
_VACUUM = 5.0e4  # Pa; below it a run counts as under reduced pressure

_WARM_UP = 1200.0  # s, to the first bath temperature of the default programme
_RAMP = 7200.0  # s, from there to the last
_BATH_ABOVE = 25.0  # K over the pot: the middle of the customary 20 to 30 K
_BELOW_IGNITION = 25.0  # K between a bath of our own choosing and any autoignition temperature
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
    bath = _bath(form.bath, charge, rig, pressure, filler)
    hottest = max(value for _, value in bath.points)
    if hottest > rig.bath_limit_K:
        filler.warnings.append(
            f"The bath is to reach {format_temperature(hottest)}, above the usual limit of "
            f"{rig.bath} ({format_temperature(rig.bath_limit_K)})."
        )
    reflux = _reflux(form.reflux_ratio, filler)
    return Programme(pressure, bath, reflux, _stop(form.stop, charge, filler))


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
    filler: Filler,
) -> Course:
    if given is not None:
        return Course(given.points, given.sigma, True, given.text)
    last = pressure.points[-1][1]
    field = "programme.pressure"
    boiling = sorted(boiling_temperature(p.substance, last, field).temperature for p in charge)
    room = rig.room_temperature_K.value

    ceiling = bath_ceiling(charge, rig)

    def over(pot: float) -> float:
        carried = rig.heat_loss_W_K.value * (pot - room) / rig.heat_transfer_W_K.value
        return float(min(pot + _BATH_ABOVE + carried, ceiling))

    first, end = over(boiling[0]), over(boiling[-1])
    points = ((0.0, room), (_WARM_UP, first), (_WARM_UP + _RAMP, max(first, end)))
    text = (
        f"{format_temperature(first)} after {format_time(_WARM_UP)}, "
        f"{format_temperature(points[-1][1])} after {format_time(_WARM_UP + _RAMP)}"
    )
    filler.note(
        "programme.bath",
        text,
        f"25 K above the boiling points of the lightest and the heaviest component, more for "
        f"the heat that the glass loses, at most the limit of {rig.bath} and 25 K below any "
        "autoignition temperature",
    )
    return Course(points, 0.0, False, text)


def bath_ceiling(charge: tuple[Portion, ...], rig: Rig) -> float:
    """Return the hottest that a bath of our own choosing may be.

    Args:
        charge: the components.
        rig: the resolved rig.

    Returns:
        [K], the limit of the bath, or 25 K below the lowest autoignition temperature of a
        component.
    """
    lights = [
        ignition.value if ignition.lowest is None else ignition.lowest
        for ignition in (portion.substance.autoignition for portion in charge)
        if ignition is not None
    ]
    return float(min([rig.bath_limit_K, *(t - _BELOW_IGNITION for t in lights)]))


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
