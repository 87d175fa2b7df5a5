"""Thresholds, causes, tests and remedies, from the data file beside this module."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

__all__ = ["CauseText", "Knowledge", "knowledge"]


@dataclass(frozen=True, slots=True)
class CauseText:
    """What is said of a cause.

    Args:
        label: the cause in words.
        test: what shows it.
        remedy: what is done against it.
        caution: what comes before all else; empty where nothing is urgent.
    """

    label: str
    test: str
    remedy: str
    caution: str = ""


@dataclass(frozen=True, slots=True)
class Knowledge:
    """Everything in the data file.

    Args:
        thresholds: numbers by name [SI, or -].
        causes: by the contract's names.
        tests: one that parts two causes, by both names in their order.
    """

    thresholds: Mapping[str, float]
    causes: Mapping[str, CauseText]
    tests: Mapping[str, str]

    def parting(self, first: str, second: str | None) -> str:
        """Return the one test that best tells two causes apart."""
        return self.tests.get(f"{first} {second}", self.causes[first].test)


@cache
def knowledge() -> Knowledge:
    """Return the data file as it was shipped."""
    raw = tomllib.loads(
        files("forerun.running").joinpath("data/signs.toml").read_text(encoding="utf-8")
    )
    causes = {name: CauseText(**said) for name, said in raw["causes"].items()}
    return Knowledge({k: float(v) for k, v in raw["thresholds"].items()}, causes, raw["tests"])
