"""From a checked form to a run sheet: substances found, amounts in moles, defaults filled in."""

from __future__ import annotations

import math
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from forerun.core.errors import BadInput
from forerun.core.quantities import Quantity, format_temperature
from forerun.sheets.examples import example, example_names
from forerun.sheets.filling import Filler
from forerun.sheets.form import (
    MOST_COMPONENTS,
    AimForm,
    ChargeForm,
    SheetForm,
    UncertainForm,
)
from forerun.sheets.model import UNKNOWNS, Aim, Portion, RunSheet, Setting
from forerun.sheets.reading import read_bytes, read_file, read_form, read_text
from forerun.sheets.resolving_programme import (
    is_vacuum,
    pressure_course,
    resolve_programme,
    resolve_switches,
)
from forerun.sheets.resolving_rig import resolve_rig
from forerun.sheets.resolving_safety import resolve_safety
from forerun.sheets.resolving_special import resolve_special
from forerun.substances.bottles import Bottle, bottle_named
from forerun.substances.catalogue import find
from forerun.substances.model import Substance

__all__ = ["load", "resolve"]


def load(source: str | Path | bytes | Mapping[str, Any]) -> RunSheet:
    """Read a run sheet from wherever it comes.

    Args:
        source: a path, the name of an example, TOML text (anything with a line break or an
            equals sign), its bytes, or a table with the same keys.

    Returns:
        The run sheet, every default named in `RunSheet.defaults`.

    Raises:
        BadInput: whatever cannot be used, with field, value and what is accepted.
    """
    if isinstance(source, Mapping):
        return resolve(read_form(source))
    if isinstance(source, bytes):
        return resolve(read_bytes(source, "sheet"))
    if isinstance(source, Path):
        return resolve(read_file(source))
    if not isinstance(source, str):
        raise BadInput("sheet", source, "a path, the text of a run sheet or a table of its keys")
    if not source.strip() or "\n" in source or "=" in source:
        return resolve(read_text(source))
    if source in example_names():
        return resolve(read_text(example(source), source))
    return resolve(read_file(Path(source)))


def resolve(form: SheetForm) -> RunSheet:
    """Return the run sheet of a checked form.

    Args:
        form: from `forerun.sheets.reading`.

    Returns:
        The run sheet.

    Raises:
        BadInput: what only shows when keys are seen together, e.g. a flask below its charge.
    """
    filler = Filler()
    charge = _charge(form.charge, filler)
    total = sum(portion.volume_m3 for portion in charge)
    pressure = pressure_course(form.programme, filler)
    rig = resolve_rig(form.rig, total, is_vacuum(pressure), filler)
    programme = resolve_programme(form.programme, charge, rig, pressure, filler)
    special = resolve_special(form, charge, filler, rig.plates.value)
    return RunSheet(
        title=form.title or "untitled",
        charge=charge,
        rig=rig,
        programme=programme,
        switches=resolve_switches(form.switch, total, filler),
        aim=_aim(form.aim, charge),
        uncertain=_uncertain(form.uncertain),
        defaults=tuple(filler.defaults),
        warnings=tuple(filler.warnings),
        safety=resolve_safety(form.safety, form.title or ""),
        special=special,
        written=form,
    )


def _charge(forms: list[ChargeForm], filler: Filler) -> tuple[Portion, ...]:
    seen: dict[str, tuple[int, str]] = {}
    portions: list[Portion] = []
    for n, form in enumerate(forms, start=1):
        field = f"charge[{n}].substance"
        bottle = bottle_named(form.substance)
        if bottle is None:
            substance = find(form.substance, field)
            found = [_portion(substance, form.amount)]
            _warn_if_solid(substance, form.amount, filler)
        else:
            found = _from_bottle(bottle, form.amount)
            filler.warnings.append(
                f"{bottle.name} is a mixture and bottles differ; taken as {bottle.told}."
            )
        for portion in found:
            _refuse_second(portion.substance, form.substance, field, seen)
            seen[portion.substance.inchikey] = (n, form.substance)
            filler.warnings += [w for w in portion.substance.notes if w not in filler.warnings]
        portions += found
    if len(portions) > MOST_COMPONENTS:
        names = ", ".join(p.substance.name for p in portions)
        raise BadInput("charge", names, f"at most {MOST_COMPONENTS} components, mixtures opened")
    return tuple(portions)


def _refuse_second(
    substance: Substance, written: str, field: str, seen: Mapping[str, tuple[int, str]]
) -> None:
    if substance.inchikey not in seen:
        return
    n, before = seen[substance.inchikey]
    inside = "" if bottle_named(before) is None else f" in {before},"
    raise BadInput(
        field, written, f"each component once; {substance.name} is{inside} charge[{n}] already"
    )


def _from_bottle(bottle: Bottle, amount: Quantity) -> list[Portion]:
    """Return the components of a mixture, each with what bottles differ by."""
    masses = {"mass": 1.0, "volume": bottle.density}
    mean = sum(p.mass_fraction / p.substance.molar_mass for p in bottle.parts)
    whole = amount.value * masses.get(amount.dimension, 1.0 / mean)  # kg
    doubt = amount.sigma / amount.value
    portions = []
    for part in bottle.parts:
        mass = whole * part.mass_fraction
        moles = mass / part.substance.molar_mass
        relative = math.hypot(doubt, part.spread / part.mass_fraction)
        text = f"{100.0 * part.mass_fraction:.3g} wt% of {amount.text} {bottle.name}"
        portions.append(
            Portion(
                part.substance,
                Setting(moles, relative * moles, True, text),
                mass_kg=mass,
                volume_m3=moles * part.substance.molar_volume.v0,
                text=text,
            )
        )
    return portions


def _portion(substance: Substance, amount: Quantity) -> Portion:
    volume = substance.molar_volume.v0
    per_unit = {"amount": 1.0, "mass": 1.0 / substance.molar_mass, "volume": 1.0 / volume}
    factor = per_unit[amount.dimension]
    moles = Setting(amount.value * factor, amount.sigma * factor, True, amount.text)
    return Portion(
        substance,
        moles,
        mass_kg=moles.value * substance.molar_mass,
        volume_m3=moles.value * volume,
        text=amount.text,
    )


def _warn_if_solid(substance: Substance, amount: Quantity, filler: Filler) -> None:
    melting = substance.melting_point
    if melting is None or melting.value <= 293.15 or amount.dimension != "volume":
        return
    filler.warnings.append(
        f"{substance.name} melts at {format_temperature(melting.value)}: its volume is taken as "
        f"that of the liquid; weigh it instead."
    )


def _aim(form: AimForm, charge: tuple[Portion, ...]) -> Aim:
    wanted = None
    if form.substance is not None:
        wanted = find(form.substance, "aim.substance")
        if wanted.inchikey not in {portion.substance.inchikey for portion in charge}:
            names = ", ".join(portion.substance.name for portion in charge)
            raise BadInput("aim.substance", form.substance, f"one of the charge: {names}")
    return Aim(
        substance=wanted,
        purity=form.purity.value if form.purity else None,
        purity_basis=form.purity.unit if form.purity else None,
        recovery=form.recovery.value if form.recovery else None,
        time_s=form.time.value if form.time else None,
        blend=_blend(form.blend),
    )


def _blend(given: Quantity | None) -> float | None:
    if given is None:
        return None
    if given.unit != "vol%":
        raise BadInput("aim.blend", given.text, 'a volume fraction, such as "20 vol%"')
    return given.value


_DOUBT_DIMENSIONS = {
    "thermometer": ("temperature_difference",),
    "pressure": ("share", "pressure"),
}


def _uncertain(form: UncertainForm) -> dict[str, Setting]:
    stated = {}
    for name in UNKNOWNS:
        quantity: Quantity | None = getattr(form, name)
        if quantity is None:
            continue
        wanted = _DOUBT_DIMENSIONS.get(name, ("share",))
        if quantity.dimension not in wanted:
            example_ = '"0.5 K"' if name == "thermometer" else '"20 %"'
            raise BadInput(
                f"uncertain.{name}", quantity.text, f"one standard deviation, such as {example_}"
            )
        stated[name] = Setting(quantity.value, 0.0, True, quantity.text)
    return stated
