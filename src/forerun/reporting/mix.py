"""Whether boiling parts substances, for people and as the contract's object."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt

from forerun.core.errors import BadInput
from forerun.core.provenance import signed
from forerun.core.references import Reference
from forerun.equilibrium.band_rules import origin_of
from forerun.reporting.bands import Span, value_with_band
from forerun.reporting.boiling_picture import boiling_picture
from forerun.reporting.mix_finding import mixed
from forerun.reporting.mix_more import More
from forerun.reporting.mix_parts import BoilingDiagram, BubblePoint, PairVolatility
from forerun.reporting.mix_plot import boiling_diagram
from forerun.reporting.notebook import Notebook
from forerun.reporting.paper import Paper
from forerun.reporting.plain import by_name, number, numbers
from forerun.reporting.sources import source_object, sources_printed
from forerun.reporting.table import columns, paragraph, wrapped
from forerun.reporting.triangle import triangle_picture
from forerun.reporting.words import listed

if TYPE_CHECKING:
    from forerun.equilibrium.azeotropes import Azeotrope, PossibleAzeotrope
    from forerun.equilibrium.azeotropes_search import SingularPoint
    from forerun.equilibrium.mixture import Mixture

__all__ = ["Mix", "azeotrope_object"]

Floats = npt.NDArray[np.float64]

_ZERO_C = 273.15  # K
_BASIS_WORDS = {
    "fitted": "fitted to measured points",
    "predicted": "predicted from groups",
    "ideal": "taken as ideal",
}
_PRINT_WORDS = "fitted to an azeotrope in print"  # and to nothing else


@dataclass(frozen=True, slots=True)
class Mix(Notebook):
    """Substances at one pressure.

    Args:
        mixture: the substances with what their equilibrium rests on.
        pressure_Pa: [Pa].
        azeotropes: those found, coldest first.
        pairs: relative volatilities.
        references: what the answer rests on.
        notes: sentences from the search for azeotropes.
        bubble: the boiling point of one liquid, where asked for.
        diagram: the boiling diagram, where asked for.
        possible: pairs without a found azeotrope that may have one all the same.
        more: order of the products, layers, steam, other pressures.
        points: pure liquids and azeotropes as nodes and saddles.
        asked: the question, whole enough to be asked again; empty where it is not.
    """

    mixture: Mixture
    pressure_Pa: float
    azeotropes: tuple[Azeotrope, ...]
    pairs: tuple[PairVolatility, ...]
    references: tuple[Reference, ...] = ()
    notes: tuple[str, ...] = ()
    bubble: BubblePoint | None = None
    diagram: BoilingDiagram | None = None
    possible: tuple[PossibleAzeotrope, ...] = ()
    more: More = field(default_factory=More)
    points: tuple[SingularPoint, ...] = ()
    asked: Mapping[str, Any] = field(default_factory=dict, compare=False, repr=False)

    @property
    def warnings(self) -> tuple[str, ...]:
        """Sentences that the user should read, each once."""
        names = self.mixture.names
        own = [
            f"{listed([names[k] for k in a.components])}: {a.note}."
            for a in self.azeotropes
            if a.note
        ]
        return tuple(
            dict.fromkeys((*self.mixture.warnings, *self.notes, *own, *self.more.warnings))
        )

    @property
    def finding(self) -> str:
        """Whether a still parts them, in one sentence."""
        masses = [s.molar_mass for s in self.mixture.substances]
        found = (self.azeotropes, self.pairs, self.possible)
        return mixed(self.mixture.names, masses, self.pressure_Pa, *found)

    def to_json(self) -> dict[str, Any]:
        """Return the object that the contract promises for ``mix``."""
        names = self.mixture.names
        found: dict[str, Any] = {
            "pressure_Pa": number(self.pressure_Pa),
            "components": list(names),
            "azeotropes": [azeotrope_object(a, names) for a in self.azeotropes],
            "possible_azeotropes": [_possible_object(p, names) for p in self.possible],
            "pairs": [_pair_object(p, names) for p in self.pairs],
        }
        if self.bubble is not None:
            found["bubble"] = {
                "mole_fraction": by_name(names, self.bubble.mole_fraction),
                "temperature_K": number(self.bubble.temperature_K),
                "vapour_mole_fraction": by_name(names, self.bubble.vapour_mole_fraction),
                "temperature_band_K": [number(end) for end in self.bubble.temperature_band_K],
                "vapour_mole_fraction_band": {
                    name: [number(low), number(high)]
                    for name, low, high in zip(names, *self.bubble.vapour_band, strict=True)
                },
                "band_origin": self.bubble.band_origin,
                "dissolved": number(self.bubble.dissolved),
            }
        if self.diagram is not None:
            found["curve"] = {
                "x": numbers(self.diagram.x),
                "y": numbers(self.diagram.y),
                "temperature_K": numbers(self.diagram.temperature_K),
            }
        found.update(self.more.to_json(self.mixture))
        found["warnings"] = list(self.warnings)
        found["references"] = source_object(self.references)
        return signed(found, self.asked)

    def printed(self, paper: Paper) -> list[str]:
        """Return the answer in lines for a person: finding, diagram, tables, cautions."""
        names = self.mixture.names
        lines = [paper.ink(line, "bold") for line in wrapped(self.finding, paper)]
        if self.diagram is not None:
            lines += ["", *boiling_diagram(self.diagram, names[0], paper)]
        lines += ["", *self.tables(paper)]
        if self.bubble is not None:
            lines += ["", *_bubble_lines(self.bubble, names, paper)]
        lines += self.more.printed(self.mixture, paper)
        lines += paragraph("Look out", self.warnings, paper, "amber", "bold")
        return lines + sources_printed(self.references, paper)

    def drawing(self) -> str:
        """Return a picture as SVG: the boiling diagram of two, the triangle of three.

        Raises:
            BadInput: the answer was not asked for with a picture in mind.
        """
        if self.more.curve is not None:
            return boiling_picture(self)
        if self.more.ternary is not None:
            return triangle_picture(self)
        raise BadInput("--out", "this answer", "two or three substances for a picture")

    def tables(self, paper: Paper) -> list[str]:
        """Return azeotropes and pairs as tables."""
        names = self.mixture.names
        lines = []
        if self.azeotropes:
            lines += [*_azeotrope_table(self.azeotropes, names, paper), ""]
        return lines + _pair_table(self.pairs, names, paper)


def azeotrope_object(azeotrope: Azeotrope, names: tuple[str, ...]) -> dict[str, Any]:
    """Return an azeotrope as the contract's object.

    Args:
        azeotrope: what was found.
        names: of all components of the mixture.
    """
    return {
        "temperature_K": number(azeotrope.temperature_K),
        "mole_fraction": by_name(names, azeotrope.mole_fraction),
        "mass_fraction": by_name(names, azeotrope.mass_fraction),
        "kind": azeotrope.kind,
        "liquid_phases": azeotrope.liquid_phases,
        "temperature_band_K": [number(end) for end in azeotrope.temperature_band_K],
        "basis": azeotrope.basis,
        "stability": azeotrope.stability,
        "mole_fraction_band": {
            name: [number(low), number(high)]
            for name, low, high in zip(names, *azeotrope.composition_band, strict=True)
        },
        "liquids_mole_fraction": None
        if azeotrope.liquid_compositions is None or azeotrope.liquid_phases == 1
        else [by_name(names, liquid) for liquid in azeotrope.liquid_compositions],
        "models_agreeing": azeotrope.models_agreeing,
        "note": azeotrope.note,
        "probability": number(azeotrope.probability),
        "certainty": azeotrope.certainty,
    }


def _possible_object(possible: PossibleAzeotrope, names: tuple[str, ...]) -> dict[str, Any]:
    return {
        "components": [names[k] for k in possible.components],
        "kind": possible.kind,
        "close_to": " + ".join(names[k] for k in possible.close_to),
        "probability": number(possible.probability),
    }


def _pair_object(pair: PairVolatility, names: tuple[str, ...]) -> dict[str, Any]:
    return {
        "components": [names[k] for k in pair.basis.components],
        "relative_volatility_low": number(pair.low),
        "relative_volatility_high": number(pair.high),
        "basis": pair.basis.basis,
        "band_origin": origin_of(pair.basis),
        "model": " + ".join(pair.basis.models) or "Raoult",
        "sources": list(pair.basis.sources),
        "origin": pair.basis.origin or None,
    }


def _azeotrope_table(
    azeotropes: tuple[Azeotrope, ...], names: tuple[str, ...], paper: Paper
) -> list[str]:
    rows = []
    for found in azeotropes:
        low, high = found.temperature_band_K
        span = Span(low - _ZERO_C, high - _ZERO_C)
        held = [k for k in range(len(names)) if found.mole_fraction[k] > 0.0]
        mass = ", ".join(f"{names[k]} {100.0 * float(found.mass_fraction[k]):.1f}" for k in held)
        mole = ", ".join(f"{100.0 * float(found.mole_fraction[k]):.1f}" for k in held)
        phases = ", two liquids" if found.liquid_phases == 2 else ""
        rows.append(
            (
                value_with_band(found.temperature_K - _ZERO_C, span, "°C"),
                f"{found.kind}{phases}",
                mass,
                mole,
                found.basis,
            )
        )
    return columns(("azeotrope", "kind", "wt%", "mol%", "basis"), rows, paper, left=5)


def _pair_table(
    pairs: tuple[PairVolatility, ...], names: tuple[str, ...], paper: Paper
) -> list[str]:
    rows = []
    for pair in pairs:
        first, second = (names[k] for k in pair.basis.components)
        rows.append(
            (
                f"{first} over {second}",
                f"{pair.low:.3g} to {pair.high:.3g}",
                "fitted to your own points"
                if pair.basis.origin == "own points"
                else _PRINT_WORDS
                if pair.basis.printed and not pair.basis.sources
                else _BASIS_WORDS[pair.basis.basis],
            )
        )
    return columns(("pair", "relative volatility", "basis"), rows, paper, left=3)


def _bubble_lines(bubble: BubblePoint, names: tuple[str, ...], paper: Paper) -> list[str]:
    low, high = (end - _ZERO_C for end in bubble.temperature_band_K)
    temperature = value_with_band(bubble.temperature_K - _ZERO_C, Span(low, high), "°C")
    liquid = listed([_share(n, x) for n, x in zip(names, bubble.mole_fraction, strict=True)])
    parts = zip(names, bubble.vapour_mole_fraction, *bubble.vapour_band, strict=True)
    vapour = listed([f"{n} {_banded(y, low, high)}" for n, y, low, high in parts])
    sentence = f"A liquid of {liquid} (mol%) boils at {temperature}; its vapour holds {vapour}."
    if bubble.dissolved > 0.0:
        sentence += (
            f" {100.0 * bubble.dissolved:.3g} mol% of the liquid are dissolved particles that do "
            "not boil, taken to thin it and nothing else: salting out is not in it."
        )
    return wrapped(sentence, paper)


def _banded(fraction: float, low: float, high: float) -> str:
    return value_with_band(100.0 * fraction, Span(100.0 * low, 100.0 * high), "")


def _share(name: str, fraction: float) -> str:
    return f"{name} {100.0 * float(fraction):.1f}"
