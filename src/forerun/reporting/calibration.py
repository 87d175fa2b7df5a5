"""The guide to a calibration run: what to charge, when to sample, what the samples will tell."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from forerun.core.formats import (
    format_number,
    format_pressure,
    format_temperature,
    format_time,
    format_volume,
)
from forerun.core.provenance import signed
from forerun.planning.calibration import Calibration, settled_s
from forerun.planning.gates_model import Gate
from forerun.reporting.cautions import LOCAL_RULES
from forerun.reporting.gates import gate_object, gates_printed
from forerun.reporting.paper import Paper
from forerun.reporting.table import columns, paragraph, wrapped
from forerun.sheets.model import RunSheet
from forerun.sheets.variants import form_of
from forerun.sheets.writing import toml_of
from forerun.still.results import Run

__all__ = ["Guide"]

_PACKED = ("helices", "beads", "sponge", "rings", "saddles")


@dataclass(frozen=True, slots=True)
class Guide:
    """A calibration run, planned.

    Args:
        plan: pair, amounts and what they will show.
        sheet: of that run.
        run: it, at total reflux.
        gates: of it.
        asked: the question, so that it can be asked again; None where it is not known whole.
    """

    plan: Calibration
    sheet: RunSheet
    run: Run
    gates: tuple[Gate, ...]
    asked: Mapping[str, Any] | None = None

    @property
    def warnings(self) -> tuple[str, ...]:
        """Nothing beside the gates: that nothing comes over is meant."""
        return self.sheet.warnings

    @property
    def stopped(self) -> bool:
        """Whether a gate says stop."""
        return any(gate.state == "stop" for gate in self.gates)

    @property
    def finding(self) -> str:
        """What to do, in one sentence."""
        low, middle, high = self.plan.plates
        light, heavy = self.plan.charge_m3
        digits = 2 if self.plan.sigma < 0.1 else 1
        return (
            f"To measure {self._column}: {format_volume(light)} {self.plan.light.name} and "
            f"{format_volume(heavy)} {self.plan.heavy.name} at total reflux; a sample of the head "
            f"and one of the pot tell its plates to ±{format_number(self.plan.sigma, digits)} "
            f"(expected {middle:.1f}, {low:.1f} to {high:.1f})."
        )

    @property
    def steps(self) -> tuple[str, ...]:
        """What to do, in order, each with its figure; the last is what to type after the run."""
        last = "forerun review calibration.toml --readings log.csv --assays samples.csv --keep"
        return (*self.work, last)

    @property
    def work(self) -> tuple[str, ...]:
        """What to do at the bench, in order, each with its figure."""
        plan, trace = self.plan, self.run.trace
        packed = any(word in self.sheet.rig.column for word in _PACKED)
        ready = settled_s(self.run)
        over = float(trace.bath_temperature_K[-1] - trace.pot_temperature_K[-1])
        first = [
            f"Charge {format_volume(plan.charge_m3[0])} {plan.light.name} and "
            f"{format_volume(plan.charge_m3[1])} {plan.heavy.name} with a fresh boiling aid, "
            f"at {format_pressure(plan.pressure_Pa)}. The amounts need not be exact: the samples "
            "count.",
            "Set the head to return everything. Coolant on before the bath.",
            f"Bath {over:.0f} K over the pot, near "
            f"{format_temperature(float(trace.bath_temperature_K[-1]))} in the end.",
        ]
        if packed:
            first.append(
                "Once the vapour is at the head, raise the bath until liquid stands in the "
                "packing, then let it drain and go back: dry packing works badly (common practice)."
            )
        return (
            *first,
            f"Wait until {format_time(ready)} after heating began, or longer, until the head has "
            f"stood at about {format_temperature(float(trace.head_temperature_K[-1]))} for 15 min.",
            "Let the first two or three drops of the head go (common practice), then take some "
            "drops from the head and as much from the pot, cold, into closed vials. Both are hot.",
            f"Analyse both by gas chromatography with response factors, as wt% {plan.light.name}.",
        )

    @property
    def assays(self) -> str:
        """The table of samples to be filled in, as CSV."""
        rows = [f"{place},gc_mass,{self.plan.light.name},,wt%" for place in ("head", "pot")]
        return "\n".join(("cut,method,substance,value,unit", *rows, ""))

    def written(self) -> str:
        """Return the sheet of the run as TOML."""
        return toml_of(self.sheet)

    def to_json(self) -> dict[str, Any]:
        """Return everything as one object, SI units."""
        plan = self.plan
        found = {
            "finding": self.finding,
            "column": self.sheet.rig.column,
            "passport": form_of(self.sheet).rig.passport,
            "pair": [plan.light.name, plan.heavy.name],
            "charge_m3": list(plan.charge_m3),
            "plates": list(plan.plates),
            "head_mole_fraction": list(plan.head),
            "pot_mole_fraction": list(plan.pot),
            "plates_sigma": plan.sigma,
            "settled_s": settled_s(self.run),
            "head_temperature_K": float(self.run.trace.head_temperature_K[-1]),
            "bath_temperature_K": float(self.run.trace.bath_temperature_K[-1]),
            "steps": list(self.steps),
            "assays": self.assays,
            "sheet": self.written(),
            "gates": [gate_object(gate) for gate in self.gates],
            "not_modelled": list(self.not_modelled()),
        }
        return signed(found, self.asked)

    def not_modelled(self) -> Sequence[str]:
        """Return what the guide leaves out."""
        return (
            "what the neck condenses beyond the sheet's heat loss works like a part of a plate and "
            "is counted with the column",
            "an assay by refractive index or density doubts more than one by gas chromatography",
        )

    def printed(self, paper: Paper) -> list[str]:
        """Return it for a person."""
        plan = self.plan
        lines = [*wrapped(self.finding, paper), ""]
        lines += gates_printed(self.gates, paper)
        numbered = [f"{k}. {step}" for k, step in enumerate(self.steps, 1)]
        for step in numbered:
            lines += wrapped(step, paper)
        rows = [
            (f"{count:.1f}", f"{100.0 * head:.1f}", f"{100.0 * pot:.1f}")
            for count, head, pot in zip(plan.plates, plan.head, plan.pot, strict=True)
        ]
        what = f"mol% {plan.light.name}"
        lines += ["", *columns(("plates", f"{what} in head", "in pot"), rows, paper)]
        lines += ["", "samples.csv", *self.assays.rstrip("\n").split("\n"), ""]
        lines += paragraph("Not modelled", self.not_modelled(), paper, "bold")
        return [*lines, *wrapped(LOCAL_RULES, paper)]

    @property
    def _column(self) -> str:
        name = form_of(self.sheet).rig.passport
        kind = self.sheet.rig.column
        return f'"{name}" ({kind})' if name else ("the column" if kind == "none" else f"a {kind}")
