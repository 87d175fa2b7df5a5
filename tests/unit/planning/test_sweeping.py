"""Sweeps: which points there are, what a point's sheet is, and rows that tell what happened."""

from __future__ import annotations

import tomllib
from typing import Any

import pytest

from forerun.core.errors import BadInput
from forerun.planning.sweep_plan import plan_of, table_at, varied
from forerun.planning.sweeping import COLUMNS, evaluate, front_rows, sheet_at
from forerun.still.from_sheet import prepare
from forerun.still.run import run_still

SHEET = """
[[charge]]
substance = "cyclohexane"
amount = "10 mL"
[[charge]]
substance = "toluene"
amount = "10 mL"
[rig]
flask = "50 mL"
heat_loss = "0.04 W/K"
[programme]
pressure = "760 mmHg"
bath = [["0 min", "25 °C"], ["5 min", "140 °C"]]
stop = { residue = "4 mL", time = "40 min" }
[[switch]]
head = "92 °C"
[aim]
substance = "cyclohexane"
"""


def table() -> dict[str, Any]:
    return tomllib.loads(SHEET)


@pytest.mark.parametrize(
    ("word", "values"),
    [
        ("rig.plates=2:8:4", (2, 4, 6, 8)),
        ("programme.reflux_ratio=0.5:1.5:3", (0.5, 1, 1.5)),
        ("charge.toluene.amount=5:15:3 mL", ("5 mL", "10 mL", "15 mL")),
        ("rig.heat_loss=0.1 W/K:10 W/K:3:log", ("0.1 W/K", "1 W/K", "10 W/K")),
        ("rig.bath=water, silicone oil", ("water", "silicone oil")),
        ("rig.plates=3", (3,)),
        ("rig.coolant=-10:0:2 °C", ("-10 °C", "0 °C")),
    ],
)
def test_a_range_or_a_list_is_read(word: str, values: tuple[object, ...]) -> None:
    assert varied(word).values == values


@pytest.mark.parametrize(
    "word",
    ["rig.plates", "=1:2:3", "rig.plates=1:2", "a=1:2:0", "a=1 mL:2 g:3", "a=0:2:3:log",
     "a=1:2:2.5", "a=1,1", "a=1:2:3:4", "a=x:y:3", "a="],
)  # fmt: skip
def test_what_is_no_range_is_refused(word: str) -> None:
    with pytest.raises(BadInput, match="--vary"):
        varied(word)


def test_every_combination_once_and_the_last_key_fastest() -> None:
    plan = plan_of(table(), ["rig.plates=0:2:3", "charge.2.amount=5:10:2 mL"])
    assert plan.points == 6
    assert [plan.values_at(k) for k in range(3)] == [(0, "5 mL"), (0, "10 mL"), (1, "5 mL")]
    assert len({plan.values_at(k) for k in range(6)}) == 6


def test_a_key_reaches_tables_lists_and_substances_and_leaves_the_sheet_alone() -> None:
    words = [
        "charge.Toluene.amount=7,8 mL",
        "switch.1.head=90:91:2 °C",
        "programme.stop.residue=5,6",
        "rig.plates=2",
    ]
    given = table()
    words[0] = "charge.Toluene.amount=7 mL,8 mL"
    found = table_at(plan_of(given, words), 0)
    assert found["charge"][1]["amount"] == "7 mL"
    assert found["switch"][0]["head"] == "90 °C"
    assert found["programme"]["stop"]["residue"] == 5
    assert found["rig"]["plates"] == 2
    assert given == table()


@pytest.mark.parametrize(
    "word",
    ["charge.water.amount=1 mL,2 mL", "charge.9.amount=1 mL,2 mL", "charge=1,2", "rig.flask.x=1,2"],
)
def test_a_key_that_leads_nowhere_is_refused(word: str) -> None:
    with pytest.raises(BadInput):
        sheet_at(plan_of(table(), [word]), 0)


def test_plans_that_cannot_be() -> None:
    with pytest.raises(BadInput, match="nothing"):
        plan_of(table(), [])
    with pytest.raises(BadInput, match="each key once"):
        plan_of(table(), ["rig.plates=1,2", "rig.plates=3,4"])
    with pytest.raises(BadInput, match="points"):
        plan_of(table(), ["rig.plates=1:2:1000", "rig.holdup=1:2:1000 mL"])


def test_the_fingerprint_knows_sheet_and_values() -> None:
    one = plan_of(table(), ["rig.plates=0:2:3"])
    assert one.fingerprint() == plan_of(table(), ["rig.plates=0,1,2"]).fingerprint()
    assert one.fingerprint() != plan_of(table(), ["rig.plates=0:2:2"]).fingerprint()
    other = table() | {"title": "another"}
    assert one.fingerprint() != plan_of(other, ["rig.plates=0:2:3"]).fingerprint()


def test_rows_are_the_runs_of_their_sheets_and_bad_points_are_rows_too() -> None:
    plan = plan_of(table(), ["programme.stop.residue=4 mL,30 mL"])
    vary = [(v.key, list(v.values)) for v in plan.vary]
    good, bad = evaluate(plan.table, vary, [0, 1])
    assert set(good) == {*COLUMNS, "programme.stop.residue"}
    run = run_still(prepare(sheet_at(plan, 0)).still)
    assert good["state"] == "done"
    assert good["first_drop_s"] == run.first_drop_s
    cut = run.cuts[int(good["receiver"]) - 1]
    assert good["purity"] == pytest.approx(cut.mole_fraction[0])
    assert good["recovery"] == pytest.approx(
        cut.amount_mol * cut.mole_fraction[0] / run.ledger.charge_mol[0]
    )
    assert bad["state"] == "refused"
    assert "residue" in bad["problem"]
    assert bad["purity"] is None


def test_the_front_holds_what_nothing_beats() -> None:
    def row(purity: float | None, recovery: float, ready: float) -> dict[str, Any]:
        return {"purity": purity, "recovery": recovery, "ready_s": ready}

    pure, much, fast = row(0.99, 0.5, 5000.0), row(0.9, 0.8, 5000.0), row(0.9, 0.5, 1000.0)
    beaten, none, twin = row(0.95, 0.4, 6000.0), row(None, 0.0, 0.0), row(0.9, 0.5, 1002.0)
    assert front_rows([beaten, much, none, fast, pure, twin]) == [pure, much, fast]
    assert front_rows([none]) == []
