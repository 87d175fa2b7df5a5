"""Mistakes that change nothing anybody could see, each with the reason; counted apart."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from pathlib import Path

from mutating.mutations import Mutation

__all__ = ["FILE", "Equivalent", "equivalents", "reason_of"]

FILE = Path(__file__).with_name("equivalents.toml")


@dataclass(frozen=True, slots=True)
class Equivalent:
    """What is taken as no mistake.

    Args:
        file: below src/forerun.
        where: function, method or constant.
        reason: why nothing changes.
        kind: of the mistake; any when empty.
        said: what is put in the place of what; any when empty.
    """

    file: str
    where: str
    reason: str
    kind: str = ""
    said: tuple[str, ...] = ()

    def holds(self, file: str, one: Mutation) -> bool:
        """Return whether a mistake is meant.

        Args:
            file: where it is, below src/forerun.
            one: the mistake.
        """
        return (
            (file, one.where) == (self.file, self.where)
            and self.kind in {"", one.kind}
            and (not self.said or one.said in self.said)
        )


def equivalents() -> tuple[Equivalent, ...]:
    """Return the list, as `equivalents.toml` has it."""
    rows = tomllib.loads(FILE.read_text("utf-8"))["mistake"]
    return tuple(
        Equivalent(
            row["file"],
            where,
            row["reason"],
            row.get("kind", ""),
            tuple(row.get("said", ())),
        )
        for row in rows
        for where in row["where"]
    )


def reason_of(file: str, one: Mutation, known: tuple[Equivalent, ...]) -> str:
    """Return why a mistake changes nothing; empty where it is none of the list.

    Args:
        file: where it is, below src/forerun.
        one: the mistake.
        known: from `equivalents`.
    """
    return next((k.reason for k in known if k.holds(file, one)), "")
