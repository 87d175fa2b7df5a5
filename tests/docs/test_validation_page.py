"""docs/validation.md is generated, up to date, and hides nothing."""

from __future__ import annotations

import importlib.util
import re
import sys
from dataclasses import dataclass
from types import ModuleType

import pytest

from docs._public import ROOT

NUMBER = re.compile(r"-?\d+(?:\.\d+)?(?:e[+-]?\d+)?")


@dataclass(frozen=True)
class Row:
    id: str
    miss: float | None
    met: bool | None
    tolerance: float | None = 1.0
    system: str = "A + B"
    quantity: str = "temperature"
    source: str = "Somebody (1900)"
    provenance: str = "invented for this test"
    published: float = 300.0
    ours: float = 301.0
    unit: str = "K"


@pytest.fixture(scope="module")
def generator() -> ModuleType:
    path = ROOT / "tools" / "docs" / "validation_page.py"
    spec = importlib.util.spec_from_file_location("validation_page", path)
    assert spec
    assert spec.loader
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    return module


def test_committed_page_is_up_to_date(generator: ModuleType) -> None:
    committed = generator.PAGE.read_text(encoding="utf-8")
    fresh = generator.render(generator.collect())
    assert _differences(committed, fresh) == [], "run: python3 dev.py proofs"


def test_the_worst_stands_first_and_every_row_is_there(generator: ModuleType) -> None:
    rows = [Row("small", 0.2, True), Row("gone", None, False), Row("large", -3.0, False)]
    page = generator.render({"Some table": [*rows, Row("outside", None, None)]})
    places = [page.index(f"`{name}`") for name in ("gone", "large", "small", "outside")]
    assert places == sorted(places)
    assert "| temperature | 3 | 1 | 3 K | no value | no value |" in page
    assert "Not covered and therefore not judged (1)" in page


def test_a_changed_number_is_noticed_and_a_last_digit_is_not() -> None:
    assert _differences("| a 1.234 K | `x` |", "| a 1.235 K | `x` |") == []
    assert _differences("| a 1.234 K | `x` |", "| a 1.254 K | `x` |") != []
    assert _differences("| a | `x` |\n| b | `y` |", "| b | `y` |\n| a | `x` |") == []
    assert _differences("| a | `x` |", "| a | `x` |\n| b | `y` |") != []


def _differences(left: str, right: str) -> list[tuple[str, str]]:
    """Return lines that differ by more than a last digit; rows may change places."""
    pairs = zip(*(_ordered(text) for text in (left, right)), strict=False)
    found = [(a, b) for a, b in pairs if not _same(a, b)]
    if len(_ordered(left)) != len(_ordered(right)):
        found.append(("number of lines", "differs"))
    return found


def _ordered(text: str) -> list[str]:
    lines = text.splitlines()
    return sorted(lines, key=lambda line: line.split("`")[-2] if line.endswith("` |") else "")


def _same(left: str, right: str) -> bool:
    if NUMBER.sub("#", left) != NUMBER.sub("#", right):
        return False
    numbers = zip(NUMBER.findall(left), NUMBER.findall(right), strict=True)
    return all(abs(float(a) - float(b)) <= 1.01 * max(_digit(a), _digit(b)) for a, b in numbers)


def _digit(number: str) -> float:
    """Return what one step of the last printed digit is worth."""
    mantissa, _, exponent = number.partition("e")
    decimals = len(mantissa.partition(".")[2])
    return float(10 ** (int(exponent or 0) - decimals))
