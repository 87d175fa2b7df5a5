"""What is hidden in a class, for the instructor; a bench that was run once more."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from forerun.core.provenance import signed
from forerun.core.quantities import format_fraction, format_time, format_volume
from forerun.records.readings import Readings
from forerun.reporting.paper import Paper
from forerun.reporting.plain import number
from forerun.reporting.table import columns, paragraph, wrapped
from forerun.reviewing.marks import Dealt
from forerun.reviewing.single_cut import SingleCut

__all__ = ["HiddenClass", "Tried", "cut_object"]

_NONE = "–"


def cut_object(cut: SingleCut) -> dict[str, Any]:
    """Return a single cut as JSON has it.

    Args:
        cut: of a run.
    """
    return {
        "start_m3": cut.start_m3,
        "end_m3": cut.end_m3,
        "recovery": number(cut.recovery),
        "purity": number(cut.purity),
    }


@dataclass(frozen=True, slots=True)
class HiddenClass:
    """What is hidden in the runs of a class.

    Args:
        title: of the sheet.
        dealt: the run of each student.
        written: names of what was written.
        warnings: sentences that the user should read.
    """

    title: str
    dealt: tuple[Dealt, ...]
    written: tuple[str, ...]
    warnings: tuple[str, ...] = (
        "Only the folder of the students is for students; the rest tells what is hidden.",
    )

    @property
    def finding(self) -> str:
        """What was made, in one sentence."""
        kinds = len({one.fault for one in self.dealt})
        return f"{len(self.dealt)} hidden runs, {kinds} kinds of what goes wrong among them."

    def to_json(self) -> dict[str, Any]:
        """Return what is hidden, SI units."""
        return signed(
            {
                "title": self.title,
                "finding": self.finding,
                "students": [
                    {
                        "code": one.code,
                        "fault": one.fault,
                        "mole_fraction": one.mole_fraction,
                        "unknown": one.unknown or None,
                        "asked": list(one.asked),
                        "wanted": one.name,
                        "best": cut_object(one.cuts().best(one.purity)),
                        "basis": one.basis,
                    }
                    for one in self.dealt
                ],
                "written": list(self.written),
                "warnings": list(self.warnings),
            }
        )

    def printed(self, paper: Paper) -> list[str]:
        """Return what is hidden in lines for the instructor."""
        head = ["student", "wrong", "unknown", "first", "could give", "at"]
        rows = []
        for one in self.dealt:
            best = one.cuts().best(one.purity)
            rows.append(
                [
                    one.code,
                    one.labels[one.fault],
                    one.unknown or _NONE,
                    format_fraction(one.mole_fraction, "mol%", 0.01),
                    format_fraction(best.recovery, "%", 0.05),
                    format_fraction(best.purity, one.basis, 0.01),
                ]
            )
        lines = [paper.ink(line, "bold") for line in wrapped(self.finding, paper)]
        lines += ["", *columns(head, rows, paper, left=3)]
        return lines + paragraph("Look out", self.warnings, paper, "amber", "bold")


@dataclass(frozen=True, slots=True)
class Tried:
    """A bench that was run once more; nothing of what is hidden.

    Args:
        code: of the student.
        log: as it was read.
        written: name of the file.
        warnings: sentences that the user should read.
    """

    code: str
    log: Readings
    written: str
    warnings: tuple[str, ...] = ()

    @property
    def _over_m3(self) -> float:
        read = self.log.channel("distillate_m3")
        return float(np.nanmax(read)) if np.isfinite(read).any() else 0.0

    @property
    def finding(self) -> str:
        """What the log holds, in one sentence."""
        last = format_time(float(self.log.time_s[-1]))
        return f"{self.code}: {len(self.log)} readings in {last}, {format_volume(self._over_m3)}."

    def to_json(self) -> dict[str, Any]:
        """Return what was written, SI units."""
        return signed(
            {
                "code": self.code,
                "finding": self.finding,
                "readings": len(self.log),
                "end_s": float(self.log.time_s[-1]),
                "distillate_m3": self._over_m3,
                "written": self.written,
                "warnings": list(self.warnings),
            }
        )

    def printed(self, paper: Paper) -> list[str]:
        """Return what was written in a line."""
        return [paper.ink(line, "bold") for line in wrapped(self.finding, paper)]
