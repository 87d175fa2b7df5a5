"""A drawer of one's own: what is refused, what fits together, what a passport changes."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from forerun.core.errors import BadInput
from forerun.glassware.inventory import (
    all_kits,
    combinations_of,
    kit_names,
    read_inventory,
)

SMALL: dict[str, Any] = {
    "flask": [{"volume": "100 mL", "joint": "19/22"}, {"volume": "1 L", "joint": "29/32"}],
    "column": [{"item": "Vigreux 30 cm", "joint": "29/32", "plates": 2.4, "holdup": "3 mL"}],
    "condenser": [{"item": "straight jacket 30 cm", "joint": "29/32"}],
    "bath": [{"item": "silicone oil"}],
}


def test_joints_decide_and_an_adapter_helps() -> None:
    tight = list(combinations_of(read_inventory(SMALL)))
    assert {c.flask.label for c in tight} == {"1 L"}
    wider = {**SMALL, "adapter": [{"joint": "19/22", "to": "29/32"}]}
    assert {c.flask.label for c in combinations_of(read_inventory(wider))} == {"1 L", "100 mL"}


def test_a_passport_replaces_the_usual_value() -> None:
    (column,) = read_inventory(SMALL).of("column")
    assert (column.plates, column.holdup_m3) == (2.4, pytest.approx(3e-6))
    assert column.measured
    bare = {**SMALL, "column": [{"item": "Vigreux 30 cm"}]}
    (usual,) = read_inventory(bare).of("column")
    assert usual.plates == pytest.approx(3.0)
    assert not usual.measured


def test_starter_drawers_are_rich_enough() -> None:
    assert set(kit_names()) == {"teaching", "research", "small"}
    assert sum(1 for _ in combinations_of(all_kits())) >= 200


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"flask": [{"volume": "round"}]}, "drawer.flask[1].volume"),
        ({"column": [{"item": "tower"}]}, "drawer.column[1].item"),
        ({"column": [{"item": "Vigreux 30 cm", "plates": -1}]}, "drawer.column[1].plates"),
        ({"kettle": []}, "drawer.kettle"),
        ({"bath": [{"name": "water"}]}, "drawer.bath[1].name"),
        ({"bath": "water"}, "drawer.bath"),
        ({"receiver": [{"volume": "50 mL", "count": 0}]}, "drawer.receiver[1].count"),
    ],
)
def test_what_cannot_be_used_is_refused(change: dict[str, Any], field: str) -> None:
    with pytest.raises(BadInput) as caught:
        read_inventory({**SMALL, **change})
    assert caught.value.field == field


def test_files(tmp_path: Path) -> None:
    path = tmp_path / "mine.toml"
    path.write_text('title = "Mine"\n[[bath]]\nitem = "water"\n', encoding="utf-8")
    assert read_inventory(path).title == "Mine"
    path.write_text("title = ", encoding="utf-8")
    with pytest.raises(BadInput):
        read_inventory(path)
    with pytest.raises(BadInput, match="teaching"):
        read_inventory("nowhere")
