"""The page of promises names tests and proofs that exist, and the figures that were measured."""

from __future__ import annotations

import json
import re
from pathlib import Path

_ROOT = Path(__file__).resolve().parents[2]
_PAGE = (_ROOT / "docs" / "promises.md").read_text("utf-8")


def test_every_file_that_is_named_exists() -> None:
    named = set(re.findall(r"`((?:tests|tools)/[\w/.]+)`", _PAGE))
    links = {f"docs/{link}" for link in re.findall(r"\]\(([^)#:]+)\)", _PAGE)}
    assert len(named) >= 8
    assert [name for name in sorted(named | links) if not (_ROOT / name).exists()] == []


def test_the_figures_of_spoilt_input_are_those_measured() -> None:
    figures = json.loads((_ROOT / "docs" / "explain" / "fuzzing.json").read_text("utf-8"))
    said = f"{figures['inputs']:,} inputs, {figures['failures']} failures, {figures['took_s']} s"
    assert f"[{said}](explain/fuzzing.json) on {figures['date']}" in _PAGE
    assert figures["inputs"] >= 100_000
