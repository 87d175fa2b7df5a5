"""A saved answer held against a new one to the same question."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from forerun.core.comparing import Compared, Difference
from forerun.core.provenance import signed
from forerun.reporting.paper import Paper
from forerun.reporting.plain import number
from forerun.reporting.table import paragraph, wrapped

__all__ = ["Reproduced", "Result"]

_SHOWN = 5
_LISTED = 50
_LONG = 60  # letters of a value that is shown


@dataclass(frozen=True, slots=True)
class Result:
    """One question that was asked again.

    Args:
        command: of the question.
        place: where in the file its answer stands; empty for the whole.
        compared: the two answers side by side.
        extra: keys of the saved answer that the new one has not.
    """

    command: str
    place: str
    compared: Compared
    extra: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Reproduced:
    """Every question of a file, asked again.

    Args:
        name: of the file.
        results: one for each question.
        then: what made the saved answer.
        now: what made the new one.
        changed: what is not as it was, then and now, by name.
    """

    name: str
    results: tuple[Result, ...]
    then: Mapping[str, Any]
    now: Mapping[str, Any]
    changed: Mapping[str, tuple[str, str]] = field(default_factory=dict)

    @property
    def same(self) -> bool:
        """Whether every value that was compared is the same to the last digit."""
        return all(not result.compared.differences for result in self.results)

    @property
    def warnings(self) -> tuple[str, ...]:
        """What was in the file and could not be compared."""
        return tuple(
            f"{result.command}: {', '.join(result.extra)} of the file was not compared."
            for result in self.results
            if result.extra
        )

    @property
    def finding(self) -> str:
        """Same or not, in one sentence."""
        values = sum(result.compared.values for result in self.results)
        asked = ", ".join(dict.fromkeys(result.command for result in self.results))
        if self.same:
            return f"{self.name}: same to the last digit, {values:,} values of {asked}."
        off = sum(len(result.compared.differences) for result in self.results)
        return f"{self.name}: {off:,} of {values:,} values of {asked} differ."

    def to_json(self) -> dict[str, Any]:
        """Return what differs, SI, and what has changed since."""
        return signed(
            {
                "finding": self.finding,
                "same": self.same,
                "results": [_result_object(result) for result in self.results],
                "then": dict(self.then),
                "changed": {k: {"then": a, "now": b} for k, (a, b) in self.changed.items()},
                "warnings": list(self.warnings),
            }
        )

    def printed(self, paper: Paper) -> list[str]:
        """Return the answer in lines for a person."""
        lines = [paper.ink(line, "bold") for line in wrapped(self.finding, paper)]
        for result in self.results:
            where = f" at {result.place}" if result.place else ""
            worst = result.compared.largest
            if worst is None:
                continue
            shown = [_words(worst)]
            shown += [_words(d) for d in result.compared.differences[:_SHOWN] if d is not worst]
            title = f"{result.command}{where}, the largest first"
            lines += paragraph(title, shown, paper, "amber", "bold")
        changed = [f"{name}: {a} then, {b} now" for name, (a, b) in self.changed.items()]
        lines += paragraph("Not as it was", changed, paper, "bold")
        if not self.changed:
            versions = "Versions, data, kind of machine and own points are those of then."
            lines += ["", *wrapped(versions, paper)]
        return lines + paragraph("Look out", self.warnings, paper, "amber", "bold")


def _result_object(result: Result) -> dict[str, Any]:
    worst = result.compared.largest
    return {
        "command": result.command,
        "place": result.place,
        "values": result.compared.values,
        "differing": len(result.compared.differences),
        "largest": None if worst is None else _difference_object(worst),
        "differences": [_difference_object(d) for d in result.compared.differences[:_LISTED]],
        "not_compared": list(result.extra),
    }


def _difference_object(one: Difference) -> dict[str, Any]:
    return {
        "path": one.path,
        "then": one.then,
        "now": one.now,
        "relative": number(one.relative),
    }


def _words(one: Difference) -> str:
    by = "" if one.relative is None else f", {one.relative:.1e} of it"
    return f"{one.path}: {_short(one.then)} then, {_short(one.now)} now{by}"


def _short(value: Any) -> str:
    text = "nothing" if value is None else str(value)
    return text if len(text) <= _LONG else f"{text[:_LONG]}…"
