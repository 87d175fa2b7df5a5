"""Order of the products, layers, steam and other pressures: for people and as JSON."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt

from forerun.core.quantities import format_pressure
from forerun.reporting.paper import Paper
from forerun.reporting.plain import by_name, number, numbers
from forerun.reporting.table import columns, wrapped
from forerun.reporting.words import capital, listed

if TYPE_CHECKING:
    from forerun.equilibrium.boundaries import Ternary
    from forerun.equilibrium.bubble import BoilingCurve
    from forerun.equilibrium.course import Course, Product
    from forerun.equilibrium.mixture import Mixture
    from forerun.equilibrium.pressure_shift import Shift
    from forerun.equilibrium.settling import Layer
    from forerun.equilibrium.steam import Steam

__all__ = ["More", "order_of"]

Floats = npt.NDArray[np.float64]

_ZERO_C = 273.15  # K
_ORDER_HOLDS = (
    "for a column of many plates, much reflux and little hold-up; a real column mixes neighbours, "
    "and layers sent back to the pot change the order"
)


@dataclass(frozen=True, slots=True, eq=False)
class More:
    """What else there is to say of a mixture; parts that were not asked for are empty.

    Args:
        course: what comes over from the charge, and in which order.
        layers: name of a liquid and its layers in the funnel, the upper one first.
        funnel_K: temperature of the funnel [K].
        steam: how a substance comes over with steam.
        shifts: azeotropes at other pressures.
        between: the lowest and highest of these pressures [Pa].
        ternary: the map of three components, where a picture is wanted.
        curve: the boiling diagram of two, where a picture is wanted.
        band: liquids (n,) [-] and half-widths (n,) [K] of the boiling temperature along it.
    """

    course: Course | None = None
    layers: tuple[tuple[str, tuple[Layer, ...]], ...] = ()
    funnel_K: float = 298.15
    steam: Steam | None = None
    shifts: tuple[Shift, ...] = ()
    between: tuple[float, float] | None = None
    ternary: Ternary | None = None
    curve: BoilingCurve | None = None
    band: tuple[Floats, Floats] | None = None

    @property
    def warnings(self) -> tuple[str, ...]:
        """Sentences that the user should read."""
        return () if self.course is None else self.course.warnings

    def to_json(self, mixture: Mixture) -> dict[str, Any]:
        """Return keys that are added to the object of ``mix``."""
        names = mixture.names
        found: dict[str, Any] = {}
        if self.course is not None:
            found["charge_mole_fraction"] = by_name(names, self.course.feed)
            found["order"] = [_product_object(p, names) for p in self.course.products]
            found["simple_still"] = {
                "first_vapour_mole_fraction": by_name(names, self.course.first_vapour),
                "last_mole_fraction": by_name(names, self.course.still.mole_fraction[-1]),
            }
        if self.layers:
            found["layers"] = [
                {
                    "of": name,
                    "temperature_K": number(self.funnel_K),
                    "liquids": [_layer_object(layer, names) for layer in layers],
                }
                for name, layers in self.layers
            ]
        if self.steam is not None:
            found["steam"] = _steam_object(self.steam, names)
        if self.between is not None:
            found["pressures"] = [_shift_object(s, names) for s in self.shifts]
        if self.ternary is not None:
            found["boundaries"] = [
                {"mole_fraction": [numbers(x) for x in b.mole_fraction.T]}
                for b in self.ternary.boundaries
            ]
        return found

    def printed(self, mixture: Mixture, paper: Paper) -> list[str]:
        """Return the lines for a person, each part after an empty line."""
        names = mixture.names
        lines: list[str] = []
        if self.course is not None:
            lines += ["", *_order_lines(self.course, mixture, paper)]
        if self.steam is not None:
            lines += ["", *wrapped(_steam_sentence(self.steam, names), paper)]
        for name, layers in self.layers:
            lines += ["", *_layer_lines(name, layers, self.funnel_K, names, paper)]
        if self.between is not None:
            lines += ["", *_shift_lines(self.shifts, self.between, self.course, names, paper)]
        return lines


def order_of(course: Course, names: Sequence[str]) -> str:
    """Return the products in one sentence, such as ``first …, then …; the pot keeps …``."""
    over = [p for p in course.products if not p.stays]
    kept = [p for p in course.products if p.stays]
    parts = [f"{_called(p, names)} ({100 * p.share:.0f} mol%)" for p in over]
    said = ""
    if len(parts) == 1:
        said = f"only {parts[0]}" if not kept else parts[0]
    elif parts:
        said = f"first {parts[0]}, " + ", ".join(f"then {part}" for part in parts[1:])
    if kept:
        keeps = f"the pot keeps {_called(kept[0], names)} ({100 * kept[0].share:.0f} mol%)"
        said = f"{said}; {keeps}" if said else keeps
    return said


def _called(product: Product, names: Sequence[str]) -> str:
    point = product.point
    if point is None:
        held = [k for k in range(len(names)) if product.mole_fraction[k] > 5e-3]
        shares = ", ".join(f"{names[k]} {100 * product.mole_fraction[k]:.0f}" for k in held)
        return f"a blend of {shares} mol%"
    blend = " + ".join(names[k] for k in point.components)
    kind = " as two layers" if point.liquids is not None else ""
    return f"{blend}{kind} at {point.temperature_K - _ZERO_C:.1f} °C"


def _order_lines(course: Course, mixture: Mixture, paper: Paper) -> list[str]:
    names = mixture.names
    masses = np.array([s.molar_mass for s in mixture.substances])
    lines = wrapped(f"In which order: {order_of(course, names)}.", paper)
    whole = float(course.feed @ masses)
    rows = []
    for k, product in enumerate(course.products, start=1):
        x = product.mole_fraction
        held = [i for i in range(len(names)) if x[i] > 5e-4]
        mass = x * masses / (x @ masses)
        rows.append(
            (
                "pot" if product.stays else str(k),
                " + ".join(names[i] for i in held),
                "" if product.point is None else f"{product.point.temperature_K - _ZERO_C:.1f} °C",
                f"{100 * product.share:.0f}",
                f"{100 * product.share * float(x @ masses) / whole:.0f}",
                ", ".join(f"{100 * mass[i]:.1f}" for i in held),
            )
        )
    head = ("", "comes over", "boils", "mol% of charge", "wt% of charge", "wt%")
    lines += ["", *columns(head, rows, paper, left=3)]
    lines += wrapped(f"This holds {_ORDER_HOLDS}.", paper)
    vapour = listed(
        [
            f"{n} {100 * y:.0f}"
            for n, y in zip(names, course.first_vapour, strict=True)
            if y > 5e-3
        ]
    )  # fmt: skip
    return lines + wrapped(f"A bare still gives first {vapour} (mol%).", paper)


def _steam_sentence(steam: Steam, names: Sequence[str]) -> str:
    product = names[steam.product]
    at = f"{steam.temperature_K - _ZERO_C:.1f} °C"
    ratio = f"{steam.water_per_product:.3g} g of water for each g of {product}"
    layer = f"{100 * steam.dissolved[0]:.2g} wt% {product}"
    return (
        f"With steam {product} comes over at {at} and {format_pressure(steam.pressure_Pa)}: "
        f"{ratio} while both layers are in the pot; the water layer there holds {layer}."
    )


def _layer_lines(
    name: str, layers: Sequence[Layer], funnel: float, names: Sequence[str], paper: Paper
) -> list[str]:
    at = f"{funnel - _ZERO_C:.0f} °C"
    if len(layers) == 1:
        return wrapped(f"{capital(name)} stands as one layer at {at}.", paper)
    rows = []
    for place, layer in zip(("upper", "lower"), layers, strict=True):
        mass = ", ".join(
            f"{n} {100 * w:.1f}" for n, w in zip(names, layer.mass_fraction, strict=True)
            if w > 5e-5
        )  # fmt: skip
        shares = (layer.mass_share, layer.volume_share)
        figures = [f"{100 * share:.0f}" for share in shares]
        rows.append((f"{place} layer", mass, *figures, f"{layer.density_kg_m3 / 1e3:.3f}"))
    head = (f"{name}, {at}", "wt%", "share wt%", "share vol%", "g/mL")
    return columns(head, rows, paper, left=2)


def _shift_lines(
    shifts: Sequence[Shift],
    between: tuple[float, float],
    course: Course | None,
    names: Sequence[str],
    paper: Paper,
) -> list[str]:
    low, high = (format_pressure(p) for p in between)
    if not shifts:
        return wrapped(f"No azeotrope between {low} and {high}.", paper)
    lines = wrapped(f"Between {low} and {high}:", paper)
    for shift in shifts:
        lines += wrapped(_moved(shift, names), paper, mark="- ", indent=2)
        if course is not None and shift.passes(course.feed):
            lines += wrapped(
                "This azeotrope moves past the charge: two pressures part what one does not.",
                paper, indent=4,
            )  # fmt: skip
    return lines


def _moved(shift: Shift, names: Sequence[str]) -> str:
    blend = " + ".join(names[k] for k in shift.components)
    first = names[shift.components[0]]
    ends = [
        f"{100 * x[shift.components[0]]:.1f} mol% {first} ({t - _ZERO_C:.1f} °C) at "
        f"{format_pressure(float(p))}"
        for p, t, x in (
            (shift.pressure_Pa[k], shift.temperature_K[k], shift.mole_fraction[k]) for k in (0, -1)
        )
    ]
    words = f"{blend}: {' to '.join(dict.fromkeys(ends))}"
    if shift.appears_Pa is not None:
        words += f"; none below {format_pressure(shift.appears_Pa)}"
    if shift.vanishes_Pa is not None:
        words += f"; none above {format_pressure(shift.vanishes_Pa)}"
    return f"{words}."


def _product_object(product: Product, names: tuple[str, ...]) -> dict[str, Any]:
    point = product.point
    return {
        "components": [names[k] for k in np.flatnonzero(product.mole_fraction > 5e-4)],
        "mole_fraction": by_name(names, product.mole_fraction),
        "share_of_charge": number(product.share),
        "temperature_K": None if point is None else number(point.temperature_K),
        "liquid_phases": None if point is None else (1 if point.liquids is None else 2),
        "stays_in_pot": product.stays,
    }


def _layer_object(layer: Layer, names: tuple[str, ...]) -> dict[str, Any]:
    return {
        "mole_fraction": by_name(names, layer.mole_fraction),
        "mass_fraction": by_name(names, layer.mass_fraction),
        "mole_share": number(layer.mole_share),
        "mass_share": number(layer.mass_share),
        "volume_share": number(layer.volume_share),
        "density_kg_m3": number(layer.density_kg_m3),
    }


def _steam_object(steam: Steam, names: tuple[str, ...]) -> dict[str, Any]:
    return {
        "product": names[steam.product],
        "pressure_Pa": number(steam.pressure_Pa),
        "temperature_K": number(steam.temperature_K),
        "vapour_mole_fraction": by_name(names, steam.vapour_mole_fraction),
        "water_per_product_kg_kg": number(steam.water_per_product),
        "product_in_water_mass_fraction": number(steam.dissolved[0]),
        "water_in_product_mass_fraction": number(steam.dissolved[1]),
    }


def _shift_object(shift: Shift, names: tuple[str, ...]) -> dict[str, Any]:
    return {
        "components": [names[k] for k in shift.components],
        "pressure_Pa": numbers(shift.pressure_Pa),
        "temperature_K": numbers(shift.temperature_K),
        "mole_fraction": {n: numbers(x) for n, x in zip(names, shift.mole_fraction.T, strict=True)},
        "appears_Pa": None if shift.appears_Pa is None else number(shift.appears_Pa),
        "vanishes_Pa": None if shift.vanishes_Pa is None else number(shift.vanishes_Pa),
    }
