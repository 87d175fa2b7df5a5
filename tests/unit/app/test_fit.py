"""The fit of one's own points from a table: units, instruments, bad rows, keeping and sharing."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

import forerun
from forerun.app.fit import forget_pair, take_pair
from forerun.app.fit_reading import points_from
from forerun.core.errors import BadInput, ForerunError
from forerun.substances.catalogue import find

TABLES = Path(__file__).parents[2] / "validation" / "data" / "phase_equilibrium.json"
ROWS = "0.1,85.0\n0.3,80.0\n0.5,79.0\n0.7,78.5\n"


def published(key: str) -> tuple[str, str]:
    """A published table as a user would type it, and where it is printed."""
    row = next(r for r in json.loads(TABLES.read_text("utf-8")) if r["id"] == key)
    value = row["value"]
    columns = [c for c in ("x1", "y1", "T_C") if c in value]
    lines = zip(*(value[c] for c in columns), strict=True)
    text = "\n".join([",".join(columns), *(",".join(map(str, line)) for line in lines)])
    return text + "\n", row["source"]


@pytest.fixture(autouse=True)
def _library(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("FORERUN_DATA", str(tmp_path / "library"))


def test_a_published_table_as_own_points():
    """Ethanol and water at 760 mmHg: Carey & Lewis, Ind. Eng. Chem. 24 (1932) 882,
    doi:10.1021/ie50272a011 (DOI from memory), as reprinted; azeotrope at 89.4 mol%."""
    text, source = published("G4-001")
    assert "Carey & Lewis" in source
    found = forerun.fit("ethanol", "water", points=text, pressure="760 mmHg", label=source)
    body = found.to_json()
    assert body["rms"]["temperature_K"] < 0.3
    assert body["rms"]["vapour_mole_fraction"] < 0.01
    assert body["rms"]["temperature_K"] < body["rms_before"]["temperature_K"]
    assert body["consistency"] == {
        "test": "area",
        "passed": True,
        "value": pytest.approx(3.6, abs=1.5),
    }
    count = len(body["coefficients"])
    assert [len(row) for row in body["covariance"]] == [count] * count
    assert np.linalg.eigvalsh(np.array(body["covariance"])).min() > 0.0
    assert body["azeotrope"]["temperature_K"] == pytest.approx(351.3, abs=0.3)
    assert body["azeotrope"]["mole_fraction"]["ethanol"] == pytest.approx(0.894, abs=0.01)
    mixed = forerun.mix("water", "ethanol").to_json()["pairs"][0]
    assert (mixed["basis"], mixed["origin"]) == ("fitted", "own points")
    assert mixed["sources"] == [source]


def test_keep_share_take_forget(tmp_path: Path):
    text, _ = published("G4-001")
    found = forerun.fit("ethanol", "water", points=text, pressure="1 atm", keep=False)
    assert found.file is None
    assert forerun.mix("ethanol", "water").mixture.pairs[0].origin == "papers"
    shared = tmp_path / "shared.json"
    shared.write_text(found.own.text(), encoding="utf-8")
    taken = take_pair(shared)
    assert taken.file.is_file()
    assert not taken.replaced
    assert take_pair(shared).replaced
    assert forerun.mix("ethanol", "water").mixture.pairs[0].origin == "own points"
    assert forget_pair("water", "ethanol").forgotten
    assert forerun.mix("ethanol", "water").mixture.pairs[0].origin == "papers"
    with pytest.raises(BadInput, match="fitted to own points before"):
        forget_pair("water", "ethanol")


def test_pressures_over_composition():
    lines = "x1,P_kPa\n" + "\n".join(
        f"{x},{p}" for x, p in ((0.1, 18.2), (0.3, 24.9), (0.5, 29.8), (0.7, 33.3), (0.9, 36.2))
    )
    found = forerun.fit("hexane", "toluene", points=lines, temperature="50 °C", keep=False)
    assert found.isotherm is not None
    assert "mmHg at 50.0 °C" in found.drawing()
    assert found.to_json()["rms"]["vapour_mole_fraction"] is None


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("x1,T_C\n0.1,85\n0.3,abc\n", 'row 3, T_C: "abc"'),
        ("x1,T_C\n0.1,85\n30,80\n", 'row 3, x1: "30"'),
        ("x1,T_C\n0.1,85\n,80\n", "row 3"),
        ("x1,T_C\n0.1,9999\n", "a temperature from"),
        ("x1,T_C,P_mmHg\n0.1,85,-3\n", "row 2, P_mmHg"),
        ("x1,T_C\n0.1,85\n0.2,80,7,8\n", "row 3"),
        ("x1,temp\n0.1,85\n", "--points, heading"),
        ("x,T_C\n0.1,85\n", "--points, heading"),
        ("T_C\n85\n", "a column x1"),
        ("x1,w1,T_C\n0.1,0.1,85\n", "one column for the liquid composition"),
        ("x1,T_C\n", "at least three rows"),
        ("x1,y1,T_C\n0.1,2,85\n", "row 2, y1"),
        ("x1,T_C\n0.1,nan\n", "row 2, T_C"),
        ("x1\n0.1\n", "a column T_C or y1"),
    ],
)
def test_bad_rows_are_named(text: str, said: str):
    with pytest.raises(BadInput) as caught:
        forerun.fit("ethanol", "water", points=text, pressure="760 mmHg")
    assert said in str(caught.value)


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        ({"points": "x1,T_C\n" + ROWS}, "--pressure"),
        ({"points": "no such file.csv", "pressure": "1 atm"}, "a file that can be read"),
        ({"points": "x1,T_C\n" + ROWS, "pressure": "12 kg"}, "--pressure"),
    ],
)
def test_bad_options_are_named(arguments: dict[str, str], said: str):
    with pytest.raises(BadInput) as caught:
        forerun.fit("ethanol", "water", **arguments)
    assert said in str(caught.value)


@pytest.mark.parametrize(
    "names", [("ethanol",), ("ethanol", "water", "acetone"), ("OCC", "ethanol")]
)
def test_two_different_substances_are_needed(names: tuple[str, ...]):
    with pytest.raises(BadInput):
        forerun.fit(*names, points="x1,T_C\n" + ROWS, pressure="1 atm")


def read(text: str, first: str, second: str, **options: object):
    return points_from(text, [find(first), find(second)], pressure=101325.0, **options)


def test_units_and_fractions_mean_the_same():
    one = read("x1,T_C,P_mmHg\n0.25,80,760\n", "ethanol", "water").points
    two = read("w2;T_K;P_bar\n0,53977;353,15;1,01325\n", "ethanol", "water").points
    assert two.temperature_K[0] == pytest.approx(one.temperature_K[0])
    assert two.pressure_Pa[0] == pytest.approx(one.pressure_Pa[0], rel=1e-6)
    assert two.liquid_fraction[0] == pytest.approx(0.25, abs=1e-4)


def test_refractive_indices_of_the_pure_liquids_give_the_ends():
    hexane, toluene = find("hexane"), find("toluene")
    assert hexane.refractive_index is not None
    assert toluene.refractive_index is not None
    ends = (hexane.refractive_index.value, toluene.refractive_index.value)
    text = f"n_x,n_y,T_C\n{ends[0]},{ends[1]},80\n{sum(ends) / 2},{ends[0]},85\n"
    given = read(text, "hexane", "toluene")
    assert given.points.liquid_fraction[0] == pytest.approx(1.0, abs=1e-9)
    assert given.points.vapour_fraction[0] == pytest.approx(0.0, abs=1e-9)
    # half way in index is half way in volume, to first order
    volumes = [s.molar_volume.v0 for s in (hexane, toluene)]
    expected = (0.5 / volumes[0]) / (0.5 / volumes[0] + 0.5 / volumes[1])
    assert given.points.liquid_fraction[1] == pytest.approx(expected, abs=0.02)
    assert any("Lorentz" in note for note in given.notes)


def test_density_of_spirit_by_the_alcohol_tables():
    """0.8936 g/mL at 20 degC: 60 wt% would be 0.8911, 59 wt% 0.8934 (OIML R 22, from memory)."""
    given = read("rho_x_g_mL,T_C\n0.8911,80\n", "ethanol", "water")
    moles = 0.6 / find("ethanol").molar_mass
    water = 0.4 / find("water").molar_mass
    assert given.points.liquid_fraction[0] == pytest.approx(moles / (moles + water), abs=0.003)


def test_a_calibration_of_ones_own():
    curve = "x1,n\n0,1.3330\n0.2,1.3550\n0.6,1.3600\n1,1.3614\n"
    given = read("n_x,T_C\n1.3440,85\n1.3575,80\n", "ethanol", "water", calibration=curve)
    assert given.points.liquid_fraction == pytest.approx([0.1, 0.4])


@pytest.mark.parametrize(
    ("text", "first", "second", "said"),
    [
        ("n_x,T_C\n1.35,80\n", "ethanol", "water", "--calibration"),
        ("n_x,T_C\n1.3970,80\n", "heptane", "octane", "between those of the pure"),
        ("n_x,T_C\n1.3890,80\n", "heptane", "2-methylheptane", "row 2, n_x"),
        ("n_x,T_C\n1.6,80\n", "hexane", "toluene", "between those of the pure liquids"),
        ("n_x,T_C\n9,80\n", "hexane", "toluene", "a reading from 1.2 to 1.9"),
        ("rho_x_g_mL,T_C\n0.9,80\n", "acetone", "water", "--calibration"),
    ],
)
def test_readings_that_tell_no_composition_are_refused(
    text: str, first: str, second: str, said: str
):
    with pytest.raises(ForerunError) as caught:
        read(text, first, second)
    assert said in str(caught.value)


def test_drawing_and_words():
    text, _ = published("G4-001")
    found = forerun.fit("ethanol", "water", points=text, pressure="760 mmHg", keep=False)
    svg = found.drawing()
    assert svg.startswith("<svg")
    assert svg.count("<circle") == 30
    assert "boiling points met within" in found.finding


@pytest.mark.parametrize(
    ("words", "field"),
    [
        ({"pressure": "0.001 mmHg"}, "--pressure"),
        ({"pressure": "5 bar"}, "--pressure"),
        ({"pressure": "1 atm", "temperature": "1000 °C"}, "--temperature"),
    ],
)
def test_a_pressure_or_temperature_of_all_points_has_the_limits_of_a_column(
    words: dict[str, str], field: str
) -> None:
    table = b"x1,y1\n0.1,0.2\n0.5,0.6\n0.9,0.95\n"
    with pytest.raises(BadInput, match=field):
        forerun.fit("hexane", "toluene", points=table, keep=False, **words)
