"""Receivers in words."""

from __future__ import annotations

from forerun.reporting.bands import Span
from forerun.reporting.cut_rows import CutSpans, composition_words, cut_rows
from unit.reporting.sample_run import dry_run, run

_THIN = "\N{NARROW NO-BREAK SPACE}"


def test_rows_follow_the_receivers_and_end_with_the_pot() -> None:
    rows = cut_rows(run())
    assert [row.badge for row in rows] == ["1", "2", "pot"]
    first = rows[0]
    assert first.time.replace(_THIN, " ") == "28–50 min"
    assert first.head.replace(_THIN, " ") == "56.1–61.0 °C"
    assert first.volume.replace(_THIN, " ") == "25.0 mL"
    assert first.composition == "acetone 97.0, ethanol 3.0"
    assert first.fractions == (0.97, 1.0 - 0.97)


def test_bands_reach_volume_and_composition() -> None:
    fractions = (Span(0.96, 0.98), Span(0.02, 0.04))
    spans = [CutSpans(Span(23e-6, 27e-6), fractions)]
    first = cut_rows(run(), spans)[0]
    assert first.volume.replace(_THIN, " ") == "25 ± 2 mL"
    assert first.composition == "acetone 97 ± 1, ethanol 3 ± 1"


def test_the_pot_has_no_receiver_times() -> None:
    pot = cut_rows(run())[-1]
    assert pot.time == ""
    assert pot.head == ""
    assert pot.volume.replace(_THIN, " ") == "10.0 mL"


def test_nothing_over_leaves_the_pot_alone() -> None:
    assert [row.badge for row in cut_rows(dry_run())] == ["pot"]


def test_the_most_comes_first_and_traces_stay_out() -> None:
    words = composition_words(("a", "b", "c"), (0.2, 0.7999, 0.0001))
    assert words == "b 80.0, a 20.0"
