"""Every kind of bad input gets one sentence that names field, value and what is accepted."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from journeys.command import forerun, is_one_sentence

GOOD = """
[[charge]]
substance = "acetone"
amount = "60 mL"
[[charge]]
substance = "toluene"
amount = "60 mL"
[rig]
flask = "250 mL"
[programme]
pressure = "760 mmHg"
bath = [["0 min", "25 °C"], ["20 min", "100 °C"]]
stop = { time = "60 min" }
"""


def _sheet(old: str = "", new: str = "") -> bytes:
    assert old in GOOD
    return GOOD.replace(old, new, 1).encode()


SHEETS = {
    "an unknown substance": (
        _sheet('"acetone"', '"acetoen"'),
        ["charge[1].substance", "acetoen", "acetone"],
    ),
    "an amount without a unit": (_sheet('"60 mL"', '"60"'), ["charge[1].amount", "60", "mL"]),
    "120 wt%": (
        GOOD.encode() + b'[aim]\nsubstance = "acetone"\npurity = "120 wt%"\n',
        ["aim.purity", "120 wt%", "100"],
    ),
    "a negative pressure": (
        _sheet("760 mmHg", "-5 mmHg"),
        ["programme.pressure", "-5 mmHg", "mmHg"],
    ),
    "a flask smaller than its charge": (_sheet("250 mL", "100 mL"), ["rig.flask", "100 mL", "120"]),
    "an empty file": (b"", ["sheet", "empty"]),
    "a file of blanks": (b" \n\n\t\n", ["sheet", "empty"]),
    "a binary file": (bytes(range(256)) * 20, ["sheet"]),
    "a binary file that is text by chance": (b"\x00\x01\x02 = 3\n", ["sheet"]),
    "a sheet of 10 MB": (b"#" * 10_000_000, ["sheet", "1 MB"]),
    "a key misspelt": (_sheet("amount", "ammount"), ["charge[1].ammount", "amount"]),
    "two components equal": (
        _sheet('"toluene"', '"acetone"'),
        ["charge[2].substance", "acetone", "once"],
    ),
    "two components equal by synonym": (
        _sheet('"toluene"', '"propan-2-one"'),
        ["charge[2].substance", "propan-2-one", "acetone"],
    ),
    "text that is not TOML": (b"boil it gently\n", ["sheet", "TOML"]),
    "brackets without end": (b"a = " + b"[" * 4000, ["sheet"]),
    "not a number": (_sheet('"60 mL"', '"nan mL"'), ["charge[1].amount", "nan mL", "60 mL"]),
    "a number where text belongs": (_sheet('"60 mL"', "60"), ["charge[1].amount", "60", "mL"]),
    "no charge": (b'title = "nothing"\n', ["charge", "substance"]),
    "an absurd amount": (_sheet('"60 mL"', '"1e9 L"'), ["charge[1].amount", "1e9 L"]),
}


@pytest.mark.parametrize("kind", sorted(SHEETS))
def test_bad_sheet(kind: str) -> None:
    given, named = SHEETS[kind]
    seen = forerun("foresee", "-", "--members", "0", given=given)
    assert seen.code == 2, seen.err
    assert seen.out == ""
    assert is_one_sentence(seen.err), seen.err
    for word in named:
        assert word in seen.err
    assert "accepted:" in seen.err


COMMANDS = {
    ("look", "unobtainium"): ["substance", "unobtainium", "name"],
    ("look", "acetoen"): ["substance", "acetoen", "did you mean acetone"],
    ("look", "67-64-2"): ["substance", "67-64-2", "check digit"],
    ("look", "acetone", "--pressure", "760"): ["pressure", "760", "mmHg"],
    ("look", "acetone", "--pressure", "-1 mbar"): ["pressure", "-1 mbar", "mbar"],
    ("look", "acetone", "--pressure", "0 mbar"): ["pressure", "0 mbar"],
    ("mix", "acetone"): ["substances", "acetone", "two"],
    ("mix", "acetone", "propanone"): ["substances", "acetone and propanone", "different"],
    ("mix", "acetone", "water", "--at", "0.5"): ["--at", "0.5", "2 mole fractions"],
    ("mix", "acetone", "water", "--at", "0.6,0.6"): ["--at", "0.6,0.6", "add up to 1"],
    ("mix", "acetone", "water", "--at", "-0.1,1.1"): ["--at", "-0.1,1.1", "none negative"],
    ("mix", "acetone", "water", "--at", "half,half"): ["--at", "half,half", "0.3,0.7"],
    ("mix", "acetone", "water", "--at", "nan,1"): ["--at", "nan,1"],
    ("mix", "acetone", "water", "--curve", "1"): ["--curve", "1", "2001"],
    ("mix", "acetone", "water", "ethanol", "--curve", "9"): ["--curve", "two substances"],
    ("foresee", "no-such-sheet.toml"): ["sheet", "no-such-sheet.toml", "example"],
    ("foresee", "spirit", "--members", "-1"): ["--members", "-1", "from 0 to"],
    ("foresee", "spirit", "--members", "many"): ["--members", "many"],
    ("foresee", "spirit", "--seed", "-3"): ["--seed", "-3"],
    ("foresee", "spirit", "--out", "curve.png"): ["--out", "curve.png", ".svg"],
    ("foresee", "spirit", "--out", "/no/such/folder/curve.svg"): ["--out", "/no/such/folder"],
    ("example", "spirits"): ["name", "spirits", "did you mean"],
    ("boil", "it"): ["boil", "accepted", "foresee"],
    ("look", "acetone", "--presure", "1 bar"): ["--presure", "--pressure"],
    ("look",): ["SUBSTANCE", "accepted"],
}


@pytest.mark.parametrize("words", list(COMMANDS), ids=" ".join)
def test_bad_command(words: tuple[str, ...]) -> None:
    seen = forerun(*words)
    assert seen.code == 2, seen.err
    assert seen.out == ""
    assert is_one_sentence(seen.err), seen.err
    for word in COMMANDS[words]:
        assert word in seen.err


def test_json_says_the_same_as_an_object() -> None:
    seen = forerun("foresee", "-", "--json", given=_sheet('"60 mL"', '"60"'))
    error = json.loads(seen.out)["error"]
    assert seen.code == 2
    assert error["field"] == "charge[1].amount"
    assert error["value"] == "60"
    assert "mL" in error["accepted"]
    assert error["message"] == seen.err.strip()


def test_a_folder_is_no_sheet(tmp_path: Path) -> None:
    seen = forerun("foresee", str(tmp_path))
    assert seen.code == 2
    assert is_one_sentence(seen.err)


def test_a_sheet_that_exists_is_not_overwritten(tmp_path: Path) -> None:
    kept = tmp_path / "sheet.toml"
    kept.write_text("mine", encoding="utf-8")
    seen = forerun("example", "spirit", "--out", str(kept))
    assert seen.code == 2
    assert "--out" in seen.err
    assert kept.read_text("utf-8") == "mine"


def test_a_drawing_is_refused_before_anything_is_computed() -> None:
    """The name of the file is looked at first: nobody waits for a run to learn of a slip."""
    seen = forerun("demo", "--out", "picture.jpg", "--members", "4096")
    assert seen.code == 2
    assert ".svg" in seen.err
