"""What is in a mixture sold as one bottle, for people and as an object."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from forerun.core.provenance import signed
from forerun.core.quantities import format_pressure, format_temperature
from forerun.core.references import Reference
from forerun.reporting.cautions import LOCAL_RULES, cautions_of_substance
from forerun.reporting.notebook import Notebook
from forerun.reporting.paper import Paper
from forerun.reporting.plain import number
from forerun.reporting.sources import source_object, sources_printed
from forerun.reporting.table import columns, paragraph, wrapped
from forerun.reporting.words import WHOLE_DEGREE, capital
from forerun.substances.bottles import Bottle

__all__ = ["LookBottle"]


@dataclass(frozen=True, slots=True)
class LookBottle(Notebook):
    """A mixture and where it boils at one pressure.

    Args:
        bottle: what is in it.
        pressure_Pa: the pressure asked for [Pa].
        bubble_K: where it begins to boil [K].
        dew_K: where its vapour begins to condense, the last of it boiled at once [K].
        vapour: (C,) mole fractions of the first vapour [-].
        references: what the answer rests on.
        notes: sentences of the equilibrium.
        asked: the question, whole enough to be asked again; empty where it is not.
    """

    bottle: Bottle
    pressure_Pa: float
    bubble_K: float
    dew_K: float
    vapour: tuple[float, ...]
    references: tuple[Reference, ...]
    notes: tuple[str, ...]
    asked: Mapping[str, Any] = field(default_factory=dict, compare=False, repr=False)

    @property
    def warnings(self) -> tuple[str, ...]:
        """Sentences that the user should read."""
        own = (
            "Bottles differ: the composition is typical, the ranges hold four in five. Charge the "
            "components one by one where you know them better."
        )
        return (own, *self.notes)

    @property
    def finding(self) -> str:
        """What it is and where it boils, in one sentence."""
        low, high = (format_temperature(t, 0.1) for t in (self.bubble_K, self.dew_K))
        pressure = format_pressure(self.pressure_Pa, None)
        count = len(self.bottle.parts)
        return (
            f"{capital(self.bottle.name)}: a mixture, here of {count}; begins to boil at {low}, "
            f"its vapour to condense at {high}, at {pressure}"
        )

    def to_json(self) -> dict[str, Any]:
        """Return the object that ``look --json`` prints for a mixture."""
        bottle = self.bottle
        rows = zip(bottle.parts, bottle.mole_fractions, self.vapour, strict=True)
        return signed(
            {
                "name": bottle.name,
                "synonyms": list(bottle.synonyms),
                "mixture": True,
                "parts": [
                    {
                        "substance": p.substance.name,
                        "cas": p.substance.cas,
                        "mass_fraction": number(p.mass_fraction),
                        "mass_fraction_band": [number(p.low), number(p.high)],
                        "mole_fraction": number(x),
                        "vapour_mole_fraction": number(y),
                    }
                    for p, x, y in rows
                ],
                "density_20C_kg_m3": number(bottle.density),
                "sold_as_boiling_K": [number(bottle.sold_low), number(bottle.sold_high)],
                "at": {
                    "pressure_Pa": number(self.pressure_Pa),
                    "bubble_point_K": number(self.bubble_K),
                    "dew_point_K": number(self.dew_K),
                },
                "references": source_object(self.references),
                "warnings": list(self.warnings),
            },
            self.asked,
        )

    def printed(self, paper: Paper) -> list[str]:
        """Return the answer in lines for a person: finding, what is in it, cautions."""
        bottle = self.bottle
        lines = [paper.ink(line, "bold") for line in wrapped(self.finding, paper)]
        low, high = (
            format_temperature(t, WHOLE_DEGREE) for t in (bottle.sold_low, bottle.sold_high)
        )
        sold = f"sold as boiling from {low} to {high} · {bottle.density / 1e3:.3f} g/mL at 20 °C"
        lines += [paper.ink(line, "grey") for line in wrapped(sold, paper)]
        rows = [
            (
                p.substance.name,
                f"{100.0 * p.mass_fraction:.3g}",
                f"{100.0 * p.low:.3g} to {100.0 * p.high:.3g}",
                f"{100.0 * x:.1f}",
                format_temperature(p.substance.boiling_point.value, 0.1),
            )
            for p, x in zip(bottle.parts, bottle.mole_fractions, strict=True)
        ]
        head = ("in it", "wt%", "in four of five", "mol%", "boils")
        lines += ["", *columns(head, rows, paper, left=1)]
        kept = [
            f"{capital(p.substance.name)}: {c[0].lower()}{c[1:]}" if c.startswith("It") else c
            for p in bottle.parts
            for c in cautions_of_substance(p.substance)
            if c != LOCAL_RULES
        ]
        told = (*self.warnings, *kept, LOCAL_RULES)
        lines += paragraph("Look out", told, paper, "amber", "bold")
        return lines + sources_printed(self.references, paper)
