"""The usual cautions, said where the figures give cause; advisory, local rules win.

What a caution rests on is computed from the substance's own constants and from the run. None of
them is a reassurance: that nothing is said means only that nothing here gave cause.

Source: guidance as in *Prudent Practices in the Laboratory* (National Research Council, 2011);
the floors for the residue are common practice, no source.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING

from forerun.core.quantities import format_temperature
from forerun.reporting.dripping import drips_stop
from forerun.reporting.words import WHOLE_DEGREE, capital, listed
from forerun.substances.model import Sourced, Substance

if TYPE_CHECKING:
    from forerun.sheets.model import RunSheet
    from forerun.still.results import Run

__all__ = ["LOCAL_RULES", "cautions_for_class", "cautions_of_run", "cautions_of_substance"]

LOCAL_RULES = (
    "This is advisory: your institution's stricter rule wins; ask your safety office "
    "where in doubt."
)
_ROOM = 298.15  # K, what counts as a warm room
_WARM = 15.0  # K between boiling point and room below which vapour is lost; common practice
_PEROXIDES = {
    "A": "forms peroxides on storage (class A)",
    "B": "forms peroxides that become dangerous when it is concentrated (class B)",
    "C": "forms peroxides that can start its polymerisation (class C)",
}
_WATER = "H2O"
_FIRE_MARGIN = 20.0  # K below autoignition at which the bath is named; common practice


def cautions_of_substance(substance: Substance) -> tuple[str, ...]:
    """Return the cautions that one substance's own constants give cause for.

    Args:
        substance: the liquid.

    Returns:
        One sentence each; local rules last when there is any.
    """
    found = [
        *_fire(substance),
        *_peroxides(substance),
        *_energetic(substance),
        *_warm_room(substance),
        *_hazard_statements(substance),
    ]
    return (*found, LOCAL_RULES)


def cautions_of_run(sheet: RunSheet, run: Run) -> tuple[str, ...]:
    """Return the cautions that a run gives cause for.

    Args:
        sheet: what is charged and how it is heated and cooled.
        run: what comes of it.

    Returns:
        One sentence each, the local rules last.
    """
    stopped = drips_stop(sheet, run)
    found = [*([stopped] if stopped else []), *_fire_of_run(sheet, run)]
    return (*found, LOCAL_RULES)


def cautions_for_class(sheet: RunSheet, run: Run) -> tuple[str, ...]:
    """Return what a class has to be told of the liquids that it heats.

    Args:
        sheet: what is charged.
        run: of a still that the class may drive.

    Returns:
        Fire first, then what is listed of each liquid; local rules are not among them.
    """
    listed_ = [
        f"{capital(portion.substance.name)}: {said[:1].lower()}{said[1:]}"
        for portion in sheet.charge
        for said in _hazard_statements(portion.substance)
    ]
    return (*_fire_of_run(sheet, run), *listed_)


def _fire_of_run(sheet: RunSheet, run: Run) -> list[str]:
    hottest = max(float(t) for t in run.trace.bath_temperature_K if not math.isnan(t))
    return _fire_of_charge([portion.substance for portion in sheet.charge], hottest)


def _fire(substance: Substance) -> list[str]:
    flash = substance.flash_point
    if flash is None:
        return _no_flash([substance])
    lit = _degrees(flash.value)
    how = "flash point" if flash.method == "measured" else "flash point by estimate, not measured"
    words = f"Its vapour can be lit from {lit} on ({how})"
    if substance.autoignition is not None:
        own = _degrees(_lowest(substance.autoignition))
        words += f", and lights by itself on a surface at {own}"
    return [words + ": no flame or spark near it."]


def _fire_of_charge(substances: Sequence[Substance], hottest: float) -> list[str]:
    found = []
    lit = [s for s in substances if s.flash_point is not None and s.flash_point.value < hottest]
    if lit:
        words = ", ".join(f"{s.name} {_degrees(s.flash_point.value)}" for s in lit if s.flash_point)
        found.append(
            f"The bath is hotter than the flash points ({words}): no flame or spark, and "
            "vent to a hood."
        )
    found += _no_flash([s for s in substances if s.flash_point is None])
    found += [
        f"The bath, {_degrees(hottest)}, is within 20 K of the temperature at which {s.name} "
        f"lights by itself ({_degrees(_lowest(s.autoignition))}): lower it."
        for s in substances
        if s.autoignition is not None and hottest > _lowest(s.autoignition) - _FIRE_MARGIN
    ]
    return found


def _no_flash(substances: Sequence[Substance]) -> list[str]:
    names = ", ".join(s.name for s in substances if s.formula != _WATER)
    if not names:
        return []
    return [f"No flash point is on file for {names}, which does not tell whether it burns."]


def _peroxides(substance: Substance) -> list[str]:
    words = _peroxide_words(substance)
    if not words:
        return []
    return [
        f"{capital(substance.name)} {words}: test it before heating, note method and date, and "
        "leave a good residue in the pot."
    ]


def _peroxide_words(substance: Substance) -> str:
    stated = substance.peroxide_class
    if stated is not None:
        return _PEROXIDES.get(stated.value, f"forms peroxides (class {stated.value})")
    if substance.peroxide_signs:
        return f"is on no list of peroxide formers that was read, but has {_signs(substance)}"
    return ""


def _signs(substance: Substance) -> str:
    return f"a part that takes up oxygen ({listed(substance.peroxide_signs)})"


def _energetic(substance: Substance) -> list[str]:
    if not substance.energetic_groups:
        return []
    groups = ", ".join(substance.energetic_groups)
    return [
        f"{capital(substance.name)} carries a group that can decompose violently ({groups}): do "
        "not heat it before someone who knows it has agreed."
    ]


def _warm_room(substance: Substance) -> list[str]:
    if substance.boiling_point.value >= _ROOM + _WARM:
        return []
    return [
        f"It boils at {_degrees(substance.boiling_point.value)}, near the room's own "
        "temperature: cold coolant and a cooled, vented receiver."
    ]


def _hazard_statements(substance: Substance) -> list[str]:
    if not substance.hazards:
        return []
    statements = "; ".join(stated.value.rstrip(".") for stated in substance.hazards)
    return [f"Listed hazards: {statements}."]


def _lowest(constant: Sourced) -> float:
    """Return the lowest value among the sources, the one that a safety limit takes."""
    return constant.value if constant.lowest is None else constant.lowest


def _degrees(temperature: float) -> str:
    """Return a temperature [K] in whole °C."""
    return format_temperature(temperature, WHOLE_DEGREE)
