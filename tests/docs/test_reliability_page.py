"""docs/explain/reliability.md is generated, up to date, and its figures are those of the study."""

from __future__ import annotations

import importlib.util
import json
from types import ModuleType

import pytest

from docs._public import ROOT


@pytest.fixture(scope="module")
def generator() -> ModuleType:
    path = ROOT / "tools" / "docs" / "reliability_page.py"
    spec = importlib.util.spec_from_file_location("reliability_page", path)
    assert spec
    assert spec.loader
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def test_the_page_is_up_to_date(generator: ModuleType) -> None:
    figures = json.loads(generator.FIGURES.read_text(encoding="utf-8"))
    assert generator.PAGE.read_text(encoding="utf-8") == generator.render(figures)


def test_the_summary_is_that_of_the_rows(generator: ModuleType) -> None:
    figures = json.loads(generator.FIGURES.read_text(encoding="utf-8"))
    rows = [row for row in figures["rows"] if "failed" not in row]
    assert len(rows) == figures["summary"]["sheets"]
    kept = sum(row["kept"] for row in rows) / len(rows)
    assert figures["summary"]["kept"] == pytest.approx(kept, abs=5e-4)
    claimed = sum(row["claimed"] for row in rows) / len(rows)
    assert figures["summary"]["claimed"] == pytest.approx(claimed, abs=5e-4)


def test_advice_beats_the_rule_of_thumb(generator: ModuleType) -> None:
    found = json.loads(generator.FIGURES.read_text(encoding="utf-8"))["summary"]
    assert found["kept"] > found["rule_right"]
    named = found["where_a_method_is_named"]
    assert named["kept"] > named["rule_reaches"]
