"""The Python functions take the same words as the commands and give the same objects."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest

import forerun
from contract.test_json_objects import SHEET, answer
from forerun.core.errors import BadInput
from forerun.core.provenance import made_by


def test_names_are_promised() -> None:
    names = {
        "advise",
        "calibrate",
        "diagnose",
        "example",
        "fit",
        "foresee",
        "lesson",
        "load",
        "look",
        "mix",
        "passport",
        "record",
        "reproduce",
        "review",
    }
    assert set(forerun.__all__) == names
    assert set(forerun.__all__) <= set(dir(forerun))
    with pytest.raises(AttributeError, match="boil"):
        forerun.boil  # noqa: B018 -- the look-up itself is tested


def _plain(found: object) -> object:
    assert isinstance(found, dict)
    assert found["made_by"] == made_by()
    return json.loads(json.dumps(found, allow_nan=False))


def test_look_is_what_the_command_prints() -> None:
    found = forerun.look("toluene", pressure="20 mmHg").to_json()
    assert _plain(found) == answer("look", "toluene", "--pressure", "20 mmHg")


def test_mix_is_what_the_command_prints() -> None:
    found = forerun.mix("ethanol", "water", at=[0.3, 0.7], curve=11).to_json()
    assert _plain(found) == answer("mix", "ethanol", "water", "--at", "0.3,0.7", "--curve", "11")


def test_foresee_is_what_the_command_prints(tmp_path: Path) -> None:
    printed = answer("foresee", "-", given=SHEET)
    path = tmp_path / "sheet.toml"
    path.write_bytes(SHEET)
    assert _plain(forerun.foresee(path).to_json()) == printed
    assert _plain(forerun.foresee(forerun.load(str(path))).to_json()) == printed
    assert _plain(forerun.foresee(SHEET.decode()).to_json()) == printed


def test_advise_is_what_the_command_prints() -> None:
    assert _plain(forerun.advise(SHEET.decode()).to_json()) == answer("advise", "-", given=SHEET)


def test_example_can_be_loaded() -> None:
    found = forerun.example("spirit")
    assert forerun.load(found.sheet).title == found.title


def test_bad_input_is_an_exception_with_its_parts() -> None:
    with pytest.raises(BadInput) as caught:
        forerun.mix("ethanol", "EtOH")
    assert caught.value.field == "substances"
    with pytest.raises(BadInput):
        forerun.foresee("spirit", members=-1)
    with pytest.raises(BadInput):
        forerun.mix("ethanol", "water", at=[0.3, 0.3, 0.4])


def test_importing_costs_nothing_heavy() -> None:
    heavy = ["numpy", "scipy", "numba", "pydantic", "click", "rich"]
    code = f"import sys, forerun; print([m for m in {heavy} if m in sys.modules])"
    source = str(Path(forerun.__file__).parents[1])
    done = subprocess.run(
        [sys.executable, "-c", code],
        capture_output=True,
        text=True,
        env={"PYTHONPATH": source},
        check=True,
    )
    assert done.stdout.strip() == "[]"
