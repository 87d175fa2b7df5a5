"""The pressures at which pump, condenser, bath and substance all agree, and what to change.

Every limit is a temperature turned into a pressure: for condenser and freezing with the vapour
pressure of the component that it concerns, for the bath with what is left in the pot when the
product is over.  The margins stand beside their names.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from forerun.equilibrium.mixture import Mixture
from forerun.glassware.drawer import find_item, item, item_names
from forerun.planning.pot_end import left_in_pot, pressure_to_boil_at
from forerun.sheets.heating import bath_ceiling
from forerun.sheets.model import RunSheet
from forerun.substances.catalogue import find
from forerun.substances.correlations import boiling_temperature, vapour_pressure
from forerun.substances.model import Substance

__all__ = [
    "BoilingBandPoint",
    "PressureLimit",
    "PressureWindow",
    "boiling_against_pressure",
    "pressure_window",
]

Floats = npt.NDArray[np.float64]

_ATMOSPHERE = 101325.0  # Pa
_ABOVE_COOLANT = 20.0  # K between coolant and boiling point, so that the vapour is caught
_ABOVE_MELTING = 5.0  # K between melting and boiling point, so that nothing sets in the head
_BATH_ABOVE_POT = 20.0  # K, the lower end of the customary 20 to 30 K; losses come on top
_DECOMPOSITION_MARGIN = 50.0  # K below the start of decomposition that the pot stays
_MUCH = 0.05  # mole fraction from which a component counts for pot and condenser
_DEFAULT_PUMP = "diaphragm"
_HOT = 423.15  # K, boiling points above are usually brought down
_PRESSURES = (
    133.322,
    266.645,
    666.612,
    1333.22,
    2666.45,
    6666.12,
    13332.2,
    26664.5,
    50662.5,
    101325.0,
)  # Pa; 1 to 760 mmHg
_FAR = 5.0  # K between a stated head and the last boiling point, from which on it is remarked
_MARGIN = 10.0  # K below the limit of bath or pot that is recommended


@dataclass(frozen=True, slots=True)
class PressureLimit:
    """One limit.

    Args:
        name: what limits.
        side: ``low``: not below this pressure; ``high``: not above it.
        pressure_Pa: [Pa]; infinite where it allows everything up to the atmosphere.
        temperature_K: the temperature behind it [K].
        item: the thing to change when it is in the way.
        says: in words.
    """

    name: str
    side: str
    pressure_Pa: float
    temperature_K: float
    item: str
    says: str


@dataclass(frozen=True, slots=True)
class BoilingBandPoint:
    """One pressure with the boiling point there.

    Args:
        pressure_Pa: [Pa].
        temperature_K: [K].
        band_K: 80 % band [K].
        state: ``ok``, ``extrapolated`` or ``solid``.
    """

    pressure_Pa: float
    temperature_K: float
    band_K: tuple[float, float]
    state: str


@dataclass(frozen=True, slots=True)
class PressureWindow:
    """All limits together.

    Args:
        low_Pa: highest of the low limits [Pa].
        high_Pa: lowest of the high limits [Pa], at most the atmosphere.
        limits: all of them, low ones first.
        wanted_Pa: what the sheet asks for [Pa].
        recommended_Pa: a pressure inside with room on both sides [Pa]; None when it is empty.
        changes: what opens an empty window, one sentence each.
        remarks: what else is seen, e.g. a stated head that belongs to another pressure.
        first: name of the component that boils first.
        last: name of the component that boils last.
        boiling: boiling point of the wanted component against pressure, with bands.
    """

    low_Pa: float
    high_Pa: float
    limits: tuple[PressureLimit, ...]
    wanted_Pa: float
    recommended_Pa: float | None
    changes: tuple[str, ...]
    remarks: tuple[str, ...]
    first: str
    last: str
    boiling: tuple[BoilingBandPoint, ...] = ()

    @property
    def empty(self) -> bool:
        """Whether no pressure fits."""
        return self.low_Pa > self.high_Pa

    def holds(self, pressure: float) -> bool:
        """Return whether a pressure [Pa] lies inside, weather allowed for."""
        return self.low_Pa <= pressure * 1.03 and pressure <= self.high_Pa * 1.03


@dataclass(frozen=True, slots=True)
class _Kit:
    """The things that set the limits."""

    pump: str
    bath: str
    bath_limit_K: float
    ignition_K: float  # hottest that a bath may be for the autoignition of the charge
    loss_share: float  # of the difference between pot and room that a bath stands higher for losses
    room_K: float
    condenser: str
    highest_vapour_K: float
    coolant_K: float
    drop_Pa: float
    mixture: Mixture
    pot: Floats


def pressure_window(
    sheet: RunSheet, wanted: int, recovery: float, mixture: Mixture
) -> PressureWindow:
    """Return the pressures at which the rig of a sheet can distil a component.

    Args:
        sheet: the run sheet.
        wanted: index of the wanted component.
        recovery: share of it that is to come over [-].
        mixture: the charge with its equilibrium.
    """
    kit = _kit_of(sheet, wanted, recovery, mixture)
    limits = _limits(sheet, wanted, kit)
    low, high = _ends(limits)
    asked = min(value for _, value in sheet.programme.pressure_Pa.points)
    order = _by_boiling(sheet)
    return PressureWindow(
        low,
        high,
        limits,
        asked,
        None if low > high else _recommended(sheet, wanted, kit, low, high),
        tuple(_changes(sheet, wanted, kit)) if low > high else (),
        tuple(_remarks(sheet, asked)),
        order[0].name,
        order[-1].name,
        boiling_against_pressure(sheet.charge[wanted].substance, _PRESSURES),
    )


def boiling_against_pressure(
    substance: Substance, pressures: Sequence[float]
) -> tuple[BoilingBandPoint, ...]:
    """Return where a liquid boils at several pressures, with bands.

    Args:
        substance: the liquid.
        pressures: [Pa].
    """
    found = [boiling_temperature(substance, p) for p in pressures]
    return tuple(
        BoilingBandPoint(p, b.temperature, (b.low, b.high), b.state)
        for p, b in zip(pressures, found, strict=True)
    )


def _kit_of(sheet: RunSheet, wanted: int, recovery: float, mixture: Mixture) -> _Kit:
    rig = sheet.rig
    charge = np.array([p.amount_mol.value for p in sheet.charge])
    condenser = find_item(rig.condenser, "condenser", "rig.condenser")
    highest = condenser.highest_C
    loses = rig.heat_loss_W_K.value + rig.flask_loss_W_K.value
    return _Kit(
        pump=rig.pump or _DEFAULT_PUMP,
        bath=rig.bath,
        bath_limit_K=rig.bath_limit_K,
        ignition_K=bath_ceiling(sheet.charge, replace(rig, bath_limit_K=math.inf)),
        loss_share=loses / rig.heat_transfer_W_K.value,
        room_K=rig.room_temperature_K.value,
        condenser=rig.condenser,
        highest_vapour_K=math.inf if highest is None else highest + 273.15,
        coolant_K=rig.coolant_temperature_K.value,
        drop_Pa=rig.pressure_drop_Pa.value,
        mixture=mixture,
        pot=left_in_pot(charge, mixture, _ATMOSPHERE, wanted, recovery),
    )


def _by_boiling(sheet: RunSheet) -> list[Substance]:
    total = sum(p.amount_mol.value for p in sheet.charge)
    much = [p.substance for p in sheet.charge if p.amount_mol.value > _MUCH * total]
    return sorted(much, key=lambda s: s.boiling_point.value)


def _pump_lowest(pump: str, coolant: float) -> float:
    """Return the lowest pressure of a pump [Pa]; a water jet stops at water's own pressure."""
    if pump == "aspirator":
        return vapour_pressure(coolant, find("water").vapour_pressure)
    return item("pump", pump).spans["lowest_Pa"].typical


def _limits(sheet: RunSheet, wanted: int, kit: _Kit) -> tuple[PressureLimit, ...]:
    order = _by_boiling(sheet)
    first, last = order[0], order[-1]
    target = sheet.charge[wanted].substance
    found = [
        _low("pump", _pump_lowest(kit.pump, kit.coolant_K), math.nan, kit.pump),
        _low_at("condenser", first, kit.coolant_K + _ABOVE_COOLANT, "coolant"),
    ]
    if target.melting_point is not None:
        melts = target.melting_point.value + _ABOVE_MELTING
        found.append(_low_at("freezing", target, melts, "coolant"))
    heaviest = last if last is not target or len(order) == 1 else target
    found.append(_bath(kit))
    found.append(_high_at("condenser glass", target, kit.highest_vapour_K, kit.condenser, 0.0))
    if sheet.safety.decomposition_K is not None:
        cool = sheet.safety.decomposition_K - _DECOMPOSITION_MARGIN
        found.append(_high_at("decomposition", heaviest, cool, heaviest.name, kit.drop_Pa))
    return tuple(found)


def _low(name: str, pressure: float, temperature: float, thing: str) -> PressureLimit:
    return PressureLimit(name, "low", pressure, temperature, thing, f"the {thing} reaches no less")


def _low_at(name: str, substance: Substance, temperature: float, thing: str) -> PressureLimit:
    pressure = vapour_pressure(temperature, substance.vapour_pressure)
    words = f"{substance.name} has to boil at {temperature - 273.15:.0f} °C or above"
    return PressureLimit(name, "low", pressure, temperature, thing, words)


def _high_at(
    name: str, substance: Substance, temperature: float, thing: str, drop: float
) -> PressureLimit:
    if math.isinf(temperature):
        return PressureLimit(name, "high", math.inf, temperature, thing, f"{thing}: no limit")
    capped = min(temperature, 0.98 * substance.critical_temperature.value)
    pressure = vapour_pressure(capped, substance.vapour_pressure) - drop
    words = f"{substance.name} has to boil at {temperature - 273.15:.0f} °C or below"
    return PressureLimit(name, "high", max(pressure, 0.0), temperature, thing, words)


def _bath(kit: _Kit) -> PressureLimit:
    """Return the limit that the bath sets: it has to boil what is left when the product is over.

    Derivation: bath = pot + the customary difference + what the losses of the glass ask for; the
        hottest pot is that of the hottest bath.
    """
    hottest = min(kit.bath_limit_K, kit.ignition_K)
    share = kit.loss_share
    temperature = (hottest - _BATH_ABOVE_POT + share * kit.room_K) / (1.0 + share)
    if math.isinf(hottest):
        return PressureLimit(
            "bath", "high", math.inf, temperature, kit.bath, f"{kit.bath}: no limit"
        )
    pressure = pressure_to_boil_at(kit.pot, kit.mixture, temperature) - kit.drop_Pa
    words = f"the pot has to end at {temperature - 273.15:.0f} °C or below"
    if kit.ignition_K < kit.bath_limit_K:
        words += f", the bath at {hottest - 273.15:.0f} °C for the autoignition"
    return PressureLimit("bath", "high", max(pressure, 0.0), temperature, kit.bath, words)


def _ends(limits: Sequence[PressureLimit]) -> tuple[float, float]:
    low = max(limit.pressure_Pa for limit in limits if limit.side == "low")
    high = min(limit.pressure_Pa for limit in limits if limit.side == "high")
    return low, min(high, _ATMOSPHERE)


def _recommended(sheet: RunSheet, wanted: int, kit: _Kit, low: float, high: float) -> float:
    """Return the atmosphere where everything is cool enough there, else a pressure with room."""
    last = _by_boiling(sheet)[-1]
    if high >= _ATMOSPHERE and last.boiling_point.value < _HOT:
        return _ATMOSPHERE
    easier = replace(
        kit, bath_limit_K=kit.bath_limit_K - _MARGIN, ignition_K=kit.ignition_K - _MARGIN
    )
    _, inner = _ends(_limits(sheet, wanted, easier))
    brought_down = vapour_pressure(_HOT - 30.0, last.vapour_pressure)
    wished = min(inner, max(brought_down, 1.5 * low))
    return min(max(wished, math.sqrt(low * min(high, 4.0 * low))), high)


def _changes(sheet: RunSheet, wanted: int, kit: _Kit) -> list[str]:
    """Return each single exchange that opens the window, the gentlest first."""
    trials: list[tuple[str, _Kit]] = [
        (f"pump: {name}", replace(kit, pump=name)) for name in item_names("pump")
    ]
    trials += [
        (f"coolant at {c - 273.15:.0f} °C", replace(kit, coolant_K=c))
        for c in (278.15, 268.15, 258.15, 195.15)
        if c < kit.coolant_K
    ]
    for name in item_names("bath"):
        limit = item("bath", name).spans.get("limit_C")
        hottest = math.inf if limit is None else limit.typical + 273.15
        trials.append((f"bath: {name}", replace(kit, bath=name, bath_limit_K=hottest)))
    for name in item_names("condenser"):
        thing = item("condenser", name)
        highest = math.inf if thing.highest_C is None else thing.highest_C + 273.15
        cold = kit.coolant_K if thing.uses_coolant else sheet.rig.room_temperature_K.value
        changed = replace(kit, condenser=name, highest_vapour_K=highest, coolant_K=cold)
        trials.append((f"condenser: {name}", changed))
    found = _opening(sheet, wanted, trials)
    if found:
        return found
    both = [
        (f"{first} with {second}", replace(one, bath=two.bath, bath_limit_K=two.bath_limit_K))
        for first, one in trials
        for second, two in trials
        if first.startswith("pump") and second.startswith("bath")
    ]
    return _opening(sheet, wanted, both)


def _opening(sheet: RunSheet, wanted: int, trials: Sequence[tuple[str, _Kit]]) -> list[str]:
    found = []
    for words, other in trials:
        low, high = _ends(_limits(sheet, wanted, other))
        if low <= high:
            found.append(f"{words} ({low / 100.0:.3g} to {high / 100.0:.3g} mbar)")
    return found


def _remarks(sheet: RunSheet, asked: float) -> list[str]:
    """Say so where a stated head temperature belongs to another pressure than the stated one."""
    heads = [s.value for s in sheet.switches if s.kind == "head"]
    if sheet.programme.stop.head_K is not None:
        heads.append(sheet.programme.stop.head_K)
    if not heads or asked > 0.5 * _ATMOSPHERE:
        return []
    last = _by_boiling(sheet)[-1]
    highest = max(heads)
    boils = boiling_temperature(last, asked, "programme.pressure").temperature
    if highest < boils + _FAR:
        return []
    means = vapour_pressure(highest, last.vapour_pressure)
    return [
        f"A head of {highest - 273.15:.0f} °C is {last.name} boiling at "
        f"{means / 133.322:.3g} mmHg; at the stated {asked / 133.322:.3g} mmHg it boils at "
        f"{boils - 273.15:.0f} °C: look at gauge and leaks, the pot has no such vacuum."
    ]
