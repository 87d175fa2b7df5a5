"""Ready topics for a class: a sheet, what it is to teach, what it corrects."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from functools import cache
from importlib import resources

__all__ = ["Topic", "topics"]


@dataclass(frozen=True, slots=True)
class Topic:
    """One topic.

    Args:
        name: by which a command finds it.
        aim: what a class is to learn.
        misconception: what people believe and the runs correct.
        sources: what it rests on, beside the sources of the runs.
        sheet: text of its run sheet.
        cautions: what a class has to be told that no figure of the run tells.
    """

    name: str
    aim: str
    misconception: str
    sources: tuple[str, ...]
    sheet: str
    cautions: tuple[str, ...] = ()


@cache
def topics() -> dict[str, Topic]:
    """Return all topics by name, in the order of teaching."""
    text = resources.files("forerun.sheets").joinpath("topics.toml").read_text("utf-8")
    found = (
        Topic(**{**t, "sources": tuple(t["sources"]), "cautions": tuple(t.get("cautions", ()))})
        for t in tomllib.loads(text)["topic"]
    )
    return {topic.name: topic for topic in found}
