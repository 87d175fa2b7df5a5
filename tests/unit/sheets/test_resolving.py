"""From the checked form to the run sheet: substances, moles, defaults, what does not fit."""

from __future__ import annotations

import math
from pathlib import Path

import pytest

from forerun.core.errors import BadInput
from forerun.sheets.examples import example, example_names
from forerun.sheets.model import UNKNOWNS
from forerun.sheets.resolving import load
from forerun.substances.catalogue import find

BARE = """
[[charge]]
substance = "acetone"
amount = "40 ± 1 mL"
[[charge]]
substance = "toluene"
amount = "60 mL"
"""


def refused(text: str) -> BadInput:
    with pytest.raises(BadInput) as caught:
        load(text)
    assert "\n" not in str(caught.value)
    return caught.value


@pytest.mark.parametrize("name", example_names())
def test_every_example_is_a_sheet_and_says_that_it_is_invented(name: str) -> None:
    sheet = load(name)
    assert sheet.title != "untitled"
    assert len(sheet.charge) >= 2
    assert "Invented for this project" in example(name).splitlines()[0]
    assert not sheet.warnings or name == "spirit"  # steel sponge and acids


def test_there_are_enough_examples() -> None:
    assert {"workshop-blend", "class-pair", "simple-still", "reduced-pressure"} <= set(
        example_names()
    )
    assert len(example_names()) >= 6
    with pytest.raises(BadInput, match='did you mean "spirit"'):
        example("spirits")


def test_amounts_in_any_unit_are_the_same_amount() -> None:
    acetone = find("acetone")
    grams = 1e3 * acetone.molar_mass
    millilitres = 1e6 * acetone.molar_volume.v0
    for amount in ("1 mol", f"{grams:.9f} g", f"{millilitres:.9f} mL"):
        portion = load(f'[[charge]]\nsubstance="acetone"\namount="{amount}"').charge[0]
        assert portion.amount_mol.value == pytest.approx(1.0, rel=1e-8)
        assert portion.mass_kg == pytest.approx(acetone.molar_mass, rel=1e-8)
        assert portion.volume_m3 == pytest.approx(acetone.molar_volume.v0, rel=1e-8)


def test_the_doubt_of_an_amount_follows_it_into_moles() -> None:
    amount = load(BARE).charge[0].amount_mol
    assert amount.sigma / amount.value == pytest.approx(1.0 / 40.0)
    assert load(BARE).charge[1].amount_mol.sigma == 0.0


def test_everything_but_the_charge_has_a_default_that_is_said() -> None:
    sheet = load(BARE)
    said = " ".join(sheet.defaults)
    for key in (
        "programme.pressure",
        "rig.flask",
        "rig.column",
        "rig.heat_loss",
        "rig.heat_transfer",
        "rig.bath",
        "rig.condenser",
        "rig.coolant",
        "rig.room",
        "programme.bath",
        "programme.reflux_ratio",
        "programme.stop.residue",
        "programme.stop.time",
        "switch",
    ):
        assert f"{key} = " in said, key
    assert sheet.rig.flask_volume_m3.value == pytest.approx(2.5e-4)
    assert not sheet.rig.flask_volume_m3.given
    assert sheet.rig.plates.value == 0.0
    assert sheet.programme.stop.residue_m3 == pytest.approx(1e-5)


def test_what_is_given_is_no_default() -> None:
    text = (
        BARE + '[rig]\nflask = "250 mL"\nplates = "3 ± 0.5"\nholdup = "2 mL"\nheat_loss = "0 W/K"'
    )
    sheet = load(text)
    assert sheet.rig.plates.given
    assert sheet.rig.plates.sigma == 0.5
    assert sheet.rig.heat_loss_W_K.value == 0.0
    said = " ".join(sheet.defaults)
    for key in ("rig.flask", "rig.plates", "rig.holdup", "rig.heat_loss"):
        assert f"{key} = " not in said


def test_a_column_brings_plates_hold_up_and_loss() -> None:
    sheet = load(BARE + '[rig]\ncolumn = "Vigreux 30 cm"\n')
    assert sheet.rig.plates.value == pytest.approx(3.0)
    assert sheet.rig.plates.sigma > 0.0
    assert sheet.rig.holdup_m3.value == pytest.approx(2.25e-6)
    assert 0.0 < sheet.rig.neck_loss_share < 1.0
    lagged = load(BARE + '[rig]\ncolumn = "Vigreux 30 cm"\nlagging = "vacuum jacket"\n')
    assert lagged.rig.heat_loss_W_K.value < 0.5 * sheet.rig.heat_loss_W_K.value


def test_the_default_bath_gets_hotter_with_the_pot_and_stays_in_its_limit() -> None:
    points = load(BARE).programme.bath_K.points
    assert points[0][1] == pytest.approx(293.15)
    assert points[1][1] > find("acetone").boiling_point.value + 25.0 - 1.0
    assert points[2][1] > find("toluene").boiling_point.value + 25.0 - 1.0
    water = load(BARE + '[rig]\nbath = "water"\n')
    assert max(v for _, v in water.programme.bath_K.points) <= 363.15


def test_two_equal_components_also_by_synonym() -> None:
    for other in ("acetone", "2-propanone", "67-64-1", "CC(C)=O"):
        error = refused(BARE + f'[[charge]]\nsubstance = "{other}"\namount = "1 mL"\n')
        assert error.field == "charge[3].substance"
        assert "acetone is charge[1] already" in error.accepted


def test_an_unknown_substance() -> None:
    error = refused('[[charge]]\nsubstance = "acetoen"\namount = "1 mL"\n')
    assert error.field == "charge[1].substance"
    assert "acetone" in error.accepted


def test_a_flask_smaller_than_its_charge() -> None:
    error = refused(BARE + '[rig]\nflask = "50 mL"\n')
    assert error.field == "rig.flask"
    assert error.value == "50 mL"
    assert "250 mL" in error.accepted


def test_a_flask_too_full_is_warned_about() -> None:
    assert "two thirds" in " ".join(load(BARE + '[rig]\nflask = "120 mL"\n').warnings)
    half = '[rig]\nflask = "180 mL"\n'
    assert not load(BARE + half).warnings
    vacuum = load(BARE + half + '[programme]\npressure = "50 mbar"\n')
    assert "half under reduced pressure" in " ".join(vacuum.warnings)


def test_a_column_that_holds_much_of_the_charge_is_warned_about() -> None:
    sheet = load(BARE + '[rig]\nplates = 5\nholdup = "20 mL"\n')
    assert "ten times" in " ".join(sheet.warnings)


def test_a_bath_beyond_its_limit_is_warned_about() -> None:
    sheet = load(BARE + '[rig]\nbath = "water"\n[programme]\nbath = "120 °C"\n')
    assert "above the usual limit of water" in " ".join(sheet.warnings)


@pytest.mark.parametrize(
    ("tail", "field"),
    [
        ('[programme]\nstop = { residue = "100 mL" }\n', "programme.stop.residue"),
        ('[programme]\nstop = { time = "0 min" }\n', "programme.stop.time"),
        ("[[switch]]\n", "switch[1]"),
        ('[[switch]]\nhead = "70 °C"\nvolume = "3 mL"\n', "switch[1]"),
        ('[aim]\nsubstance = "water"\n', "aim.substance"),
        ('[uncertain]\nthermometer = "10 %"\n', "uncertain.thermometer"),
        ('[uncertain]\nplates = "1 K"\n', "uncertain.plates"),
        ('[rig]\nbath = "silicon oli"\n', "rig.bath"),
        ('[rig]\ncolumn = "pipe 3 cm"\n', "rig.column"),
        ('[rig]\nlagging = "blanket"\n', "rig.lagging"),
    ],
)
def test_what_does_not_fit_together(tail: str, field: str) -> None:
    assert refused(BARE + tail).field == field


def test_peroxide_formers_keep_a_larger_residue() -> None:
    sheet = load('[[charge]]\nsubstance = "tetrahydrofuran"\namount = "100 mL"\n')
    assert sheet.programme.stop.residue_m3 == pytest.approx(2e-5)


def test_a_solid_measured_by_volume_is_warned_about() -> None:
    sheet = load('[[charge]]\nsubstance = "tert-butanol"\namount = "100 mL"\n')
    assert "melts at" in " ".join(sheet.warnings)


def test_stated_doubts_are_kept() -> None:
    text = BARE + '[uncertain]\nplates = "20 %"\nthermometer = "0.3 K"\npressure = "2 mmHg"\n'
    stated = load(text).uncertain
    assert set(stated) <= set(UNKNOWNS)
    assert stated["plates"].value == pytest.approx(0.2)
    assert stated["thermometer"].value == pytest.approx(0.3)
    assert stated["pressure"].value == pytest.approx(266.64, rel=1e-4)


def test_the_gauge_is_not_exact() -> None:
    assert load(BARE).programme.pressure_Pa.sigma == pytest.approx(1000.0)
    stated = load(BARE + '[programme]\npressure = "12 ± 2 mmHg"\n').programme.pressure_Pa
    assert stated.sigma == pytest.approx(2 * 133.322, rel=1e-4)
    usual = load(BARE + '[programme]\npressure = "12 mmHg"\n').programme.pressure_Pa
    assert 0.0 < usual.sigma < 133.4


def test_an_air_condenser_is_as_cold_as_the_room() -> None:
    sheet = load(BARE + '[rig]\ncondenser = "air"\ncoolant = "5 °C"\n')
    assert sheet.rig.coolant_temperature_K.value == sheet.rig.room_temperature_K.value
    assert "plays no part" in " ".join(sheet.warnings)


def test_a_mantle_has_no_limit() -> None:
    sheet = load(BARE + '[rig]\nbath = "mantle"\n')
    assert sheet.rig.bath_limit_K == math.inf
    assert "dry walls" in " ".join(sheet.warnings)


def test_a_sheet_comes_from_path_text_bytes_table_or_name(tmp_path: Path) -> None:
    path = tmp_path / "run.toml"
    path.write_text(BARE, encoding="utf-8")
    table = {
        "charge": [
            {"substance": "acetone", "amount": "40 ± 1 mL"},
            {"substance": "toluene", "amount": "60 mL"},
        ]
    }
    sheets = [load(source) for source in (path, str(path), BARE, BARE.encode(), table)]
    assert all(sheet == sheets[0] for sheet in sheets)
    assert sheets[0].names == ("acetone", "toluene")
    with pytest.raises(BadInput, match="the path of a run sheet"):
        load("no-such-sheet")
    with pytest.raises(BadInput, match="sheet"):
        load(3)  # type: ignore[arg-type]
