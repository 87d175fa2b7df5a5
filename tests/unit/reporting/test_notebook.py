"""Answers in a notebook: shown, as frames, as arrays, on axes; nothing extra is needed."""

from __future__ import annotations

import base64
import html
import importlib
import re
import sys
from html.parser import HTMLParser
from typing import Any

import numpy as np
import pytest

import forerun
from forerun.core.errors import NotCovered
from forerun.reporting.notebook import Notebook
from forerun.reporting.tabled import tables_of, unit_of

SHEET = {
    "title": "<script>alert(1)</script>",
    "charge": [
        {"substance": "heptane", "amount": "40 ± 1 mL"},
        {"substance": "toluene", "amount": "60 mL"},
    ],
    "rig": {"plates": 3, "holdup": "1.5 mL"},
    "switch": [{"head": "103 °C"}],
}
LOG = b"time_min,head_C,distillate_mL\n0,20,0\n20,99,0\n24,100,2\n40,102,20\n45,104,25\n70,110,50\n"


@pytest.fixture(scope="module")
def foreseen() -> Any:
    return forerun.foresee(SHEET, members=4)


@pytest.fixture(scope="module")
def answers(foreseen: Any) -> list[Any]:
    return [
        foreseen,
        forerun.look("toluene"),
        forerun.look("petroleum ether 40-60"),
        forerun.mix("ethanol", "water", drawn=True, curve=21),
        forerun.mix("acetone", "chloroform", "methanol"),
        forerun.review(SHEET, readings=LOG, fit=False),
        forerun.advise(SHEET, members=2),
    ]


class _Tags(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.open: list[str] = []
        self.seen: set[str] = set()

    def handle_starttag(self, tag: str, attrs: Any) -> None:
        self.seen.add(tag)
        assert not any(name.startswith("on") for name, _ in attrs)
        if tag != "img":
            self.open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag


def test_every_answer_shows_itself(answers: list[Any]) -> None:
    for answer in answers:
        shown = answer._repr_html_()
        tags = _Tags()
        tags.feed(shown)
        assert tags.open == []
        assert tags.seen <= {
            "div", "p", "b", "img", "table", "caption", "thead", "tbody", "tr", "th", "td",
        }  # fmt: skip
        assert html.escape(answer.finding) in shown
        assert "<table" in shown
        assert "nan" not in shown.lower().replace("nanometre", "")


def test_a_run_shows_its_picture_and_receivers_in_bench_units(foreseen: Any) -> None:
    shown = foreseen._repr_html_()
    packed = re.search(r"base64,([^\"]+)", shown)
    assert packed is not None
    assert base64.b64decode(packed[1]).decode() == foreseen.drawing()
    head = f"{foreseen.run.cuts[0].end_head_K - 273.15:.1f}"
    assert f">{head}</td>" in shown
    assert "end head / °C" in shown


def test_tables_hold_what_the_object_holds(foreseen: Any) -> None:
    tables = tables_of(foreseen.to_json())
    assert {"trace", "cuts", "ledger", "gates", "unknowns"} <= set(tables)
    trace = {column.name: column for column in tables["trace"]}
    assert trace["head_temperature_K"].unit == "K"
    assert trace["distillate_volume_m3"].unit == "m3"
    assert trace["pot_mole_fraction heptane"].unit == "1"
    assert trace["pot_mole_fraction heptane"].values[0] == pytest.approx(
        foreseen.run.trace.pot_mole_fraction[0, 0]
    )
    cuts = {column.name: column for column in tables["cuts"]}
    assert cuts["volume_band_m3 low"].unit == "m3"
    assert cuts["mole_fraction heptane"].unit == "1"
    assert cuts["number"].values == (1, 0)  # the pot last
    ledger = {column.name: column for column in tables["ledger"]}
    assert ledger["component"].values == ("heptane", "toluene")
    assert ledger["charge_mol"].unit == "mol"


@pytest.mark.parametrize(
    ("key", "unit"),
    [
        ("distillate_rate_mol_s", "mol/s"),
        ("latent_heat_J_mol", "J/mol"),
        ("heat_capacity_J_mol_K", "J/(mol K)"),
        ("density_20C_kg_m3", "kg/m3"),
        ("mass_band_kg low", "kg"),
        ("temperature_band_K high", "K"),
        ("refractive_index_slope_1_K", "1/K"),
        ("purity", "1"),
        ("number", ""),
    ],
)
def test_units_are_read_from_the_names(key: str, unit: str) -> None:
    assert unit_of(key) == unit


class _Axes:
    """Stands for axes of matplotlib: notes what is drawn."""

    def __init__(self) -> None:
        self.lines: list[tuple[Any, Any]] = []
        self.title = ""

    def plot(self, x: Any, y: Any, **_: Any) -> None:
        self.lines.append((np.asarray(x), np.asarray(y)))

    def set_title(self, words: str, **_: Any) -> None:
        self.title = words

    def __getattr__(self, name: str) -> Any:
        return lambda *_, **__: None


def test_answers_are_drawn_onto_given_axes(answers: list[Any], foreseen: Any) -> None:
    drawn = 0
    for answer in answers:
        axes = _Axes()
        if not answer.series():
            with pytest.raises(NotCovered, match="curve"):
                answer.draw(ax=axes)
            continue
        assert answer.draw(ax=axes) is axes
        drawn += 1
        assert axes.lines
        assert axes.title.split()[:2] == answer.finding.split()[:2]
    assert drawn == 5  # all but the bottle and the map of three
    axes = _Axes()
    foreseen.draw(axes)
    minutes, celsius = axes.lines[-1]
    assert minutes == pytest.approx(foreseen.run.trace.time_s / 60)
    assert celsius == pytest.approx(foreseen.run.trace.head_temperature_K - 273.15)


@pytest.mark.parametrize(
    ("package", "ask"), [("pandas", "frames"), ("xarray", "dataset"), ("matplotlib", "draw")]
)
def test_a_missing_library_is_one_clear_sentence(
    monkeypatch: pytest.MonkeyPatch, foreseen: Any, package: str, ask: str
) -> None:
    for name in (package, "matplotlib.pyplot"):
        monkeypatch.setitem(sys.modules, name, None)
    with pytest.raises(NotCovered, match="not installed here") as caught:
        getattr(foreseen, ask)()
    assert package in str(caught.value)
    assert "pip install" in str(caught.value)


def test_showing_needs_none_of_them(monkeypatch: pytest.MonkeyPatch, foreseen: Any) -> None:
    for name in ("matplotlib", "matplotlib.pyplot", "pandas", "xarray"):
        monkeypatch.setitem(sys.modules, name, None)
    assert isinstance(foreseen, Notebook)
    assert "<table" in foreseen._repr_html_()


def _needed(name: str) -> Any:
    return pytest.importorskip(name, reason=f"{name} is an extra and not installed here")


def test_frames_carry_units(answers: list[Any], foreseen: Any) -> None:
    _needed("pandas")
    for answer in answers:
        frames = answer.frames()
        assert frames
        assert all(set(f.attrs["units"]) == set(f.columns) for f in frames.values())
    trace = foreseen.frames()["trace"]
    assert trace["head_temperature_K"].to_numpy() == pytest.approx(
        foreseen.run.trace.head_temperature_K
    )


def test_arrays_carry_units(foreseen: Any) -> None:
    _needed("xarray")
    found = foreseen.dataset()
    assert found["head_temperature_K"].attrs["units"] == "K"
    assert found["pot_mole_fraction"].dims == ("component", "time")
    heptane = found["pot_mole_fraction"].sel(component="heptane").to_numpy()
    assert heptane == pytest.approx(foreseen.run.trace.pot_mole_fraction[:, 0])


def test_a_run_on_real_axes(foreseen: Any) -> None:
    matplotlib = _needed("matplotlib")
    matplotlib.use("Agg")
    pyplot = importlib.import_module("matplotlib.pyplot")
    figure, (left, right) = pyplot.subplots(1, 2)
    assert foreseen.draw(ax=right) is right
    assert len(left.lines) == 0
    assert len(right.lines) >= 3
    assert "°C" in right.get_ylabel()
    pyplot.close(figure)
