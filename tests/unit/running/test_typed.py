"""What is typed at the bench."""

from __future__ import annotations

import pytest

from forerun.core.errors import BadInput
from forerun.running.sources.typed import Typed, typed


@pytest.mark.parametrize(
    ("line", "row"),
    [
        ("head 78.2, 12 mL", {"head_C": 78.2, "distillate_mL": 12.0}),
        ("head 78,2; over 12,5 mL", {"head_C": 78.2, "distillate_mL": 12.5}),
        ("HEAD=78.2 °C, pot: 91, bath 120 C", {"head_C": 78.2, "pot_C": 91.0, "bath_C": 120.0}),
        ("20 mbar", {"pressure_mbar": 20.0}),
        ("11 torr, 9.5 g", {"pressure_mmHg": 11.0, "distillate_g": 9.5}),
        ("head -3", {"head_C": -3.0}),
    ],
)
def test_numbers(line: str, row: dict[str, float]) -> None:
    assert typed(line) == Typed(row=row)


@pytest.mark.parametrize(
    ("line", "entry"),
    [
        ("drops 20 in 30", ("drops", {"count": 20, "over_s": 30.0})),
        ("20 drops in 30 s", ("drops", {"count": 20, "over_s": 30.0})),
        ("drops per mL 40", ("drops_per_mL", {"value": 40.0})),
        ("odd foams, a lot", ("odd", {"text": "foams, a lot"})),
        ("note receiver 2 tared", ("note", {"text": "receiver 2 tared"})),
    ],
)
def test_what_else_is_said(line: str, entry: tuple[str, dict[str, object]]) -> None:
    assert typed(line).entry == entry


@pytest.mark.parametrize(
    ("line", "answer"), [("done", "done"), ("Not now.", "not_now"), ("no", "no"), ("yes", "yes")]
)
def test_answers(line: str, answer: str) -> None:
    assert typed(line).answer == answer


def test_switch_and_end() -> None:
    assert typed("switched").switched
    assert typed("end").ends


@pytest.mark.parametrize(
    "line", ["78.2", "head", "head 7 8", "12 gallons", "drops in 3", "odd", "head 78.2 12 mL"]
)
def test_anything_else_is_refused_with_what_would_do(line: str) -> None:
    with pytest.raises(BadInput, match=r"head 78\.2"):
        typed(line)
