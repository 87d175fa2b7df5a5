"""The curve in a terminal shows what the run did, within the width, in plain or drawn form."""

from __future__ import annotations

import re

import numpy as np
import pytest

from forerun.reporting.curve import Curve, curve_of
from forerun.reporting.paper import Paper
from forerun.reporting.terminal import drawn_in_terminal
from unit.reporting.sample_run import dry_run, run

_ESCAPES = re.compile("\x1b\\[[0-9;]*m")


def _curve() -> Curve:
    wet = run()
    head = wet.trace.head_temperature_K
    return curve_of(wet.trace, wet.cuts, by_time=(wet.trace.time_s, head - 2.0, head + 2.0))


@pytest.mark.parametrize("width", [40, 60, 80, 110])
@pytest.mark.parametrize("drawn", [True, False])
@pytest.mark.parametrize("colour", [True, False])
def test_lines_fit_the_paper(width: int, drawn: bool, colour: bool) -> None:
    for line in drawn_in_terminal(_curve(), Paper(width, colour, drawn)):
        assert len(_ESCAPES.sub("", line)) <= width


def test_plain_picture_is_ascii() -> None:
    picture = "\n".join(drawn_in_terminal(_curve(), Paper(80, False, False, "ascii")))
    assert picture.encode("ascii")
    assert "\x1b" not in picture


def test_names_stand_at_the_line_ends_in_the_order_of_heat() -> None:
    lines = drawn_in_terminal(_curve(), Paper(80, False, False))
    ends = [line.split()[-1] for line in lines if line.endswith(("head", "pot", "bath"))]
    assert ends == ["bath", "pot", "head"]


def test_cuts_are_numbered_over_their_time() -> None:
    lines = drawn_in_terminal(_curve(), Paper(80, False, False))
    assert lines[0].split() == ["cut", "1", "2"]
    changes = [k for k, character in enumerate(lines[2]) if character == ":"]
    first, second = lines[0].index("1"), lines[0].index("2")
    assert changes[0] < first < changes[1] < second


def test_the_front_is_where_the_run_has_it() -> None:
    """The head's letters rise within the columns of minutes 48 to 54."""
    lines = drawn_in_terminal(_curve(), Paper(80, False, False))
    field = [line[9:] for line in lines[1:17]]
    columns = len(_times_rule(lines)) - 1
    tops = [
        min(r for r, line in enumerate(field) if line[c : c + 1] == "*") for c in range(columns - 1)
    ]
    before = tops[round(columns * 47 / 90)]
    after = tops[round(columns * 57 / 90)]
    assert before - after >= 2
    # 22 K of 104 K shown on 16 rows
    assert abs((before - after) - 22.0 / 102.0 * 16) <= 1.0


def _times_rule(lines: list[str]) -> str:
    return next(line for line in lines if line.lstrip().startswith("++")).strip()


def test_nothing_over_still_draws_the_pot() -> None:
    dry = dry_run()
    picture = "\n".join(drawn_in_terminal(curve_of(dry.trace, dry.cuts), Paper(80, False, False)))
    assert "o" in picture
    assert "cut" not in picture


def test_gaps_are_left_where_nothing_is_known() -> None:
    wet = run()
    wet.trace.head_temperature_K[:300] = np.nan
    picture = drawn_in_terminal(curve_of(wet.trace, wet.cuts), Paper(80, False, False))
    assert all("*" not in line[9:40] for line in picture[1:17])
