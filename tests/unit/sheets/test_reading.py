"""Whatever is wrong with a sheet gets one sentence: field, value, what is accepted."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from forerun.core.errors import BadInput
from forerun.sheets.form import SheetForm
from forerun.sheets.reading import json_schema, read_bytes, read_file, read_form, read_text

GOOD = """
[[charge]]
substance = "acetone"
amount = "40 ± 1 mL"
[[charge]]
substance = "toluene"
amount = "60 mL"
"""


def complaint(text: str) -> BadInput:
    with pytest.raises(BadInput) as caught:
        read_text(text)
    assert "\n" not in str(caught.value)
    return caught.value


def test_a_good_sheet() -> None:
    form = read_text(GOOD + '[rig]\nplates = 3\n[programme]\nreflux_ratio = "5:1"\n')
    assert [c.substance for c in form.charge] == ["acetone", "toluene"]
    assert form.charge[0].amount.sigma == pytest.approx(1e-6)
    assert form.rig.plates is not None
    assert form.programme.reflux_ratio is not None
    assert form.programme.reflux_ratio.points == ((0.0, 5.0),)


def test_courses() -> None:
    form = read_text(
        GOOD
        + """
[programme]
pressure = [["0 min", "200 mbar"], ["10 min", "50 mbar"]]
bath = "120 ± 2 °C"
reflux_ratio = [["0 min", "total"], ["30 min", "total"], ["30 min", 5]]
"""
    )
    programme = form.programme
    assert programme.pressure is not None
    assert programme.bath is not None
    assert programme.reflux_ratio is not None
    assert programme.pressure.points == ((0.0, 2e4), (600.0, 5e3))
    assert programme.bath.points == ((0.0, 393.15),)
    assert programme.bath.sigma == pytest.approx(2.0)
    assert programme.reflux_ratio.points[-1] == (1800.0, 5.0)
    assert programme.reflux_ratio.points[0][1] == float("inf")


WRONG = [
    ("", "sheet", "empty"),
    ("   \n\n", "sheet", "empty"),
    ("\0\0\0\0PNG", "sheet", "binary"),
    ("charge = [", "sheet", "TOML"),
    ("[rig]\nplates = 3\n", "charge", "at least one [[charge]]"),
    (GOOD.replace("amount", "ammount"), "charge[1].ammount", 'did you mean "amount"'),
    (GOOD + "[rigg]\n", "rigg", 'did you mean "rig"'),
    (GOOD + "[rig]\nplaets = 3\n", "rig.plaets", 'did you mean "plates"'),
    (GOOD + '[programme]\nstop = { residu = "5 mL" }\n', "programme.stop.residu", "residue"),
    (GOOD + "[rig]\nplates = -1\n", "rig.plates", "0 to 100"),
    (GOOD + "[rig]\nplates = nan\n", "rig.plates", "0 to 100"),
    (GOOD + '[rig]\nplates = "three"\n', "rig.plates", "3 ± 0.5"),
    (GOOD + "[rig]\nplates = true\n", "rig.plates", "0 to 100"),
    (GOOD + "[rig]\nflask = 250\n", "rig.flask", "60 mL"),
    (GOOD + "rig = 3\n", "charge[2].rig", "keys of charge[2]"),
    ("rig = 3\n" + GOOD, "rig", "a table"),
    ('charge = "acetone"\n', "charge", "[[charge]]"),
    ("charge = []\n", "charge", "at least 1"),
    ("charge = [3]\n", "charge[1]", "a table"),
    (GOOD.replace('"40 ± 1 mL"', '"40"'), "charge[1].amount", "mL, g or mol"),
    (GOOD.replace('"40 ± 1 mL"', "40"), "charge[1].amount", "mL, g or mol"),
    (GOOD.replace('"40 ± 1 mL"', '"-40 mL"'), "charge[1].amount", "volume"),
    (GOOD.replace('"40 ± 1 mL"', '"0 mL"'), "charge[1].amount", "above 0"),
    (GOOD.replace('amount = "60 mL"', ""), "charge[2].amount", "an amount"),
    (GOOD + '[programme]\npressure = "-3 mbar"\n', "programme.pressure", "pressure"),
    (GOOD + '[programme]\npressure = "3 bar"\n', "programme.pressure", "not above"),
    (GOOD + "[programme]\nreflux_ratio = -2\n", "programme.reflux_ratio", "0 to 1000"),
    (GOOD + "[programme]\nbath = []\n", "programme.bath", "pairs"),
    (GOOD + '[programme]\nbath = [["0 min"]]\n', "programme.bath[1]", "[time, value]"),
    (
        GOOD + '[programme]\nbath = [["5 min", "25 °C"], ["1 min", "30 °C"]]\n',
        "programme.bath[2]",
        "do not go back",
    ),
    (
        GOOD + '[programme]\nbath = [["5 min", "25 °C"], ["6 min", "30"]]\n',
        "programme.bath[2]",
        "temperature",
    ),
    (GOOD + '[aim]\npurity = "120 wt%"\n', "aim.purity", "0 to 100 %"),
    (GOOD + '[aim]\nrecovery = "80"\n', "aim.recovery", "80 %"),
    (GOOD + '[uncertain]\nplate = "10 %"\n', "uncertain.plate", 'did you mean "plates"'),
    (f'title = "{"x" * 300}"' + GOOD, "title", "200 characters"),
    ('title = "a\\u0007b"' + GOOD, "title", "control"),
    ("a = " + "[" * 3000 + "]" * 3000, "sheet", "characters"),
    ("a = " + "[\n" * 3000, "sheet", "nested too deep"),
    ("a = " + "{b=" * 900, "sheet", "nested too deep"),
    (".".join(["a"] * 2000) + " = 1\n", "a", "keys of a sheet"),
]


@pytest.mark.parametrize(("text", "field", "advice"), WRONG)
def test_one_sentence_for_whatever_is_wrong(text: str, field: str, advice: str) -> None:
    error = complaint(text)
    assert error.field == field
    assert advice in error.accepted


def test_a_sheet_of_ten_megabytes() -> None:
    assert "1 MB" in complaint("#" * 10_000_000).accepted
    with pytest.raises(BadInput, match="1 MB"):
        read_bytes(b"#" * 10_000_000, "big.toml")


def test_bytes_that_are_no_text() -> None:
    with pytest.raises(BadInput, match="UTF-8"):
        read_bytes(bytes(range(256)), "picture.png")
    with pytest.raises(BadInput, match="UTF-8"):
        read_bytes('title = "é"'.encode("latin-1"), "old.toml")


def test_a_file(tmp_path: Path) -> None:
    path = tmp_path / "run.toml"
    path.write_text("\ufeff" + GOOD, encoding="utf-8")
    assert len(read_file(path).charge) == 2
    with pytest.raises(BadInput, match="the path of a run sheet"):
        read_file(tmp_path / "missing.toml")
    with pytest.raises(BadInput, match="the path of a run sheet"):
        read_file(tmp_path)


def test_a_table_has_the_same_rules() -> None:
    data: dict[str, Any] = {"charge": [{"substance": "acetone", "amount": "40 mL"}]}
    assert read_form(data).charge[0].amount.value == pytest.approx(4e-5)
    for wrong in ([], "text", {"charge": {}}, {"charge": [{"substance": 3}]}, {3: 4}):
        with pytest.raises(BadInput):
            read_form(wrong)  # type: ignore[arg-type]


def test_a_key_with_a_line_break_stays_in_one_line() -> None:
    with pytest.raises(BadInput) as caught:
        read_form({"charge": {"\n": None}})
    assert "\n" not in str(caught.value)


def test_more_components_than_are_followed() -> None:
    row = {"substance": "acetone", "amount": "1 mL"}
    with pytest.raises(BadInput, match="at most 8"):
        read_form({"charge": [row] * 9})


def test_the_schema_is_json_and_knows_every_key() -> None:
    schema = json.loads(json.dumps(json_schema()))
    assert set(schema["properties"]) == set(SheetForm.model_fields)
    assert schema["required"] == ["charge"]
    assert schema["additionalProperties"] is False


KEYS = ["charge", "rig", "programme", "switch", "aim", "uncertain", "title", "plates", "amount"]
JUNK = st.recursive(
    st.none() | st.booleans() | st.floats() | st.integers() | st.text(max_size=20),
    lambda inner: (
        st.lists(inner, max_size=3)
        | st.dictionaries(st.sampled_from(KEYS) | st.text(max_size=5), inner, max_size=3)
    ),
    max_leaves=10,
)


@settings(max_examples=200, deadline=None)
@given(st.dictionaries(st.sampled_from(KEYS), JUNK, max_size=5))
def test_no_table_breaks_the_reader(data: dict[str, Any]) -> None:
    sentence = ""
    try:
        read_form(data)
    except BadInput as error:
        sentence = str(error)
    assert "\n" not in sentence
