"""The forecast of a run, for people, as a drawing and as the contract's object."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt

from forerun.core.provenance import signed
from forerun.core.quantities import format_number, format_pressure, format_time
from forerun.reporting.cautions import cautions_of_run
from forerun.reporting.curve import Curve, curve_of
from forerun.reporting.cut_rows import CutRow, CutSpans, cut_rows
from forerun.reporting.finding import foreseen
from forerun.reporting.foresee_json import foresee_object, spans_of
from forerun.reporting.gates import gate_object, gates_printed
from forerun.reporting.knowing import knowing_object, knowing_printed
from forerun.reporting.notebook import Notebook
from forerun.reporting.paper import Paper
from forerun.reporting.sources import sources_printed
from forerun.reporting.table import bare_width, columns, paragraph, wrapped
from forerun.reporting.terminal import drawn_in_terminal
from forerun.reporting.words import agreement, bath_words
from forerun.sheets.model import RunSheet
from forerun.still.results import Run

if TYPE_CHECKING:
    from forerun.forecast.ensemble import Forecast
    from forerun.planning.gates_model import Gate

__all__ = ["Foresight"]

Floats = npt.NDArray[np.float64]

_BELOW = 5  # places that what a cut holds is set in, below its line
_WHOLE = 0.02  # plates this near to a whole number are shown as one


@dataclass(frozen=True, slots=True)
class Foresight(Notebook):
    """What a sheet leads to.

    Args:
        sheet: the sheet that was read.
        forecast: the run and its band.
        gates: every safety gate's answer.
        asked: the question, whole enough to be asked again; empty where it is not.
    """

    sheet: RunSheet
    forecast: Forecast
    gates: tuple[Gate, ...] = ()
    asked: Mapping[str, Any] = field(default_factory=dict, compare=False, repr=False)

    @property
    def stopped(self) -> bool:
        """Whether a safety gate says stop."""
        return any(gate.state == "stop" for gate in self.gates)

    @property
    def run(self) -> Run:
        """The run with the values of the sheet itself."""
        return self.forecast.run

    @property
    def warnings(self) -> tuple[str, ...]:
        """Sentences that the user should read, each once."""
        return self.forecast.warnings

    @property
    def finding(self) -> str:
        """What was found, in one sentence."""
        return foreseen(self.sheet, self.run, self._spans())

    def to_json(self) -> dict[str, Any]:
        """Return the object that the contract promises for ``foresee``."""
        found = foresee_object(self.sheet, self.forecast, self.finding, self.warnings)
        gates = [gate_object(gate) for gate in self.gates]
        return signed({**found, **knowing_object(self.forecast), "gates": gates}, self.asked)

    def printed(self, paper: Paper) -> list[str]:
        """Return the answer in lines for a person: finding, curve, cuts, cautions."""
        lines = [paper.ink(line, "bold") for line in wrapped(self.finding, paper)]
        lines += [paper.ink(line, "grey") for line in wrapped(self.subtitle(), paper)]
        lines += ["", *drawn_in_terminal(self.curve(), paper), ""]
        lines += _cut_table(self.rows(), paper)
        lines += self._footnotes(paper)
        lines += knowing_printed(self.forecast, paper)
        lines += ["", *_ledger(self.run, paper)]
        lines += self._cautions(paper)
        return lines

    def drawing(self) -> str:
        """Return the drawing as SVG: against time and against volume, cuts marked."""
        from forerun.reporting.picture import Picture, drawn_as_svg  # noqa: PLC0415 -- if asked for

        return drawn_as_svg(
            Picture(
                title=self.finding,
                subtitle=self.subtitle(),
                description=self._description(),
                curve=self.curve(),
                names=self.run.trace.names,
                rows=self.rows(),
                footnotes=tuple(self._notes()),
            )
        )

    def rows(self) -> tuple[CutRow, ...]:
        """Return receivers and pot in words."""
        return cut_rows(self.run, self._spans())

    def curve(self) -> Curve:
        """Return the curve in bench units, with its fans where there are any."""
        band = self.forecast.band
        along = self.forecast.volume_band
        by_time = None if band is None else (band.time_s, band.p10, band.p90)
        by_volume = None if along is None else (along.volume_m3, along.p10, along.p90)
        return curve_of(self.run.trace, self.run.cuts, by_time=by_time, by_volume=by_volume)

    def subtitle(self) -> str:
        """Return what is in the flask and on it, in one line."""
        sheet = self.sheet
        charge = ", ".join(f"{p.substance.name} {p.text}" for p in sheet.charge)
        pressure = _pressure_words(sheet)
        return " · ".join((charge, _rig_words(sheet), pressure, bath_words(sheet.rig.bath)))

    def _spans(self) -> tuple[CutSpans | None, ...]:
        return spans_of(self.forecast)

    def _description(self) -> str:
        parts = [f"{self.sheet.title}. Head, pot and bath temperature against time and volume."]
        for row in self.rows():
            name = "Pot" if row.badge == "pot" else f"Cut {row.badge}"
            words = ", ".join(w for w in (row.time, row.head, row.volume, row.holds) if w)
            parts.append(f"{name}: {words}.")
        return " ".join(parts)

    def _notes(self) -> list[str]:
        notes = [_band_words(self.forecast)]
        notes.append("Advisory: your institution's stricter rule wins; never distil to dryness.")
        return notes

    def _footnotes(self, paper: Paper) -> list[str]:
        return [paper.ink(line, "grey") for line in wrapped(_band_words(self.forecast), paper)]

    def _cautions(self, paper: Paper) -> list[str]:
        cautions = (*self.warnings, *cautions_of_run(self.sheet, self.run))
        lines = paragraph("Look out", cautions, paper, "amber", "bold")
        lines += gates_printed(self.gates, paper)
        lines += paragraph("Not given, so taken as", self.forecast.defaults, paper, "bold")
        lines += paragraph("Not reckoned with", self.run.unmodelled, paper, "bold")
        return lines + sources_printed(self.run.references, paper)


def _rig_words(sheet: RunSheet) -> str:
    plates = sheet.rig.plates.value
    if plates < _WHOLE:
        return "simple still"
    whole = abs(plates - round(plates)) < _WHOLE
    words = f"{plates:.0f} plates" if whole else f"{plates:.1f} plates"
    ratios = [ratio for _, ratio in sheet.programme.reflux_ratio.points]
    if max(ratios) > 0.0:
        words += f", reflux {_ratio(min(ratios))}"
        words += f" to {_ratio(max(ratios))}" if max(ratios) > min(ratios) else ""
    return words


def _ratio(ratio: float) -> str:
    return "total" if not np.isfinite(ratio) else f"{ratio:g}"


def _pressure_words(sheet: RunSheet) -> str:
    pressures = [pressure for _, pressure in sheet.programme.pressure_Pa.points]
    low, high = min(pressures), max(pressures)
    if high - low < 1e-3 * high:
        return format_pressure(high, None)
    return f"{format_pressure(high)} to {format_pressure(low)}"


def _band_words(forecast: Forecast) -> str:
    if not forecast.members:
        return "No bands: one run with the values as they stand."
    runs = forecast.members - forecast.failed
    return (
        f"Bands: 8 times in 10 the run stays inside ({runs} runs, each with other values of what "
        f"is not known; seed {forecast.seed})."
    )


def _cut_table(rows: Sequence[CutRow], paper: Paper) -> list[str]:
    """The receivers; where the paper is narrow, what they hold stands below each."""
    head = ("cut", "time", "head", "volume", "mass", "mol%")
    cells = [(r.badge, r.time, r.head, r.volume, r.mass, r.composition) for r in rows]
    lines = columns(head, cells, paper, left=len(head))
    if all(bare_width(line) <= paper.width for line in lines):
        return lines
    narrow = columns(head[:-1], [row[:-1] for row in cells], paper, left=len(head) - 1)
    lines = [narrow[0]]
    for line, row in zip(narrow[1:], rows, strict=True):
        lines += [line, *wrapped(row.holds, paper, indent=_BELOW)]
    return lines


def _ledger(run: Run, paper: Paper) -> list[str]:
    """Where every mole went, and how well the accounts close."""
    ledger = run.ledger
    head = ("mmol", "charged", "cuts", "pot", "column", "vented")
    parts = (
        ledger.charge_mol,
        ledger.cuts_mol,
        ledger.residue_mol,
        ledger.holdup_mol,
        ledger.vent_mol,
    )
    rows = [
        (name, *(format_number(1e3 * float(part[k]), 1) for part in parts))
        for k, name in enumerate(run.trace.names)
    ]
    first = "no drop" if run.first_drop_s is None else format_time(run.first_drop_s)
    closing = (
        f"First drop: {first}. What goes in and what comes out agree: moles to "
        f"{agreement(ledger.closure)}, heat to {agreement(run.energy.closure)}."
    )
    return [*columns(head, rows, paper), *(paper.ink(t, "grey") for t in wrapped(closing, paper))]
