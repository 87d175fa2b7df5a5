"""The review of a run, for people, as a drawing and as the contract's object."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from forerun.core.errors import BadInput
from forerun.core.provenance import signed
from forerun.core.quantities import (
    format_mass,
    format_number,
    format_temperature,
    format_time,
)
from forerun.records.assays import METHODS
from forerun.records.readings import CHANNELS
from forerun.reporting.bands import Span, value_with_band
from forerun.reporting.curve import Curve
from forerun.reporting.cut_rows import strength_words
from forerun.reporting.findings import findings_said, findings_told
from forerun.reporting.notebook import Notebook
from forerun.reporting.paper import Paper
from forerun.reporting.plain import numbers
from forerun.reporting.review_curve import curve_of_readings
from forerun.reporting.review_json import boiling_range, review_object
from forerun.reporting.sources import sources_printed
from forerun.reporting.table import columns, paragraph, wrapped
from forerun.reporting.terminal import drawn_in_terminal
from forerun.reporting.words import listed
from forerun.reviewing.again import purity_of
from forerun.reviewing.findings import Diagnosis
from forerun.reviewing.fitting_run import Estimate
from forerun.reviewing.ledger import Line
from forerun.reviewing.next_sheet import next_table
from forerun.reviewing.review import Review
from forerun.reviewing.scoring import Score
from forerun.sheets.resolving import load
from forerun.sheets.writing import toml_of

__all__ = ["Reviewed"]

_THIN = "\N{NARROW NO-BREAK SPACE}"
_PLACES = {
    "pot": "pot",
    "column": "column, head",
    "trap": "trap",
    "lost": "lost",
    "charge": "charged",
}


@dataclass(frozen=True, slots=True)
class Reviewed(Notebook):
    """What a run gave.

    Args:
        review: of the run.
        score: forecast against record, None where it was not asked for.
        standing: how the forecasts did over all runs so far; empty where nobody asked.
        diagnosis: what the log shows that it should not, None where nobody looked.
        asked: the question, whole enough to be asked again; empty where it is not.
    """

    review: Review
    score: Score | None = None
    standing: str = ""
    diagnosis: Diagnosis | None = None
    asked: Mapping[str, Any] = field(default_factory=dict, compare=False, repr=False)

    @property
    def warnings(self) -> tuple[str, ...]:
        """Sentences that the user should read, each once."""
        return self.review.warnings

    @property
    def finding(self) -> str:
        """What was found, in one sentence."""
        return f"{self._best()}; {self._missing()}"

    def curve(self) -> Curve | None:
        """Return the readings in bench units; None where no thermometer was read."""
        return curve_of_readings(self.review)

    def drawing(self, title: str = "") -> str:
        """Return the readings as SVG, against time and against volume, receivers marked.

        Args:
            title: above the picture; the finding when left out.

        Raises:
            BadInput: no thermometer was read.
        """
        from forerun.reporting.picture import Picture, drawn_as_svg  # noqa: PLC0415 -- if asked for

        curve = self.curve()
        if curve is None:
            raise BadInput("readings", "no temperature", "a log with head_C, pot_C or bath_C")
        about = self.review.sheet.title
        words = f"{about}. What was read, against time and volume."
        names = self.review.account.names
        return drawn_as_svg(Picture(title or self.finding, about, words, curve, names, (), ()))

    def series(self) -> dict[str, Any]:
        """Return the readings as they were understood, in SI."""
        log = self.review.readings
        channels = {name: log.channel(name) for name in CHANNELS}
        read = {k: numbers(v) for k, v in channels.items() if np.isfinite(v).any()}
        return {"time_s": numbers(log.time_s), **read}

    def to_json(self) -> dict[str, Any]:
        """Return the object that the contract promises for ``review``."""
        found = review_object(self.review, self.finding, self.score, self.diagnosis)
        return signed({**found, "standing": self.standing or None}, self.asked)

    def printed(self, paper: Paper) -> list[str]:
        """Return the answer in lines for a person: finding, curve, cuts, account, cautions."""
        lines = [paper.ink(line, "bold") for line in wrapped(self.finding, paper)]
        curve = self.curve()
        if curve is not None:
            lines += ["", *drawn_in_terminal(curve, paper)]
        lines += ["", *self._cuts(paper), *self._notes(paper)]
        lines += ["", *self._account(paper)]
        lines += paragraph("Cannot be right", self.suspects(), paper, "amber", "bold")
        if self.diagnosis is not None:
            lines += findings_told(self.diagnosis, paper)
        lines += paragraph("What the glass did", self.glass(), paper, "bold")
        lines += paragraph("Again or stop", self.again(), paper, "bold")
        lines += paragraph("Run otherwise", self.otherwise(), paper, "bold")
        lines += paragraph("Forecast and record", self.against(), paper, "bold")
        lines += paragraph("Look out", self.review.warnings, paper, "amber", "bold")
        lines += paragraph("Not examined", self.not_examined(), paper, "bold")
        return lines + sources_printed(self.review.references, paper)

    def _best(self) -> str:
        review, account = self.review, self.review.account
        receivers = [x for x in account.lines if x.place.isdecimal() and x.mass_kg > 1e-5]
        if not receivers:
            return "Nothing came over"
        aim = review.sheet.aim
        if aim.substance is None:
            line = max(receivers, key=lambda x: x.mass_kg)
            wanted = int(np.argmax(line.by_component_kg))
            return f"Cut {line.place}: {_mass(line)}, {_strength(self.review, line, wanted)}"
        wanted = account.names.index(aim.substance.name)
        basis = aim.purity_basis
        purity = {
            x.place: purity_of(x.by_component_kg, wanted, basis, review.sheet) for x in receivers
        }
        good = [x for x in receivers if aim.purity is not None and purity[x.place] >= aim.purity]
        line = max(good or receivers, key=lambda x: float(x.by_component_kg[wanted]))
        share = 100.0 * float(line.by_component_kg[wanted] / review.sheet.charge[wanted].mass_kg)
        words = f"Cut {line.place}: {_mass(line)}, {_strength(review, line, wanted)}"
        words += f", {share:.0f}{_THIN}% of what was charged"
        if aim.purity is not None and not good:
            words += ", not yet pure enough"
        return words

    def _missing(self) -> str:
        account = self.review.account
        lost = account.line("lost")
        charged = account.charge.mass_kg
        if lost is None or not any(x.measured for x in account.lines):
            return "nothing was weighed, so no account can be made"
        if lost.mass_kg < lost.band_kg:
            most = format_mass(lost.mass_kg + lost.band_kg, lost.band_kg)
            return f"at most {most} of {1e3 * charged:.0f}{_THIN}g is missing"
        return f"{_mass(lost)} of {1e3 * charged:.0f}{_THIN}g is missing"

    def _cuts(self, paper: Paper) -> list[str]:
        head = ("cut", "time", "range", "mass", "volume", "mol%")
        return columns(head, self.cut_cells(), paper, left=len(head))

    def cut_cells(self) -> list[tuple[str, ...]]:
        """Return the receivers and the pot in words, one row each."""
        rows: list[tuple[str, ...]] = []
        for line in self.review.account.lines:
            if not (line.place.isdecimal() or line.place == "pot"):
                continue
            read = next((c for c in self.review.observed if str(c.number) == line.place), None)
            time = f"{read.start_s / 60:.0f}–{read.end_s / 60:.0f}{_THIN}min" if read else ""
            volume = f"{1e6 * line.volume_m3:.1f}{_THIN}mL"
            cells = (_mass(line), volume, _composition(self.review, line))
            if not line.measured:
                cells = (f"({cells[0]})", f"({cells[1]})", f"({cells[2]})")
            rows.append((line.place, time, boiling_range(read) if read else "", *cells))
        return rows

    def _notes(self, paper: Paper) -> list[str]:
        return [paper.ink(t, "grey") for note in self.cut_notes() for t in wrapped(note, paper)]

    def cut_notes(self) -> list[str]:
        """Return what belongs below the receivers: brackets and plateaus, in sentences."""
        notes = []
        if any(not x.measured for x in self.review.account.lines if x.place.isdecimal()):
            notes.append("In brackets: nothing was measured there, the forecast stands in.")
        seen = self.review.analysed
        unseen = [x.place for x in self._filled() if x.measured and x.place not in seen]
        if unseen:
            places = listed([f"cut {p}" if p.isdecimal() else f"the {p}" for p in unseen])
            notes.append(
                f"Not analysed: {places}. What they are made of is the forecast's, brought to "
                "agree with the account."
            )
        for plateau, standard in zip(self.review.plateaus, self.review.standard_K, strict=True):
            notes.append(
                f"Plateau {plateau.start_s / 60:.0f}–{plateau.end_s / 60:.0f}{_THIN}min at "
                f"{format_temperature(plateau.temperature_K)}, "
                f"{format_temperature(float(standard))} at 760{_THIN}mmHg."
            )
        return notes

    def _filled(self) -> list[Line]:
        lines = self.review.account.lines
        return [x for x in lines if (x.place.isdecimal() or x.place == "pot") and x.mass_kg > 1e-5]

    def analysed(self) -> tuple[str, ...]:
        """Return every result of an assay as it was written, with its method."""
        said = []
        for row in self.review.assays.rows:
            place = f"cut {row.cut}" if row.cut.isdecimal() else row.cut
            what = f"{row.substance}, " if row.substance else ""
            factor = f", response factor {row.response:g}" if row.response is not None else ""
            said.append(f"{place}: {what}{METHODS[row.method]}, {row.text}{factor}.")
        return tuple(said)

    def _account(self, paper: Paper) -> list[str]:
        return columns(self.account_head(), self.account_cells(), paper)

    def account_head(self) -> tuple[str, ...]:
        """Return the headings of the account."""
        return ("g", *self.review.account.names, "together", "")

    def account_cells(self) -> list[tuple[str, ...]]:
        """Return where every gram went, one row for each place, the charge first."""
        account = self.review.account
        rows = []
        for line in (account.charge, *account.lines):
            name = _PLACES.get(line.place, f"cut {line.place}")
            parts = [
                value_with_band(1e3 * m, Span(1e3 * (m - b), 1e3 * (m + b)), "")
                for m, b in zip(line.by_component_kg, line.component_band_kg, strict=True)
            ]
            rows.append((name, *parts, _mass(line), "" if line.measured else "by the forecast"))
        return rows

    def suspects(self) -> tuple[str, ...]:
        """Return what cannot be right, in sentences."""
        suspects = self.review.account.suspects
        if not suspects:
            return ()
        first, *others = suspects
        more = f" Next best: {listed([s.sentence.lower() for s in others])}." if others else ""
        return (f"{first.sentence[0].upper()}{first.sentence[1:]}.{more}",)

    def glass(self) -> tuple[str, ...]:
        """Return what the still was found to be, in sentences."""
        review = self.review
        said = []
        if review.plates is not None:
            by = (
                "samples of head and pot at total reflux"
                if review.at_total_reflux is not None
                else "the run"
            )
            said.append(
                f"Plates between pot and head: {_estimate(review.plates, 1.0, '', 1)}, by {by}."
            )
        if review.fit is None:
            return tuple(said)
        for name, words, scale, unit, decimals in (
            ("heat_transfer_W_K", "Heat from the bath", 1.0, "W/K", 2),
            ("heat_loss_W_K", "Heat lost by column and neck", 1.0, "W/K", 2),
            ("holdup_m3", "Held up by the column", 1e6, "mL", 1),
            ("thermometer_offset_K", "The head thermometer reads high by", 1.0, "K", 1),
        ):
            found = review.fit.get(name)
            if found is not None:
                told = "" if found.learnt > 0.15 else "; the readings say little of it"
                said.append(f"{words}: {_estimate(found, scale, unit, decimals)}{told}.")
        said.append(f"With these the head is met within {review.fit.head_rms_K:.1f}{_THIN}K.")
        return tuple(said)

    def next_sheet(self) -> str | None:
        """Return the run sheet of the off-cuts that would be run again as TOML, None for none."""
        places = self.review.again.places
        if not places:
            return None
        return toml_of(load(next_table(self.review.sheet, self.review.account, places)))

    def again(self) -> tuple[str, ...]:
        """Return whether another run is worth it, in sentences."""
        again = self.review.again
        if not again.what:
            return again.reasons
        verdict = f"Run {again.what} again" if again.worth_it else "Stop"
        return (f"{verdict}. {again.reasons[0]}", *again.reasons[1:])

    def otherwise(self) -> tuple[str, ...]:
        """Return what another way of running would have given, in sentences."""
        said = []
        basis = self.review.sheet.aim.purity_basis or "mol%"
        for replay in self.review.replays:
            time = format_time(replay.time_s)
            if replay.pure_kg > 0.0:
                purity = strength_words(replay.purity, None, basis)
                grams = format_number(1e3 * replay.pure_kg, 1)
                said.append(f"{replay.words}: {grams}{_THIN}g at {purity} after {time}.")
            elif np.isfinite(replay.purity):
                purity = strength_words(replay.purity, None, basis)
                said.append(f"{replay.words}: no cut pure enough, at best {purity}, after {time}.")
            else:
                said.append(f"{replay.words}: nothing comes over.")
        return tuple(f"{text[0].upper()}{text[1:]}" for text in said)

    def against(self) -> tuple[str, ...]:
        """Return how the forecast met its record, in sentences."""
        score = self.score
        if score is None:
            return ()
        said = []
        if np.isfinite(score.head_inside):
            said.append(
                f"{100 * score.head_inside:.0f}{_THIN}% of the head readings lay inside the band "
                f"that should hold 80{_THIN}%; mean miss {score.head_miss_K:.1f}{_THIN}K."
            )
        if score.beats_baseline is not None:
            said.append(
                f"Against what came over the head was met within {score.by_volume_K:.1f}{_THIN}K; "
                f"boiling points in a row would have missed by {score.baseline_K:.1f}{_THIN}K."
            )
        return (*said, *score.surprises, *([self.standing] if self.standing else []))

    def signs(self) -> tuple[str, ...]:
        """Return what the log shows that it should not, in sentences; empty for nothing."""
        return () if self.diagnosis is None else findings_said(self.diagnosis)

    def not_examined(self) -> tuple[str, ...]:
        """Return what this review did not look at."""
        said = []
        if self.diagnosis is None:
            said.append("Signs of trouble in the log (leak, flooding, bumping and the like).")
        if self.review.fit is None:
            said.append("What the glass did: too few head temperatures, or not asked for.")
        return tuple(said)


def _mass(line: Line) -> str:
    span = Span(1e3 * max(line.mass_kg - line.band_kg, 0.0), 1e3 * (line.mass_kg + line.band_kg))
    return value_with_band(1e3 * line.mass_kg, span, "g")


def _span(line: Line, k: int) -> Span:
    x, half = float(line.mole_fraction[k]), float(line.mole_fraction_band[k])
    return Span(max(x - half, 0.0), min(x + half, 1.0))


def _strength(review: Review, line: Line, wanted: int) -> str:
    words = strength_words(float(line.mole_fraction[wanted]), _span(line, wanted), "mol%")
    return f"{words} {review.account.names[wanted]}"


def _composition(review: Review, line: Line) -> str:
    x = line.mole_fraction
    if not np.isfinite(x).all():
        return "nothing"
    words = [
        f"{review.account.names[k]} {strength_words(float(x[k]), _span(line, int(k)))}"
        for k in np.argsort(-x)
        if x[k] >= 0.0005
    ]
    return ", ".join(words)


def _estimate(found: Estimate, scale: float, unit: str, decimals: int) -> str:
    span = Span(scale * found.low, scale * found.high)
    return value_with_band(scale * found.value, span, unit, decimals)
