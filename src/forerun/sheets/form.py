"""The run sheet as written: its tables and keys, checked one by one.

What belongs together across keys (a flask and its charge, a column and its plates) is checked
in `forerun.sheets.resolving`.
"""

from __future__ import annotations

from pydantic import BaseModel, ConfigDict, Field

from forerun.sheets.fields import (
    Amount,
    BathCourse,
    Conductance,
    Count,
    Day,
    Difference,
    Doubt,
    Mass,
    Moles,
    PeroxideResult,
    PressureCourse,
    RatioCourse,
    Share,
    Strength,
    Temperature,
    Text,
    Time,
    Volume,
)
from forerun.sheets.fields_rates import DropRate, MassRate, MolarMass, PressureRise

__all__ = [
    "AimForm",
    "ChargeForm",
    "Form",
    "InvolatileForm",
    "KeepForm",
    "OverrideForm",
    "ProgrammeForm",
    "RigForm",
    "SafetyForm",
    "SheetForm",
    "StopForm",
    "SwitchForm",
    "UncertainForm",
]

MOST_COMPONENTS = 8
MOST_SWITCHES = 50


class Form(BaseModel):
    """Base of all tables: nothing unknown, nothing changed afterwards."""

    # built when first used, and the inner tables only as parts of the sheet: half the time
    model_config = ConfigDict(extra="forbid", frozen=True, strict=True, defer_build=True)


class ChargeForm(Form):
    """One component of the charge."""

    substance: Text = Field(
        description="name, synonym, CAS number, InChIKey, any SMILES, or a mixture such as hexanes"
    )
    amount: Amount


class RigForm(Form):
    """The glass and the heat; what is left out comes from the drawer."""

    flask: Volume | None = None
    column: Text | None = Field(default=None, description='such as "Vigreux 30 cm"; "none"')
    passport: Text | None = Field(
        default=None,
        description="name under which measured values of your own column are kept, such as "
        '"my Vigreux"; they stand in for what this table leaves out',
    )
    plates: Count | None = None
    holdup: Volume | None = None
    heat_loss: Conductance | None = None
    lagging: Text | None = Field(default=None, description="bare, foil, lagged or vacuum jacket")
    bath: Text | None = Field(default=None, description='such as "silicone oil"')
    heat_transfer: Conductance | None = None
    condenser: Text | None = Field(default=None, description='such as "straight jacket 30 cm"')
    coolant: Temperature | None = None
    thermometer: Text | None = Field(default=None, description='such as "glass thermometer"')
    thermometer_offset: Difference | None = None
    room: Temperature | None = None
    pump: Text | None = Field(default=None, description='such as "diaphragm"')
    leak: PressureRise | None = Field(
        default=None,
        description='how fast the pressure rises in the closed apparatus, such as "1 mbar/min"',
    )
    trap: Volume | None = Field(
        default=None,
        description="of a decanting trap under the condenser: layers part, the one without "
        'water runs back; such as "10 mL"',
    )
    emergent_stem: Difference | None = Field(
        default=None, description='length of the thread outside the vapour, such as "50 K"'
    )
    bulb: Text | None = Field(
        default=None, description="level with the side arm (the default), or high"
    )


class StopForm(Form):
    """What ends the run, whichever comes first."""

    residue: Volume | None = None
    time: Time | None = None
    head: Temperature | None = None


class KeepForm(Form):
    """What a hand on the bath keeps: one of the three."""

    rate: DropRate | None = None
    above_head: Difference | None = None
    above_pot: Difference | None = None


class InvolatileForm(Form):
    """What is dissolved in the charge and does not distil: an ideal diluent."""

    mass: Mass
    molar_mass: MolarMass | None = None


class ProgrammeForm(Form):
    """What the operator sets against time."""

    pressure: PressureCourse | None = None
    bath: BathCourse | None = None
    reflux_ratio: RatioCourse | None = None
    keep: KeepForm | None = None
    settle: Time | None = Field(
        default=None,
        description="total reflux until the head has stood still for so long, such as "
        '"10 min"; then the reflux ratio',
    )
    steam: MassRate | None = Field(
        default=None,
        description='steam led into the pot, such as "3 g/min"; the charge names water',
    )
    stop: StopForm | None = None


class SwitchForm(Form):
    """When to change the receiver: one of the three."""

    head: Temperature | None = None
    volume: Volume | None = None
    time: Time | None = None


class AimForm(Form):
    """What is wanted."""

    substance: Text | None = None
    purity: Strength | None = None
    recovery: Share | None = None
    time: Time | None = None
    blend: Strength | None = None


class UncertainForm(Form):
    """One standard deviation of what is not known, in place of our own."""

    charge: Doubt | None = None
    heat_transfer: Doubt | None = None
    heat_loss: Doubt | None = None
    plates: Doubt | None = None
    holdup: Doubt | None = None
    pressure: Doubt | None = None
    thermometer: Doubt | None = None
    activity: Doubt | None = None
    vapour_pressure: Doubt | None = None


class OverrideForm(Form):
    """A gate that somebody with the right to do so passes all the same."""

    gate: Text = Field(description="name of the gate, as printed")
    reason: Text = Field(min_length=10, description="why, and who decided; it is recorded")


class SafetyForm(Form):
    """What the safety gates ask; what is left out counts as not known."""

    vent: Text | None = Field(
        default=None, description="open, bubbler, drying tube, inert gas, pump or closed"
    )
    peroxide_test: PeroxideResult | None = None
    peroxide_test_date: Day | None = None
    peroxide_limit: PeroxideResult | None = None
    opened: Day | None = None
    inhibitor: Text | None = Field(default=None, description='such as "BHT"; "none"')
    met: list[Text] = Field(
        default=[], max_length=20, description='what the charge has met, such as ["sodium azide"]'
    )
    involatile: bool | None = Field(
        default=None, description="true when something that does not distil is dissolved in it"
    )
    decomposition: Temperature | None = None
    oil_flash: Temperature | None = None
    glass: Text | None = Field(default=None, description="checked, starred or flat")
    shield: bool | None = Field(default=None, description="true or false")
    gas: Text | None = Field(default=None, description="what is let in at the end: nitrogen, air")
    boiling_aid: Text | None = Field(default=None, description="stirrer, chips or none")
    trap: Moles | None = None
    scale_limit: Volume | None = None
    first_run: bool | None = Field(default=None, description="true or false")
    attended: bool | None = Field(default=None, description="true or false")
    override: list[OverrideForm] = Field(default=[], max_length=20)


class SheetForm(Form):
    """A whole run sheet."""

    title: Text | None = None
    charge: list[ChargeForm] = Field(min_length=1, max_length=MOST_COMPONENTS)
    involatile: InvolatileForm | None = None
    rig: RigForm = RigForm.model_construct()
    programme: ProgrammeForm = ProgrammeForm.model_construct()
    switch: list[SwitchForm] = Field(default=[], max_length=MOST_SWITCHES)
    aim: AimForm = AimForm.model_construct()
    uncertain: UncertainForm = UncertainForm.model_construct()
    safety: SafetyForm = SafetyForm.model_construct()
