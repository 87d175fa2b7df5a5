"""Gates that look at the apparatus: a way out, solid in the condenser, vacuum glass, scale."""

from __future__ import annotations

from forerun.core.quantities import format_pressure, format_temperature, format_volume
from forerun.planning.gates_model import Gate, GateCase, Verdict
from forerun.sheets.resolving_programme import is_vacuum

__all__ = ["scale", "solid_plug", "vacuum_glass", "vent_path"]

_PLUG_MARGIN = 5.0  # K between melting point and coolant
_HARDLY = 0.05  # mole fraction in what drips, below which nothing can set in the condenser
_FIRST_RUN = 1.0e-4  # m3; more than this is not for a first run
_WHOLE = 5.0  # K, for temperatures without decimals
_ATMOSPHERE = 1.05e5  # Pa; above it the apparatus would be under pressure


def vent_path(case: GateCase) -> Gate:
    """Return whether vapour has a way out of the apparatus.

    Args:
        case: what the gates look at.
    """
    vent = case.sheet.safety.vent
    highest = max(value for _, value in case.sheet.programme.pressure_Pa.points)
    vacuum = is_vacuum(case.sheet.programme.pressure_Pa)
    if vent == "closed":
        found = Verdict("stop", "A closed apparatus bursts when it is heated; open a way out.")
    elif highest > _ATMOSPHERE:
        words = (
            f"{format_pressure(highest, 'mbar')} is above the atmosphere: glass of the bench is "
            "not made to hold pressure."
        )
        found = Verdict("stop", words)
    elif not vent:
        words = (
            "The sheet does not say what the apparatus is open to: follow the path from pot to "
            f"{'pump' if vacuum else 'room'} with a finger, every tap open, before heating."
        )
        found = Verdict("warn", words, "safety.vent")
    elif vent == "pump" and not vacuum:
        words = (
            "It is said to be open to a pump alone, at the pressure of the room: say what lets "
            "air out."
        )
        found = Verdict("warn", words, "safety.vent")
    else:
        words = f"Stated as open to: {vent}."
        if vent == "drying tube":
            words += " A caked filling closes it: blow through it first."
        found = Verdict("pass", words)
    return Gate(
        "vent_path",
        found.state,
        found.says,
        {"vent": vent, "highest_pressure_Pa": highest},
        "never heat a closed system",
        ("prudent2011",),
        found.settle,
    )


def solid_plug(case: GateCase) -> Gate:
    """Return whether something can freeze in the condenser.

    Args:
        case: what the gates look at.
    """
    coolant = case.sheet.rig.coolant_temperature_K.value
    melting = {
        s.name: s.melting_point.value for s in case.substances if s.melting_point is not None
    }
    unknown = [s.name for s in case.substances if s.melting_point is None]
    cold = {name: t for name, t in melting.items() if t > coolant - _PLUG_MARGIN}
    peak = case.peak_share
    shares = dict(zip(case.sheet.names, peak, strict=True)) if peak is not None else {}
    setting = {n: t for n, t in cold.items() if peak is None or shares[n] > _HARDLY}
    highest = max(melting, key=lambda n: melting[n]) if melting else ""
    words = ", ".join(f"{n} melts at {format_temperature(t)}" for n, t in (setting or cold).items())
    at = f"the coolant is at {format_temperature(coolant, _WHOLE)}"
    if setting:
        warm = max(setting.values()) + _PLUG_MARGIN
        found = Verdict(
            "stop",
            f"{words}, {at}: it can plug the condenser and close the apparatus. Coolant at "
            f"{format_temperature(warm, _WHOLE)} or warmer.",
            "rig.coolant",
        )
    elif cold:
        found = Verdict(
            "warn",
            f"{words}, {at}; less than {100 * _HARDLY:g} mol% of it is expected in what comes "
            "over, so it should stay dissolved: watch the condenser.",
        )
    elif unknown:
        words = f"No melting point is on file for {', '.join(unknown)}: look at the condenser."
        found = Verdict("warn", words)
    else:
        found = Verdict(
            "pass",
            f"The highest melting point is that of {highest}, "
            f"{format_temperature(melting[highest])}; {at}.",
        )
    return Gate(
        "solid_plug",
        found.state,
        found.says,
        {
            "coolant_K": coolant,
            "melting_K": max((setting or cold or melting).values(), default=None),
            "margin_K": _PLUG_MARGIN,
        },
        "coolant at least 5 K above every melting point",
        ("practice",),
        found.settle,
    )


def vacuum_glass(case: GateCase) -> Gate:
    """Return whether the glass may be put under vacuum.

    Args:
        case: what the gates look at.
    """
    safety = case.sheet.safety
    lowest = case.lowest_pressure
    if not is_vacuum(case.sheet.programme.pressure_Pa):
        found = Verdict("pass", f"No vacuum: {format_pressure(lowest)} at the least.")
    elif safety.glass in ("starred", "flat"):
        words = (
            f"{safety.glass.capitalize()} glass under vacuum can implode: take round, rated, "
            "unmarked glass."
        )
        found = Verdict("stop", words)
    elif safety.glass == "checked" and safety.shield:
        found = Verdict("pass", "Glass stated as checked, a shield stands before it.")
    else:
        missing = [
            key
            for key, known in (("glass", safety.glass == "checked"), ("shield", safety.shield))
            if not known
        ]
        words = (
            "Confirm that every vessel is round, rated and free of stars, and that a shield "
            "stands before it."
        )
        found = Verdict("warn", words, " and ".join(f"safety.{key}" for key in missing))
    return Gate(
        "vacuum_glass",
        found.state,
        found.says,
        {"lowest_pressure_Pa": lowest, "glass": safety.glass, "shield": _yes_no(safety.shield)},
        "round, rated glass without stars, behind a shield",
        ("prudent2011",),
        found.settle,
    )


def scale(case: GateCase) -> Gate:
    """Return whether the amount, or leaving it alone, needs somebody's word.

    Args:
        case: what the gates look at.
    """
    safety, charge = case.sheet.safety, case.sheet.charge_volume_m3
    causes, settle = [], ""
    if safety.scale_limit_m3 is not None and charge > safety.scale_limit_m3:
        limit = format_volume(safety.scale_limit_m3)
        causes.append(f"{format_volume(charge)} is above the local limit of {limit}")
    if charge > _FIRST_RUN and safety.first_run is not False:
        stated = "a first run" if safety.first_run else "taken as a first run"
        settle = "" if safety.first_run else "safety.first_run"
        causes.append(
            f"{format_volume(charge)}, {stated}, is more than {format_volume(_FIRST_RUN)}"
        )
    if safety.attended is False:
        causes.append("nobody stays with it")
    words = "; ".join(causes)
    return Gate(
        "scale",
        "warn" if causes else "pass",
        f"{words[:1].upper()}{words[1:]}: somebody in charge signs for it."
        if causes
        else f"{format_volume(charge)} in the flask.",
        {"charge_m3": charge, "limit_m3": safety.scale_limit_m3},
        "signature above the local limit, for a first run above 100 mL, and for leaving it alone",
        ("practice",),
        settle,
    )


def _yes_no(flag: bool | None) -> str:
    return "not stated" if flag is None else ("yes" if flag else "no")
