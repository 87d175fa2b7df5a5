"""A run sheet that has been read: every quantity in SI, every default named.

Plain frozen dataclasses, so that whoever uses a sheet need not load what parses one.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date

from forerun.substances.model import Substance

__all__ = [
    "UNKNOWNS",
    "Aim",
    "Course",
    "Portion",
    "Programme",
    "Rig",
    "RunSheet",
    "Safety",
    "Setting",
    "Special",
    "Stop",
    "Switch",
]

UNKNOWNS: Mapping[str, str] = {
    "charge": "amounts in the flask that were written without their own ±",
    "heat_transfer": "heat from the bath into the pot",
    "heat_loss": "heat that column and neck lose to the room",
    "plates": "theoretical plates of the column",
    "holdup": "liquid that the column holds",
    "pressure": "the gauge's error, one value for the whole run",
    "thermometer": "the head thermometer's error, one value for the whole run",
    "activity": "how far the mixture is from what the models say",
    "vapour_pressure": "how far the pure vapour pressures are from the fitted curves",
}
"""What a forecast may vary, by the name that the sheet's table ``uncertain`` uses."""


@dataclass(frozen=True, slots=True)
class Setting:
    """One number of a sheet and how well it is known.

    Args:
        value: [SI].
        sigma: one standard deviation [same unit]; 0 where it counts as exact.
        given: True when the sheet states it, False for a default.
        text: as the sheet states it, or the default as a person would write it.
        origin: where a default comes from; empty for what was given.
    """

    value: float
    sigma: float = 0.0
    given: bool = True
    text: str = ""
    origin: str = ""


@dataclass(frozen=True, slots=True)
class Portion:
    """One component of the charge.

    Args:
        substance: what it is.
        amount_mol: how much [mol], with its standard deviation; sigma is 0 when the sheet
            states none, then the forecast uses its own for ``charge``.
        mass_kg: the same as a mass [kg].
        volume_m3: the same as a volume of the pure liquid at 20 °C [m3].
        text: the amount as written.
    """

    substance: Substance
    amount_mol: Setting
    mass_kg: float
    volume_m3: float
    text: str


@dataclass(frozen=True, slots=True)
class Rig:
    """The glass and the heat.

    Args:
        flask_volume_m3: nominal volume of the pot [m3].
        column: name of the column in the drawer with its length, or ``none``.
        plates: theoretical plates between pot and head [-]; need not be whole.
        holdup_m3: operating hold-up of the whole column [m3].
        heat_loss_W_K: from column and neck to the room [W/K].
        flask_loss_W_K: from the part of the flask above the bath to the room [W/K].
        heat_transfer_W_K: from the bath into the pot with the charge as filled [W/K].
        glass_heat_capacity_J_K: of the flask [J/K].
        column_heat_capacity_J_K: of the column with its packing [J/K].
        neck_heat_capacity_J_K: of neck and head [J/K].
        neck_loss_share: share of ``heat_loss_W_K`` that neck and head lose [-]; 1 without column.
        bath: name of the bath in the drawer.
        bath_limit_K: highest temperature of that bath [K]; infinite for a mantle.
        condenser: name of the condenser in the drawer with its length.
        condenser_W_K: heat transfer of the condenser [W/K].
        coolant_temperature_K: [K].
        pressure_drop_Pa: over the whole column at the working load [Pa].
        thermometer_lag_s: time constant of the head thermometer [s].
        thermometer_offset_K: reading minus truth [K]; its sigma is the thermometer's error.
        room_temperature_K: [K]; charge, glass and receivers start at it.
        pump: name of the pump in the drawer; empty where none is named.
        passport: name of the physical column whose measured values are kept; empty for none.
        largest_load_m3_s: vapour, as liquid, at which the column floods at 1 atm [m3/s].
        carried_at_largest: liquid that a mole of vapour carries up at that load [-].
    """

    flask_volume_m3: Setting
    column: str
    plates: Setting
    holdup_m3: Setting
    heat_loss_W_K: Setting
    flask_loss_W_K: Setting
    heat_transfer_W_K: Setting
    glass_heat_capacity_J_K: Setting
    column_heat_capacity_J_K: Setting
    neck_heat_capacity_J_K: Setting
    neck_loss_share: float
    bath: str
    bath_limit_K: float
    condenser: str
    condenser_W_K: Setting
    coolant_temperature_K: Setting
    pressure_drop_Pa: Setting
    thermometer_lag_s: Setting
    thermometer_offset_K: Setting
    room_temperature_K: Setting
    pump: str = ""
    passport: str = ""
    largest_load_m3_s: float = math.inf
    carried_at_largest: float = 0.0


@dataclass(frozen=True, slots=True)
class Special:
    """What only some runs have; nothing of it is there by default.

    Args:
        involatile_kg: dissolved in the charge and not distilling [kg].
        involatile_molar_mass: of it [kg/mol].
        keep_rate_m3_s: distillate that a hand on the bath keeps [m3/s].
        keep_above_head_K: bath minus head that it keeps [K].
        keep_above_pot_K: bath minus pot that it keeps [K].
        settle_s: total reflux until the head has stood still for so long [s].
        steam_kg_s: steam led into the pot [kg/s].
        trap_m3: volume of a decanting trap [m3].
        leak_Pa_s: rise of the pressure in the closed apparatus [Pa/s].
        emergent_stem_K: length of the thermometer's thread outside the vapour [K].
        bulb_high: whether its bulb stands above the side arm.
    """

    involatile_kg: float = 0.0
    involatile_molar_mass: float = 0.3
    keep_rate_m3_s: float | None = None
    keep_above_head_K: float | None = None
    keep_above_pot_K: float | None = None
    settle_s: float = 0.0
    steam_kg_s: float = 0.0
    trap_m3: float = 0.0
    leak_Pa_s: float = 0.0
    emergent_stem_K: float = 0.0
    bulb_high: bool = False

    @property
    def keeps(self) -> bool:
        """Whether a hand leads the bath."""
        kept = (self.keep_rate_m3_s, self.keep_above_head_K, self.keep_above_pot_K)
        return any(value is not None for value in kept)


@dataclass(frozen=True, slots=True)
class Course:
    """A quantity against time, straight between its points, constant outside them.

    Args:
        points: (time [s], value [SI]) in order of time; two points of one time are a jump.
        sigma: one standard deviation of the whole course, one error for all times [SI].
        given: True when the sheet states it.
        text: as a person would write it.
    """

    points: tuple[tuple[float, float], ...]
    sigma: float = 0.0
    given: bool = True
    text: str = ""


@dataclass(frozen=True, slots=True)
class Stop:
    """What ends the run: whichever comes first; None where it plays no part.

    Args:
        residue_m3: liquid left in the pot, at room temperature [m3].
        time_s: since the start of heating [s]; always set.
        head_K: reading of the head thermometer, rising through this value [K].
    """

    residue_m3: float | None
    time_s: float
    head_K: float | None


@dataclass(frozen=True, slots=True)
class Programme:
    """What the operator sets against time.

    Args:
        pressure_Pa: in the head [Pa].
        bath_K: [K].
        reflux_ratio: returned over taken [-]; infinite for total reflux.
        stop: what ends the run.
        held_back: why a bath that the sheet leaves open stays colder than the distillation asks
            for; empty where it does not.
    """

    pressure_Pa: Course
    bath_K: Course
    reflux_ratio: Course
    stop: Stop
    held_back: str = ""


@dataclass(frozen=True, slots=True)
class Switch:
    """When the receiver is changed.

    Args:
        kind: ``head`` (reading rises through the value [K]), ``volume`` (distillate since the
            start [m3]) or ``time`` (since the start of heating [s]).
        value: [K, m3 or s].
        text: as written.
    """

    kind: str
    value: float
    text: str


@dataclass(frozen=True, slots=True)
class Aim:
    """What is wanted of the run; None where nothing was said.

    Args:
        substance: the wanted one.
        purity: fraction of it in the cut [-].
        purity_basis: ``mol%``, ``wt%`` or ``vol%``.
        recovery: share of what was charged [-].
        time_s: at hand [s].
        blend: volume fraction of the wanted one in a blend that is to be used again [-].
    """

    substance: Substance | None = None
    purity: float | None = None
    purity_basis: str | None = None
    recovery: float | None = None
    time_s: float | None = None
    blend: float | None = None


@dataclass(frozen=True, slots=True)
class Safety:
    """What a sheet says for the safety gates; None or empty where it says nothing.

    Args:
        vent: where the apparatus is open to: ``open``, ``bubbler``, ``drying tube``,
            ``inert gas``, ``pump`` or ``closed``.
        peroxide_mg_L: result of the peroxide test [mg/L]; 0 where none was detected.
        peroxide_text: the same as written.
        peroxide_test_date: day of that test.
        peroxide_limit_mg_L: highest result that the local rule lets pass [mg/L].
        opened: day on which the bottle was opened.
        inhibitor: name of the inhibitor, or ``none``.
        met: what the charge has met, e.g. reagents of the step before.
        involatile: whether something that does not distil is dissolved in the charge.
        decomposition_K: at which something in the pot begins to decompose [K].
        oil_flash_K: flash point of this very bath oil [K].
        glass: ``checked`` (round, rated, no stars), ``starred`` or ``flat``.
        shield: whether a shield stands before it.
        gas: what is let in at the end of a run under vacuum.
        boiling_aid: ``stirrer``, ``chips`` or ``none``.
        trap_mol: what the trap takes [mol].
        scale_limit_m3: largest charge that the local rule lets pass [m3].
        first_run: whether nobody here has done this before.
        attended: whether somebody stays with it.
        overrides: (gate, reason) pairs.
    """

    vent: str = ""
    peroxide_mg_L: float | None = None
    peroxide_text: str = ""
    peroxide_test_date: date | None = None
    peroxide_limit_mg_L: float | None = None
    opened: date | None = None
    inhibitor: str = ""
    met: tuple[str, ...] = ()
    involatile: bool | None = None
    decomposition_K: float | None = None
    oil_flash_K: float | None = None
    glass: str = ""
    shield: bool | None = None
    gas: str = ""
    boiling_aid: str = ""
    trap_mol: float | None = None
    scale_limit_m3: float | None = None
    first_run: bool | None = None
    attended: bool | None = None
    overrides: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True, slots=True)
class RunSheet:
    """A whole sheet, ready to be computed.

    Args:
        title: its title.
        charge: the components in the order of the sheet.
        rig: the glass and the heat.
        programme: what is set against time.
        switches: when receivers are changed, in order.
        aim: what is wanted.
        uncertain: standard deviations that the sheet sets itself, by the names of `UNKNOWNS`;
            relative [-] except ``thermometer`` [K] and ``pressure`` (Pa, or relative [-] when
            its text ends in %).
        defaults: one sentence for every value that the sheet left to us.
        warnings: sentences that the user should read before lighting anything.
        safety: what it says for the safety gates.
        special: what only some runs have.
        written: the checked form that it came from, for variants of it; it has no part in
            comparisons.
    """

    title: str
    charge: tuple[Portion, ...]
    rig: Rig
    programme: Programme
    switches: tuple[Switch, ...] = ()
    aim: Aim = field(default_factory=Aim)
    uncertain: Mapping[str, Setting] = field(default_factory=dict)
    defaults: tuple[str, ...] = ()
    warnings: tuple[str, ...] = ()
    safety: Safety = field(default_factory=Safety)
    special: Special = field(default_factory=Special)
    written: object = field(default=None, compare=False, repr=False)

    @property
    def names(self) -> tuple[str, ...]:
        """Names of the components in the order of the charge."""
        return tuple(portion.substance.name for portion in self.charge)

    @property
    def charge_volume_m3(self) -> float:
        """Volume of the charge at 20 °C, volumes taken as additive [m3]."""
        return sum(portion.volume_m3 for portion in self.charge)
