"""The drawing is well-formed, complete without colour, and says where the numbers are."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET

import pytest

from forerun.reporting.curve import curve_of
from forerun.reporting.cut_rows import cut_rows
from forerun.reporting.picture import Picture, drawn_as_svg
from forerun.still.results import Run
from unit.reporting.sample_run import NAMES, dry_run, run

_SVG = "{http://www.w3.org/2000/svg}"


def _drawing(of: Run, title: str = "First cut: 25 mL & more <acetone>") -> str:
    head = of.trace.head_temperature_K
    fan = (of.trace.time_s, head - 2.0, head + 2.0)
    curve = curve_of(of.trace, of.cuts, by_time=fan)
    return drawn_as_svg(
        Picture(title, "subtitle", "in words", curve, NAMES, cut_rows(of), ("note",))
    )


@pytest.fixture
def tree() -> ET.Element:
    return ET.fromstring(_drawing(run()))


def _texts(tree: ET.Element) -> list[str]:
    return ["".join(element.itertext()) for element in tree.iter(f"{_SVG}text")]


def test_it_has_title_and_description(tree: ET.Element) -> None:
    assert tree.attrib["role"] == "img"
    assert tree.findtext(f"{_SVG}title") == "First cut: 25 mL & more <acetone>"
    assert tree.findtext(f"{_SVG}desc") == "in words"


def test_ground_is_explicit(tree: ET.Element) -> None:
    first = tree.find(f"{_SVG}rect")
    assert first is not None
    assert first.attrib["fill"] == "#FFFFFF"
    assert first.attrib["width"] == tree.attrib["width"]


def test_lines_differ_by_dash_as_well_as_by_ink(tree: ET.Element) -> None:
    drawn = [p for p in tree.iter(f"{_SVG}path") if p.attrib.get("fill") == "none"]
    styles = {(p.attrib["stroke"], p.attrib.get("stroke-dasharray")) for p in drawn}
    assert {stroke for stroke, _ in styles} == {"#0072B2", "#D55E00", "#009E73"}
    assert len({dash for _, dash in styles}) == 3
    assert len(drawn) == 6  # three thermometers against time and against volume


def test_each_line_is_named_at_its_end(tree: ET.Element) -> None:
    texts = _texts(tree)
    for name, last in (("head", 78), ("pot", 85), ("bath", 120)):
        assert texts.count(f"{name} {last}") == 2


def test_cuts_are_numbered_in_both_fields_and_in_the_table(tree: ET.Element) -> None:
    texts = _texts(tree)
    assert texts.count("1") == 3
    assert texts.count("2") == 3
    assert "pot" in texts


def test_nothing_from_outside(tree: ET.Element) -> None:
    text = _drawing(run())
    assert set(re.findall(r"https?://[^\"' ]+", text)) == {"http://www.w3.org/2000/svg"}
    assert "url(http" not in text


def test_no_figure_is_missing() -> None:
    text = _drawing(run())
    assert "nan" not in text.lower().replace("nan</", "")
    assert "inf" not in re.sub(r">[^<]*<", "><", text)


def test_nothing_over_is_said() -> None:
    tree = ET.fromstring(_drawing(dry_run(), "Nothing comes over"))
    assert "nothing came over" in _texts(tree)


def test_everything_stays_on_the_paper(tree: ET.Element) -> None:
    width, height = float(tree.attrib["width"]), float(tree.attrib["height"])
    for element in tree.iter(f"{_SVG}text"):
        assert 0 <= float(element.attrib["x"]) <= width
        assert 0 <= float(element.attrib["y"]) <= height
    for path in tree.iter(f"{_SVG}path"):
        if path.attrib.get("fill") != "none":
            continue
        points = re.findall(r"[ML](-?[\d.]+) (-?[\d.]+)", path.attrib["d"])
        assert all(0 <= float(x) <= width and 0 <= float(y) <= height for x, y in points)
