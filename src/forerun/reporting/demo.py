"""The built-in example told from charge to cuts."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from forerun.core.provenance import signed
from forerun.core.quantities import format_temperature
from forerun.reporting.foresee import Foresight
from forerun.reporting.look import Look
from forerun.reporting.mix import Mix
from forerun.reporting.paper import Paper
from forerun.reporting.table import columns, wrapped
from forerun.reporting.words import WHOLE_DEGREE
from forerun.sheets.model import RunSheet

__all__ = ["Demo"]


@dataclass(frozen=True, slots=True)
class Demo:
    """One story: what is in the flask, whether boiling parts it, what comes over when.

    Args:
        name: of the example.
        looks: one for each component.
        mix: all of them together.
        foresight: the forecast.
    """

    name: str
    looks: tuple[Look, ...]
    mix: Mix
    foresight: Foresight

    @property
    def warnings(self) -> tuple[str, ...]:
        """Sentences that the user should read, each once."""
        told = (*(w for look in self.looks for w in look.warnings), *self.mix.warnings)
        return tuple(dict.fromkeys((*told, *self.foresight.warnings)))

    def to_json(self) -> dict[str, Any]:
        """Return the objects of ``look``, ``mix`` and ``foresee`` in one."""
        return signed(
            {
                "example": self.name,
                "look": [look.to_json() for look in self.looks],
                "mix": self.mix.to_json(),
                "foresee": self.foresight.to_json(),
                "warnings": list(self.warnings),
            }
        )

    def drawing(self) -> str:
        """Return the drawing of the forecast."""
        return self.foresight.drawing()

    def printed(self, paper: Paper) -> list[str]:
        """Return the story in lines for a person."""
        sheet = self.foresight.sheet
        lines = [paper.ink(line, "bold") for line in wrapped(f"{sheet.title}.", paper)]
        lines += ["", *_step(1, "What is in the flask", f"forerun look {_first(sheet)}", paper)]
        lines += _charge_table(sheet, self.looks, paper)
        names = " ".join(_quoted(name) for name in sheet.names)
        pressure = sheet.programme.pressure_Pa.text
        command = f"forerun mix {names}" + (f' --pressure "{pressure}"' if pressure else "")
        lines += ["", *_step(2, "Does boiling part them?", command, paper)]
        lines += [*wrapped(f"{self.mix.finding}.", paper), "", *self.mix.tables(paper)]
        lines += ["", *_step(3, "What comes over when", f"forerun foresee {self.name}", paper)]
        lines += self.foresight.printed(paper)
        advice = (
            f"Make it yours: `forerun example {self.name} --out sheet.toml`, change the sheet, "
            "`forerun foresee sheet.toml --out curve.svg`."
        )
        return [*lines, "", *wrapped(advice, paper)]


def _step(number: int, title: str, command: str, paper: Paper) -> list[str]:
    head = paper.ink(paper.spelled(f"{number}. {title}"), "bold")
    return [f"{head}  {paper.ink(paper.spelled(f'({command})'), 'grey')}"]


def _charge_table(sheet: RunSheet, looks: tuple[Look, ...], paper: Paper) -> list[str]:
    rows = []
    for portion, look in zip(sheet.charge, looks, strict=True):
        flash = portion.substance.flash_point
        lit = "not on file" if flash is None else format_temperature(flash.value, WHOLE_DEGREE)
        boils = format_temperature(look.at.temperature)
        rows.append((portion.substance.name, portion.text, boils, lit))
    return columns(
        ("charge", "amount", "boils at the still's pressure", "flash point"), rows, paper
    )


def _first(sheet: RunSheet) -> str:
    return _quoted(sheet.names[0])


def _quoted(name: str) -> str:
    return f'"{name}"' if " " in name else name
