"""The record of a run on paper: everything that was set, read, decided, found, and from where."""

from __future__ import annotations

import hashlib
import math
import platform
from collections.abc import Sequence
from dataclasses import dataclass, field
from importlib import metadata
from typing import Any

import numpy as np

from forerun.core.quantities import (
    format_number,
    format_pressure,
    format_temperature,
    format_volume,
)
from forerun.planning.gates_model import Gate
from forerun.reporting.foresee import Foresight
from forerun.reporting.passport import Passport
from forerun.reporting.picture import Picture, drawn_as_svg
from forerun.reporting.record_notes import Notes
from forerun.reporting.review import Reviewed
from forerun.reporting.review_curve import curve_of_readings
from forerun.reporting.sources import source_lines
from forerun.reporting.typeset import typeset
from forerun.sheets.model import Course, Setting

__all__ = ["Record", "digest_of"]

_LOG_ROWS = 44  # lines of the log that are printed; the archive holds all
_THIN = "\N{NARROW NO-BREAK SPACE}"
_LIBRARIES = ("forerun", "numpy", "scipy", "numba", "typst")
_CHANNELS = (
    ("head_K", "head °C", -273.15, 1.0, 1),
    ("pot_K", "pot °C", -273.15, 1.0, 1),
    ("bath_K", "bath °C", -273.15, 1.0, 0),
    ("pressure_Pa", "mmHg", 0.0, 1.0 / 133.322387415, 0),
    ("distillate_m3", "mL", 0.0, 1e6, 1),
    ("distillate_kg", "g", 0.0, 1e3, 2),
)


@dataclass(frozen=True, slots=True)
class Record:
    """A run on paper.

    Args:
        foresight: the forecast with the gates.
        reviewed: what the run gave; None before it was run.
        notes: what only the person at the bench knows.
        sheet_text: the sheet as it was written, for its checksum; empty where unknown.
        made: when the record was made, in words.
        name: of the run, e.g. ``run 12``; empty for none.
        passport: of its column, None where none is kept.
    """

    foresight: Foresight
    reviewed: Reviewed | None = None
    notes: Notes = field(default_factory=Notes)
    sheet_text: str = ""
    made: str = ""
    name: str = ""
    passport: Passport | None = None

    @property
    def finding(self) -> str:
        """What was found, in one sentence."""
        return self.foresight.finding if self.reviewed is None else self.reviewed.finding

    def pdf(self, paper: str) -> bytes:
        """Return the record as a tagged PDF.

        Args:
            paper: as Typst names it, ``a4`` or ``us-letter``.
        """
        drawing = self.drawing()
        item = "" if self.passport is None else self.passport.drawing()
        return typeset("record", self.data(paper, bool(drawing)), curve=drawing, passport=item)

    def drawing(self) -> str:
        """Return the curve as SVG: what was read, or the forecast before the run."""
        if self.reviewed is None:
            return self.foresight.drawing()
        curve = curve_of_readings(self.reviewed.review)
        if curve is None:
            return ""
        names = self.reviewed.review.account.names
        return drawn_as_svg(Picture("As it was read", "", self.finding, curve, names, ()))

    def data(self, paper: str, curve: bool) -> dict[str, Any]:
        """Return everything that is printed, as plain values."""
        sheet = self.foresight.sheet
        return {
            "paper": paper,
            "title": sheet.title or "a distillation",
            "author": self.notes.words.get("operator", ""),
            "made": " · ".join(word for word in (self.name, self.made) if word),
            "finding": self.finding,
            "subtitle": f"{sheet.title}. {self.foresight.subtitle()}",
            "description": self.finding,
            "fields": self.notes.opening(),
            "charge": [
                (
                    p.substance.name,
                    p.text,
                    format_number(1e3 * p.mass_kg, 2),
                    format_number(p.amount_mol.value, 4),
                    self.notes.lots.get(p.substance.name, ""),
                )
                for p in sheet.charge
            ],
            "curve": curve,
            "passport": "" if self.passport is None else self.passport.finding,
            **self._contents(),
            "parts": self._parts(),
            "gates": [_gate(gate) for gate in self.foresight.gates],
            "rig": self._rig(),
            **self._log(),
            "closing": self.notes.closing(),
            "versions": self._versions(),
            "sources": self._sources(),
        }

    def _contents(self) -> dict[str, Any]:
        if self.reviewed is None:
            rows = [
                (r.badge, r.time, r.head, r.mass, r.volume, r.composition)
                for r in self.foresight.rows()
            ]
            title = "What should come over"
            return {
                "cuts_title": title,
                "cuts_head": ("cut", "time", "head", "mass", "volume", "mol%"),
                "cuts": rows,
                "cut_notes": [],
                "account": [],
                "account_head": [],
            }
        return {
            "cuts_title": "What each receiver holds",
            "cuts_head": ("cut", "time", "range", "mass", "volume", "mol%"),
            "cuts": self.reviewed.cut_cells(),
            "cut_notes": self.reviewed.cut_notes(),
            "account": self.reviewed.account_cells(),
            "account_head": self.reviewed.account_head(),
        }

    def _parts(self) -> list[tuple[str, Sequence[str]]]:
        found: list[tuple[str, Sequence[str]]] = []
        if self.reviewed is not None:
            reviewed = self.reviewed
            found = [
                ("Cannot be right", reviewed.suspects()),
                ("What was analysed", reviewed.analysed()),
                ("What the log shows", reviewed.signs()),
                ("What the glass did", reviewed.glass()),
                ("Again or stop", reviewed.again()),
                ("Run otherwise", reviewed.otherwise()),
                ("Forecast and record", reviewed.against()),
                ("Not examined", reviewed.not_examined()),
            ]
        warnings = self.foresight.warnings if self.reviewed is None else self.reviewed.warnings
        found.append(("Look out", warnings))
        found.append(("Not reckoned with", self.foresight.run.unmodelled))
        return [(title, list(said)) for title, said in found if said]

    def _rig(self) -> list[tuple[str, str, str]]:
        sheet = self.foresight.sheet
        rig, programme = sheet.rig, sheet.programme
        rows: list[tuple[str, str, str]] = [
            ("flask", format_volume(rig.flask_volume_m3.value, 1e-6), _origin(rig.flask_volume_m3)),
            ("column", rig.column, ""),
            ("plates", f"{rig.plates.value:.3g}", _origin(rig.plates)),
            ("hold-up", format_volume(rig.holdup_m3.value), _origin(rig.holdup_m3)),
            (
                "heat loss",
                f"{rig.heat_loss_W_K.value:.2g}{_THIN}W/K",
                _origin(rig.heat_loss_W_K),
            ),
            ("condenser", rig.condenser, ""),
            (
                "coolant",
                format_temperature(rig.coolant_temperature_K.value),
                _origin(rig.coolant_temperature_K),
            ),
            ("bath", rig.bath, _steps(programme.bath_K)),
            (
                "pressure",
                format_pressure(programme.pressure_Pa.points[0][1], None),
                programme.pressure_Pa.text,
            ),
            ("reflux", programme.reflux_ratio.text or "none", ""),
        ]
        rows += [
            (f"switch {k}", f"{s.kind} {s.text}", "sheet") for k, s in enumerate(sheet.switches, 1)
        ]
        return rows

    def _log(self) -> dict[str, Any]:
        if self.reviewed is None:
            return {"log": [], "log_head": [], "log_note": ""}
        log = self.reviewed.review.readings
        channels = [c for c in _CHANNELS if log.has(c[0])]
        step = math.ceil(len(log) / _LOG_ROWS)
        shown = [k for k, row in enumerate(log.rows) if k % step == 0 or row.remark or row.flags]
        rows = []
        for k in shown:
            row = log.rows[k]
            cells = [format_number(row.time_s / 60.0, 1)]
            for name, _, offset, factor, decimals in channels:
                value = getattr(row, name)
                cells.append(
                    format_number((value + offset) * factor, decimals) if np.isfinite(value) else ""
                )
            cells.append(" · ".join([*([row.remark] if row.remark else []), *row.flags]))
            rows.append(cells)
        note = f"{len(shown)} of {len(log)} readings; every one with a remark or a flag is here."
        return {
            "log": rows,
            "log_head": ["min", *[c[1] for c in channels], "remark"],
            "log_note": note,
        }

    def _versions(self) -> list[str]:
        versions = ", ".join(f"{name} {metadata.version(name)}" for name in _LIBRARIES)
        lines = [f"{versions}; Python {platform.python_version()}"]
        texts = {"sheet": self.sheet_text}
        if self.reviewed is not None:
            texts["readings"] = self.reviewed.review.readings.text
            texts["assays"] = self.reviewed.review.assays.text
        lines += [f"SHA-256 of the {k}: {digest_of(text)}" for k, text in texts.items() if text]
        return lines

    def _sources(self) -> list[str]:
        references = list(self.foresight.run.references)
        if self.reviewed is not None:
            references += self.reviewed.review.references
        return source_lines(references)


def digest_of(text: str) -> str:
    """Return the SHA-256 of a text in hexadecimal."""
    return hashlib.sha256(text.encode("utf-8")).hexdigest()


def _gate(gate: Gate) -> tuple[str, str, str]:
    words = gate.name.replace("_", " ")
    says = gate.says + (f" Overridden: {gate.overridden}" if gate.overridden else "")
    return words, gate.state.upper() if gate.state == "stop" else gate.state, says


def _steps(course: Course) -> str:
    """Return a programme of temperatures, ``22 °C at 0 min, 105 °C at 20 min``."""
    words = [
        f"{format_temperature(value, 1.0)} at {time / 60.0:.0f}{_THIN}min"
        for time, value in course.points
    ]
    return ", ".join(words)


def _origin(setting: Setting) -> str:
    return "sheet" if setting.given else setting.origin
