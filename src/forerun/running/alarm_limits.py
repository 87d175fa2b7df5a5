"""What the alarms of a run hold its readings against: limits that the safety gates compute."""

from __future__ import annotations

import math
from dataclasses import dataclass

from forerun.planning.gates_heat import bath, dryness
from forerun.planning.gates_model import GateCase
from forerun.sheets.model import RunSheet

__all__ = ["AlarmLimits", "limits_of"]

_PLUG_MARGIN = 5.0  # K between coolant and a melting point, as the gate has it
_VOLUME_DOUBT = 1e-6  # m3, one standard deviation of a receiver that is read
_BAND = 1.2816  # standard deviations to the end of an 80 % band


@dataclass(frozen=True, slots=True)
class AlarmLimits:
    """Limits of one sheet.

    Args:
        charge_m3: volume of the charge at 20 °C [m3].
        charge_kg: its mass [kg].
        holdup_m3: liquid that stays in column and head [m3].
        residue_doubt_m3: how much less than reckoned may be in the pot, 1 in 10 [m3].
        floor_m3: least residue [m3].
        formers: components that form peroxides.
        bath_K: hottest that the bath may be [K]; infinite where nothing says so.
        bath_why: what sets that limit.
        freezing: (name, melting point [K]) of what can freeze in the condenser.
        coolant_K: temperature of the coolant [K].
        pressure_Pa: (time [s], planned pressure [Pa]) of the programme.
    """

    charge_m3: float
    charge_kg: float
    holdup_m3: float
    residue_doubt_m3: float
    floor_m3: float
    formers: tuple[str, ...]
    bath_K: float
    bath_why: str
    freezing: tuple[tuple[str, float], ...]
    coolant_K: float
    pressure_Pa: tuple[tuple[float, float], ...]

    @property
    def density(self) -> float:
        """Mean density of the charge [kg/m3]."""
        return self.charge_kg / self.charge_m3

    def planned_Pa(self, time_s: float) -> float:
        """Return the pressure that the programme has at a time.

        Args:
            time_s: since the start [s].
        """
        before = self.pressure_Pa[0]
        for point in self.pressure_Pa:
            if point[0] >= time_s:
                return _between(before, point, time_s)
            before = point
        return before[1]


def _between(one: tuple[float, float], two: tuple[float, float], at: float) -> float:
    if two[0] <= one[0]:
        return two[1]
    share = min(max((at - one[0]) / (two[0] - one[0]), 0.0), 1.0)
    return one[1] + share * (two[1] - one[1])


def limits_of(sheet: RunSheet) -> AlarmLimits:
    """Return the limits of a sheet.

    Args:
        sheet: the run's.
    """
    case = GateCase(sheet, None)
    of_bath, of_residue = bath(case).computed, dryness(case).computed
    coolant = sheet.rig.coolant_temperature_K.value
    melting = [
        (s.name, s.melting_point.value) for s in case.substances if s.melting_point is not None
    ]
    limit = of_bath["limit_K"]
    charge = sheet.charge_volume_m3
    doubts = [
        p.volume_m3 * p.amount_mol.sigma / p.amount_mol.value
        for p in sheet.charge
        if p.amount_mol.value > 0.0
    ]
    doubt = math.sqrt(sum(d * d for d in doubts) + _VOLUME_DOUBT**2)
    return AlarmLimits(
        charge_m3=charge,
        charge_kg=sum(p.mass_kg for p in sheet.charge),
        holdup_m3=sheet.rig.holdup_m3.value,
        residue_doubt_m3=_BAND * doubt,
        floor_m3=_floor(sheet, float(of_residue["floor_m3"] or 0.0)),
        formers=tuple(s.name for s in case.substances if s.peroxide_class or s.peroxide_signs),
        bath_K=float(limit) if isinstance(limit, float) else math.inf,
        bath_why=str(of_bath["limited_by"]),
        freezing=tuple((n, t) for n, t in melting if t > coolant - _PLUG_MARGIN),
        coolant_K=coolant,
        pressure_Pa=sheet.programme.pressure_Pa.points,
    )


def _floor(sheet: RunSheet, usual: float) -> float:
    """Return the floor; a sheet that gives a reason for passing it has its own."""
    passed = any(gate == "dryness" for gate, _ in sheet.safety.overrides)
    stated = sheet.programme.stop.residue_m3
    return stated if passed and stated is not None else usual
