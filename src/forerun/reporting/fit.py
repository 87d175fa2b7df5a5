"""A pair fitted to one's own points, for people and as the contract's object."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt

from forerun.core.provenance import signed
from forerun.core.quantities import format_pressure
from forerun.reporting.fit_plot import fit_drawing
from forerun.reporting.mix import azeotrope_object
from forerun.reporting.paper import Paper
from forerun.reporting.plain import number, numbers
from forerun.reporting.sources import source_object, sources_printed
from forerun.reporting.table import columns, paragraph, wrapped
from forerun.reporting.thermoml import thermoml_of
from forerun.reporting.words import capital, listed

if TYPE_CHECKING:
    from forerun.equilibrium.azeotropes import Azeotrope
    from forerun.equilibrium.bubble import BoilingCurve
    from forerun.equilibrium.consistency import ConsistencyTest
    from forerun.equilibrium.fitting_own import OwnFit, OwnPoints
    from forerun.equilibrium.mixture import Mixture
    from forerun.equilibrium.own_pairs import OwnPair

__all__ = ["Fit", "Isotherm", "Taken"]

Floats = npt.NDArray[np.float64]

_ZERO_C = 273.15
_FAR = 1.0  # K: a point this far off is named


@dataclass(frozen=True, slots=True, eq=False)
class Isotherm:
    """Boiling pressures of a pair at one temperature.

    Args:
        temperature_K: [K].
        x: (n,) mole fractions of the first component [-].
        fitted_Pa: (n,) with the fit [Pa].
        bare_Pa: (n,) with the models alone [Pa].
    """

    temperature_K: float
    x: Floats
    fitted_Pa: Floats
    bare_Pa: Floats


@dataclass(frozen=True, slots=True)
class Fit:
    """What the points of a pair gave.

    Args:
        own: the fit as it is kept.
        points: the points.
        found: misses and tests.
        mixture: the pair with the fit.
        pressure_Pa: middle of the measured pressures, where curve and azeotrope are given [Pa].
        isobaric: whether all points were measured at one pressure.
        azeotropes: at that pressure, with the fit.
        curves: boiling curves at that pressure, with the fit and with the models alone.
        isotherm: pressures over composition where the temperature was held instead.
        file: where the fit was saved; None where it was not.
        asked: the question, whole enough to be asked again.
    """

    own: OwnPair
    points: OwnPoints
    found: OwnFit
    mixture: Mixture
    pressure_Pa: float
    isobaric: bool
    azeotropes: tuple[Azeotrope, ...]
    curves: tuple[BoilingCurve, BoilingCurve]
    isotherm: Isotherm | None = None
    file: Path | None = None
    asked: Mapping[str, Any] = field(default_factory=dict, compare=False, repr=False)

    @property
    def warnings(self) -> tuple[str, ...]:
        """Sentences that the user should read."""
        failed = [
            f"The test “{t.test}” is not met ({t.value:.3g}, at most {t.limit:.3g}): {t.words}."
            for t in self.found.tests
            if t.passed is False
        ]
        return (*self.own.notes, *failed, *self._far_points())

    def _far_points(self) -> list[str]:
        miss = self.found.temperature_miss_K
        far = [k for k in range(miss.size) if np.isfinite(miss[k]) and abs(miss[k]) > _FAR]
        if not far:
            return []
        rows = listed([f"{self.points.rows[k]} ({miss[k]:+.1f} K)" for k in far[:6]])
        more = f" and {len(far) - 6} more" if len(far) > 6 else ""
        return [f"Rows far from the fitted curve: {rows}{more}; look at them again."]

    @property
    def finding(self) -> str:
        """How well the points are met, and what follows, in one sentence."""
        names = listed(list(self.own.names))
        found = self.found
        parts = []
        if found.rms_after_K is not None and found.rms_before_K is not None:
            parts.append(
                f"boiling points met within {found.rms_after_K:.2f} K ({found.rms_before_K:.2f} "
                "K before)"
            )
        if found.rms_vapour_after is not None and found.rms_vapour_before is not None:
            parts.append(
                f"vapours within {100 * found.rms_vapour_after:.1f} mol% "
                f"({100 * found.rms_vapour_before:.1f} before)"
            )
        at = format_pressure(self.pressure_Pa, None)
        if self.azeotropes:
            first = self.azeotropes[0]
            share = 100.0 * float(first.mole_fraction[0])
            parts.append(
                f"azeotrope at {first.temperature_K - _ZERO_C:.1f} °C with {share:.1f} mol% "
                f"{self.own.names[0]} at {at}"
            )
        else:
            parts.append(f"no azeotrope at {at}")
        return f"{capital(names)}: {'; '.join(parts)}"

    def to_json(self) -> dict[str, Any]:
        """Return the object that the contract promises for ``fit``."""
        found, names = self.found, self.mixture.names
        tests = [_test_object(t) for t in found.tests]
        made = next((t for t in tests if t["passed"] is not None), tests[0])
        base = " + ".join(self.own.base_models) or "Raoult"
        return signed(
            {
                "finding": self.finding,
                "components": list(names),
                "model": f"{base} with Redlich-Kister terms a + b (350 K/T - 1)",
                "coefficients": [number(v) for term in self.own.terms for v in term],
                "covariance": [numbers(row) for row in self.own.covariance],
                "rms": {
                    "temperature_K": number(found.rms_after_K),
                    "vapour_mole_fraction": number(found.rms_vapour_after),
                },
                "rms_before": {
                    "temperature_K": number(found.rms_before_K),
                    "vapour_mole_fraction": number(found.rms_vapour_before),
                },
                "points": len(self.points.rows),
                "residuals": {
                    "row": list(self.points.rows),
                    "x1": numbers(self.points.liquid_fraction),
                    "temperature_K": numbers(found.temperature_miss_K),
                    "vapour_mole_fraction": numbers(found.vapour_miss),
                },
                "consistency": {k: made[k] for k in ("test", "passed", "value")},
                "consistency_tests": tests,
                "scatter_K": number(self.own.scatter_K),
                "azeotrope": azeotrope_object(self.azeotropes[0], names)
                if self.azeotropes
                else None,
                "pressure_Pa": number(self.pressure_Pa),
                "basis": "fitted",
                "origin": "own points",
                "label": self.own.label,
                "file": None if self.file is None else str(self.file),
                "warnings": list(self.warnings),
                "references": source_object(self.mixture.references),
            },
            self.asked,
        )

    def printed(self, paper: Paper) -> list[str]:
        """Return the answer in lines for a person: finding, coefficients, tests, cautions."""
        lines = [paper.ink(line, "bold") for line in wrapped(self.finding, paper)]
        count = f"{len(self.points.rows)} points · {self.own.label}"
        lines += [paper.ink(line, "grey") for line in wrapped(count, paper)]
        sigma = np.sqrt(np.diag(np.array(self.own.covariance)))
        rows = [
            (
                f"{'first' if k == 0 else 'second' if k == 1 else 'third'} term",
                f"{a:.4f} ± {sigma[2 * k]:.4f}",
                f"{b:.3f} ± {sigma[2 * k + 1]:.3f}",
            )
            for k, (a, b) in enumerate(self.own.terms)
        ]
        lines += ["", *columns(("added to ln γ", "a", "b"), rows, paper, left=1)]
        tests = [
            (
                t.test,
                "not made" if t.passed is None else "met" if t.passed else "not met",
                "" if t.value is None else f"{t.value:.3g}",
                "" if t.limit is None else f"{t.limit:.3g}",
            )
            for t in self.found.tests
        ]
        lines += ["", *columns(("test", "", "found", "at most"), tests, paper, left=2)]
        if self.file is not None:
            kept = f"Kept in {self.file}: mix and foresee use it from now on."
            lines += ["", *wrapped(kept, paper)]
        lines += paragraph("Look out", self.warnings, paper, "amber", "bold")
        return lines + sources_printed(self.mixture.references, paper)

    def drawing(self) -> str:
        """Return points, curves and what is left over as an SVG file."""
        return fit_drawing(self)

    def thermoml(self) -> str:
        """Return the points as measured in ThermoML, see `forerun.reporting.thermoml`."""
        return thermoml_of(
            self.mixture.substances, self.points, self.own.label, isobaric=self.isobaric
        )


@dataclass(frozen=True, slots=True)
class Taken:
    """A fitted pair that came into the library, or left it.

    Args:
        own: the pair.
        file: its place.
        replaced: whether another fit of this pair was there before.
        forgotten: whether it was removed instead.
    """

    own: OwnPair
    file: Path
    replaced: bool = False
    forgotten: bool = False

    @property
    def warnings(self) -> tuple[str, ...]:
        """Sentences that the user should read."""
        return self.own.notes

    def to_json(self) -> dict[str, Any]:
        """Return what happened as an object."""
        return signed(
            {
                "components": list(self.own.names),
                "label": self.own.label,
                "points": len(self.own.points),
                "file": str(self.file),
                "replaced": self.replaced,
                "forgotten": self.forgotten,
                "warnings": list(self.warnings),
            }
        )

    def printed(self, paper: Paper) -> list[str]:
        """Return what happened in lines for a person."""
        names = capital(listed(list(self.own.names)))
        if self.forgotten:
            words = f"{names}: your own fit is removed; the package's own takes its place."
        else:
            before = ", in place of an earlier one" if self.replaced else ""
            words = (
                f"{names}: a fit to {len(self.own.points)} points ({self.own.label}) is in your "
                f"library{before}; mix and foresee use it from now on."
            )
        return [*wrapped(words, paper), *paragraph("Look out", self.warnings, paper, "amber")]


def _test_object(test: ConsistencyTest) -> dict[str, Any]:
    return {
        "test": test.test,
        "passed": test.passed,
        "value": number(test.value),
        "limit": number(test.limit),
        "words": test.words,
    }
