"""What only some sheets have: a residue that does not distil, a hand on the bath, steam, a trap."""

from __future__ import annotations

from forerun.core.errors import BadInput
from forerun.sheets.filling import Filler
from forerun.sheets.form import KeepForm, SheetForm
from forerun.sheets.model import Portion, Special

__all__ = ["WATER", "resolve_special"]

WATER = "XLYOFNOQVPJJNP-UHFFFAOYSA-N"  # InChIKey
_MOLAR_MASS = 0.3  # kg/mol, of a residue of which nothing is said; from memory
_BULBS = {"level": False, "level with the side arm": False, "high": True}


def resolve_special(
    form: SheetForm, charge: tuple[Portion, ...], filler: Filler, plates: float
) -> Special:
    """Return what a sheet has beyond charge, glass and courses.

    Args:
        form: the checked form.
        charge: its components.
        filler: collects defaults and warnings.
        plates: theoretical plates of the column [-].

    Returns:
        All of it; nothing where the sheet says nothing.

    Raises:
        BadInput: steam or a trap without water in the charge, two things to keep at once, reflux
            through a trap.
    """
    rig, programme = form.rig, form.programme
    waters = [p for p in charge if p.substance.inchikey == WATER]
    if programme.steam is not None and not waters:
        raise BadInput(
            "programme.steam", programme.steam.text, "water among the charge, if only 1 mL"
        )
    if rig.trap is not None and (not waters or len(charge) < 2):
        raise BadInput("rig.trap", rig.trap.text, "water and another liquid in the charge")
    if rig.trap is not None and (plates > 0.0 or programme.reflux_ratio is not None):
        raise BadInput(
            "rig.trap", rig.trap.text, "a simple still: no plates and no programme.reflux_ratio"
        )
    bulb = (rig.bulb or "level").strip().casefold()
    if bulb not in _BULBS:
        raise BadInput("rig.bulb", rig.bulb, "level or high")
    keep = programme.keep or KeepForm()
    _check_keep(form, keep)
    mass, molar = 0.0, _MOLAR_MASS
    if form.involatile is not None:
        mass = form.involatile.mass.value
        if form.involatile.molar_mass is not None:
            molar = form.involatile.molar_mass.value
        else:
            filler.note("involatile.molar_mass", '"300 g/mol"', "typical value, from memory")
    if rig.leak is not None and rig.pump is None:
        raise BadInput("rig.leak", rig.leak.text, "a pump (rig.pump) that works against it")
    return Special(
        involatile_kg=mass,
        involatile_molar_mass=molar,
        keep_rate_m3_s=keep.rate.value if keep.rate else None,
        keep_above_head_K=keep.above_head.value if keep.above_head else None,
        keep_above_pot_K=keep.above_pot.value if keep.above_pot else None,
        settle_s=programme.settle.value if programme.settle else 0.0,
        steam_kg_s=programme.steam.value if programme.steam else 0.0,
        trap_m3=rig.trap.value if rig.trap else 0.0,
        leak_Pa_s=rig.leak.value if rig.leak else 0.0,
        emergent_stem_K=rig.emergent_stem.value if rig.emergent_stem else 0.0,
        bulb_high=_BULBS[bulb],
    )


def _check_keep(form: SheetForm, keep: KeepForm) -> None:
    if form.programme.keep is None:
        return
    said = [name for name in ("rate", "above_head", "above_pot") if getattr(keep, name) is not None]
    if len(said) != 1:
        raise BadInput(
            "programme.keep", " and ".join(said) or "nothing", "one of rate, above_head, above_pot"
        )
    for name in ("above_head", "above_pot"):
        value = getattr(keep, name)
        if value is not None and value.value <= 0.0:
            raise BadInput(f"programme.keep.{name}", value.text, 'above 0, such as "25 K"')
    if form.programme.bath is not None:
        raise BadInput(
            "programme.keep", said[0], "either programme.bath or programme.keep, not both"
        )
