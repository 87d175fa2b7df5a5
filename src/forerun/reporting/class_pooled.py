"""A class pooled: as text, as JSON, as one table and one drawing; benches are codes."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np

from forerun.core.provenance import signed
from forerun.core.quantities import format_fraction, format_temperature_difference, format_volume
from forerun.reporting.class_pooled_picture import pooled_drawing
from forerun.reporting.paper import Paper
from forerun.reporting.plain import number, numbers
from forerun.reporting.table import columns, paragraph, wrapped

if TYPE_CHECKING:
    from forerun.reviewing.findings import Diagnosis
    from forerun.reviewing.fitting_run import Estimate
    from forerun.reviewing.pooled import Apart, Pooled

__all__ = ["PooledClass", "pooled_object"]

_NONE = "–"


def pooled_object(pooled: Pooled, findings: Mapping[str, Diagnosis]) -> dict[str, Any]:
    """Return a class as JSON has it, SI units.

    Args:
        pooled: curves, plates and who stands apart.
        findings: by bench, where its log was diagnosed.
    """
    apart = {one.bench: one for one in pooled.apart}
    return {
        "benches": [
            {
                "code": code,
                "over_m3": float(over),
                "head_K": numbers(heads),
                "plates": _plates_object(pooled.plates.get(code)),
                "apart": None
                if code not in apart
                else {
                    "head_K": number(apart[code].head_K),
                    "cause": apart[code].cause,
                    "basis": apart[code].basis,
                },
                "findings": [
                    {"name": f.name, "label": f.causes[0].label, "probability": f.probability}
                    for f in (findings[code].findings if code in findings else ())
                ],
            }
            for code, over, heads in zip(
                pooled.benches, pooled.over_m3, pooled.heads_K, strict=True
            )
        ],
        "distillate_m3": numbers(pooled.volume_m3),
        "head_K": {
            "p10": numbers(pooled.p10_K),
            "p50": numbers(pooled.p50_K),
            "p90": numbers(pooled.p90_K),
        },
    }


def _away(apart: Apart) -> str:
    if not np.isfinite(apart.head_K):
        return ""
    return f"{format_temperature_difference(apart.head_K, 0.1)} from the class; "


def _plates_object(found: Estimate | None) -> dict[str, Any] | None:
    return None if found is None else {"value": found.value, "band": [found.low, found.high]}


@dataclass(frozen=True, slots=True)
class PooledClass:
    """A class pooled.

    Args:
        title: of the sheet.
        pooled: curves, plates and who stands apart.
        findings: by bench, where its log was diagnosed.
        unusable: why not, by code of the bench.
        warnings: sentences that the user should read.
        asked: the question, whole enough to be asked again; empty where it is not.
    """

    title: str
    pooled: Pooled
    findings: Mapping[str, Diagnosis]
    unusable: Mapping[str, str]
    warnings: tuple[str, ...] = ()
    asked: Mapping[str, Any] = field(default_factory=dict, compare=False, repr=False)

    @property
    def finding(self) -> str:
        """What the class shows, in one sentence."""
        pooled = self.pooled
        width = pooled.p90_K - pooled.p10_K
        width = width[np.isfinite(width)]
        many = len(pooled.benches)
        if many == 1:
            return "One bench alone."
        usual = format_temperature_difference(float(np.median(width)), 0.1)
        told = f"{many} benches: four of five heads lie within {usual} at equal distillate"
        if not pooled.apart:
            return f"{told}; no bench stands apart."
        return f"{told}; apart from the others: {', '.join(a.bench for a in pooled.apart)}."

    def csv(self) -> str:
        """Return the one table."""
        return self.pooled.csv()

    def drawing(self) -> str:
        """Return the one drawing, as SVG."""
        return pooled_drawing(self.pooled, self.finding)

    def to_json(self) -> dict[str, Any]:
        """Return the class, SI units."""
        return signed(
            {
                "title": self.title,
                "finding": self.finding,
                **pooled_object(self.pooled, self.findings),
                "unusable": dict(self.unusable),
                "warnings": list(self.warnings),
            },
            self.asked,
        )

    def printed(self, paper: Paper) -> list[str]:
        """Return the class in lines for a person."""
        pooled = self.pooled
        rows = [
            [code, *self._plates(code), format_volume(float(over)), self._seen(code)]
            for code, over in zip(pooled.benches, pooled.over_m3, strict=True)
        ]
        head = ["bench", "plates", "80 % band", "came over", "in its log"]
        lines = [paper.ink(line, "bold") for line in wrapped(self.finding, paper)]
        lines += ["", *columns(head, rows, paper)]
        apart = [f"{a.bench}: {_away(a)}{a.cause}." for a in pooled.apart]
        lines += paragraph("Apart from the others", apart, paper, "bold")
        missing = [f"{code}: {why}" for code, why in self.unusable.items()]
        lines += paragraph("Not used", missing, paper, "amber", "bold")
        return lines + paragraph("Look out", self.warnings, paper, "amber", "bold")

    def _plates(self, code: str) -> tuple[str, str]:
        found = self.pooled.plates.get(code)
        if found is None:
            return _NONE, _NONE
        return f"{found.value:.1f}", f"{found.low:.1f} to {found.high:.1f}"

    def _seen(self, code: str) -> str:
        found = self.findings[code].findings if code in self.findings else ()
        if not found:
            return _NONE
        first = max(found, key=lambda f: f.probability)
        return f"{first.causes[0].label} {format_fraction(first.probability, '%', 0.05)}"
