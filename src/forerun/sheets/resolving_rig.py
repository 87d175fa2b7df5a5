"""The rig of a sheet: what is stated, the drawer for the rest."""

from __future__ import annotations

import math
from dataclasses import dataclass

from forerun.core.errors import BadInput
from forerun.core.quantities import (
    format_number,
    format_pressure,
    format_volume,
)
from forerun.glassware import baths, columns, condensers, flasks, heads
from forerun.glassware.drawer import Item, Span, find_item, item, span
from forerun.sheets.filling import Filler, drawer_origin
from forerun.sheets.form import RigForm
from forerun.sheets.model import Rig, Setting

__all__ = ["resolve_rig"]

_ROOM = 293.15  # K
_COOLANT = 288.15  # K, tap water
_DEFAULT_BATH = "silicone oil"
_DEFAULT_CONDENSER = "straight jacket"
_DEFAULT_THERMOMETER = "glass thermometer"
_DEFAULT_LAGGING = "bare"
_FEW_HOLDUPS = 10.0  # a charge below ten hold-ups loses too much on the column


@dataclass(frozen=True, slots=True)
class _Glass:
    """The items that the rig names."""

    column: Item | None
    lagging: Item
    bath: Item
    condenser: Item
    thermometer: Item


def resolve_rig(form: RigForm, charge_m3: float, vacuum: bool, filler: Filler) -> Rig:
    """Return the rig with every number filled in.

    Args:
        form: as written.
        charge_m3: volume of the charge at 20 °C [m3].
        vacuum: whether the run is under reduced pressure: then a flask is at most half full.
        filler: collects defaults and warnings.

    Returns:
        The rig.

    Raises:
        BadInput: an item that the drawer does not hold, or a flask too small for its charge.
    """
    glass = _find_glass(form, filler)
    flask = _flask(form, charge_m3, vacuum, filler)
    plates = _plates(form, glass.column, filler)
    holdup = _holdup(form, glass.column, plates.value, filler)
    _check_holdup(holdup, charge_m3, filler)
    room = filler.setting("rig.room", form.room, _ROOM, "20 °C", "common practice, no source", 1.0)
    return Rig(
        flask_volume_m3=flask,
        column=glass.column.label if glass.column else "none",
        plates=plates,
        holdup_m3=holdup,
        heat_loss_W_K=_loss(form, glass, filler),
        flask_loss_W_K=_from_drawer(flasks.flask_loss(flask.value, charge_m3), "bare flask"),
        heat_transfer_W_K=_heat_transfer(form, glass.bath, flask.value, charge_m3, filler),
        glass_heat_capacity_J_K=_from_drawer(flasks.flask_heat_capacity(flask.value), "flask"),
        column_heat_capacity_J_K=_column_heat(glass.column),
        neck_heat_capacity_J_K=_from_drawer(columns.neck_heat_capacity(), "still head"),
        neck_loss_share=_neck_share(glass, plates.value),
        bath=glass.bath.name,
        bath_limit_K=baths.bath_limit(glass.bath),
        condenser=glass.condenser.label,
        condenser_W_K=_from_drawer(
            condensers.condenser_transfer(glass.condenser), glass.condenser.label
        ),
        coolant_temperature_K=_coolant(form, glass.condenser, room, filler),
        pressure_drop_Pa=_pressure_drop(glass.column, plates.value, filler),
        thermometer_lag_s=_from_drawer(
            heads.thermometer_lag(glass.thermometer), glass.thermometer.name
        ),
        thermometer_offset_K=_offset(form, glass.thermometer, filler),
        room_temperature_K=room,
        passport=form.passport or "",
        pump=find_item(form.pump, "pump", "rig.pump").name if form.pump else "",
        largest_load_m3_s=_largest_load(glass.column),
        carried_at_largest=columns.carried_at_largest(glass.column).typical
        if glass.column
        else 0.0,
    )


def _from_drawer(value: Span, what: str) -> Setting:
    return Setting(value.typical, value.sigma, False, "", drawer_origin(value, what))


def _find_glass(form: RigForm, filler: Filler) -> _Glass:
    def chosen(text: str | None, kind: str, key: str, default: str) -> Item:
        if text is not None:
            return find_item(text, kind, f"rig.{key}")
        found = item(kind, default)
        filler.note(f"rig.{key}", f'"{found.label}"', "common practice, no source")
        return found

    column = None
    if form.column is not None:
        column = columns.find_column(form.column, "rig.column")
    elif form.plates is None:
        filler.note("rig.column", '"none"', "a simple still")
    glass = _Glass(
        column=column,
        lagging=chosen(form.lagging, "lagging", "lagging", _DEFAULT_LAGGING)
        if form.heat_loss is None or form.lagging is not None
        else item("lagging", _DEFAULT_LAGGING),
        bath=chosen(form.bath, "bath", "bath", _DEFAULT_BATH),
        condenser=chosen(form.condenser, "condenser", "condenser", _DEFAULT_CONDENSER),
        thermometer=chosen(form.thermometer, "thermometer", "thermometer", _DEFAULT_THERMOMETER),
    )
    for thing in (glass.column, glass.bath):
        if thing is not None and thing.caution:
            filler.warnings.append(f"{thing.caution[0].upper()}{thing.caution[1:]}.")
    return glass


def _flask(form: RigForm, charge: float, vacuum: bool, filler: Filler) -> Setting:
    fill = span("flask", "fill_share")
    best = flasks.smallest_flask(charge, fill.typical)
    text = f"{1e6 * best:g} mL"
    if form.flask is None:
        if charge > fill.high * best:
            raise BadInput(
                "charge", format_volume(charge), f"at most two thirds of a flask of {text}"
            )
        origin = "the smallest usual flask that the charge fills at most to half"
        return filler.setting("rig.flask", None, best, text, origin)
    flask = form.flask.value
    if flask < charge:
        accepted = f'more than the charge of {format_volume(charge)}, such as "{text}"'
        raise BadInput("rig.flask", form.flask.text, accepted)
    highest = fill.typical if vacuum else fill.high
    if charge > highest * flask * (1.0 + 1e-9):
        share = format_number(100.0 * charge / flask, 0)
        limit = "half under reduced pressure" if vacuum else "two thirds"
        filler.warnings.append(
            f"The charge fills {share} % of the flask; common practice is at most {limit}: "
            f"take {text}."
        )
    return Setting(flask, form.flask.sigma, True, form.flask.text)


def _plates(form: RigForm, column: Item | None, filler: Filler) -> Setting:
    if form.plates is not None:
        return Setting(form.plates.value, form.plates.sigma, True, form.plates.text)
    if column is None:
        return Setting(0.0, 0.0, True, "0", "a simple still has the pot alone")
    found = columns.column_plates(column)
    origin = drawer_origin(
        found, f"{column.label}, {100 * column.spans['hetp_m'].typical:.3g} cm of it per plate"
    )
    text = format_number(found.typical, 1)
    return filler.setting("rig.plates", None, found.typical, text, origin, found.sigma)


def _holdup(form: RigForm, column: Item | None, plates: float, filler: Filler) -> Setting:
    if form.holdup is not None:
        return Setting(form.holdup.value, form.holdup.sigma, True, form.holdup.text)
    if plates == 0.0:
        return Setting(0.0, 0.0, True, "0 mL", "no plates hold liquid")
    kind = column or item("column", "Vigreux")
    found = columns.column_holdup(kind, plates)
    many = format_number(plates, 1)
    origin = drawer_origin(found, f"that of a {kind.name} column of {many} plates")
    text = format_volume(found.typical)
    return filler.setting("rig.holdup", None, found.typical, text, origin, found.sigma)


def _check_holdup(holdup: Setting, charge: float, filler: Filler) -> None:
    if holdup.value > 0.0 and charge < _FEW_HOLDUPS * holdup.value:
        filler.warnings.append(
            f"The column holds {format_volume(holdup.value)} of a charge of "
            f"{format_volume(charge)}; common practice asks for ten times the hold-up at least."
        )


def _tube(glass: _Glass, plates: float) -> Item | None:
    """Return the column whose surface loses heat; plates without a name count as Vigreux."""
    if glass.column is not None or plates == 0.0:
        return glass.column
    return item("column", "Vigreux")


def _loss(form: RigForm, glass: _Glass, filler: Filler) -> Setting:
    if form.heat_loss is not None:
        return Setting(form.heat_loss.value, form.heat_loss.sigma, True, form.heat_loss.text)
    plates = form.plates.value if form.plates is not None else 0.0
    neck = columns.neck_loss(glass.lagging)
    tube = _tube(glass, plates)
    value, sigma = neck.typical, neck.sigma
    if tube is not None:
        shell = columns.column_loss(tube, glass.lagging)
        value, sigma = value + shell.typical, sigma + shell.sigma
    what = f"{glass.lagging.name} glass, still head" + (f" and {tube.label}" if tube else "")
    text = f"{format_number(value, 2)} W/K"
    return filler.setting("rig.heat_loss", None, value, text, drawer_origin(neck, what), sigma)


def _neck_share(glass: _Glass, plates: float) -> float:
    tube = _tube(glass, plates)
    if tube is None or plates == 0.0:
        return 1.0
    neck = columns.neck_loss(glass.lagging).typical
    return neck / (neck + columns.column_loss(tube, glass.lagging).typical)


def _heat_transfer(
    form: RigForm, bath: Item, flask: float, charge: float, filler: Filler
) -> Setting:
    given = form.heat_transfer
    found = flasks.pot_transfer(flask, charge, bath)
    origin = drawer_origin(found, f"{bath.name} level with the charge")
    text = f"{format_number(found.typical, 2)} W/K"
    return filler.setting("rig.heat_transfer", given, found.typical, text, origin, found.sigma)


def _column_heat(column: Item | None) -> Setting:
    if column is None:
        column = item("column", "Vigreux")
    return _from_drawer(columns.column_heat_capacity(column), column.label)


def _coolant(form: RigForm, condenser: Item, room: Setting, filler: Filler) -> Setting:
    if not condenser.uses_coolant:
        if form.coolant is not None:
            filler.warnings.append("An air condenser has no coolant: rig.coolant plays no part.")
        return Setting(room.value, room.sigma, False, room.text, "the room cools it")
    text = "15 °C"
    return filler.setting(
        "rig.coolant", form.coolant, _COOLANT, text, "tap water, common practice, no source", 2.0
    )


def _pressure_drop(column: Item | None, plates: float, filler: Filler) -> Setting:
    if plates == 0.0:
        return Setting(0.0, 0.0, True, "0 mbar", "a simple still has no column")
    kind = column or item("column", "Vigreux")
    found = columns.column_pressure_drop(kind, plates)
    text = format_pressure(found.typical, "mbar")
    origin = drawer_origin(found, f"{kind.name}, {format_number(plates, 1)} plates")
    filler.note("pressure drop", text, origin)
    return Setting(found.typical, found.sigma, False, text, origin)


def _largest_load(column: Item | None) -> float:
    """Return the load at which a named column floods; plates of an unknown column never do."""
    return math.inf if column is None else columns.highest_boilup(column).typical


def _offset(form: RigForm, thermometer: Item, filler: Filler) -> Setting:
    error = heads.thermometer_error(thermometer)
    if form.thermometer_offset is not None:
        given = form.thermometer_offset
        return Setting(given.value, given.sigma, True, given.text)
    text = f"0 ± {error:g} K"
    return filler.setting(
        "rig.thermometer_offset", None, 0.0, text, f"{thermometer.name}, from memory", error
    )
