"""Values, bands, names and sources in words."""

from __future__ import annotations

import pytest

from forerun.core.references import Reference
from forerun.reporting.bands import Span, value_with_band
from forerun.reporting.paper import Paper
from forerun.reporting.sources import source_lines, source_object
from forerun.reporting.table import columns, paragraph, wrapped
from forerun.reporting.words import capital, listed, shortened

_THIN = "\N{NARROW NO-BREAK SPACE}"


@pytest.mark.parametrize(
    ("value", "span", "shown"),
    [
        (25.3, Span(23.1, 27.4), "25 ± 2 mL"),
        (25.3, Span(20.0, 31.0), "25 ± 6 mL"),
        (25.3, None, "25.3 mL"),
        (99.4, Span(91.0, 99.6), "99 (91–100) mL"),
        (25.3, Span(25.3, 25.3), "25.3 mL"),
        (25.3, Span(float("nan"), 27.0), "25.3 mL"),
    ],
)
def test_value_and_band(value: float, span: Span | None, shown: str) -> None:
    assert value_with_band(value, span, "mL").replace(_THIN, " ") == shown


def test_a_value_off_the_middle_of_its_band_shows_the_ends() -> None:
    """± would claim a symmetry that is not there."""
    assert "±" not in value_with_band(98.0, Span(90.0, 98.5), "mol%")


def test_no_unit_no_gap() -> None:
    assert value_with_band(1.3526, None, "", 4) == "1.3526"


def test_names_at_the_start_of_a_sentence() -> None:
    assert capital("acetone") == "Acetone"
    assert capital("n-hexane") == "n-hexane"
    assert capital("tert-butanol") == "tert-butanol"
    assert capital("1,4-dioxane") == "1,4-dioxane"


def test_lists() -> None:
    assert listed([]) == ""
    assert listed(["a"]) == "a"
    assert listed(["a", "b"]) == "a and b"
    assert listed(["a", "b", "c"], "or") == "a, b or c"


def test_shortening_keeps_the_length() -> None:
    assert shortened("short", 10) == "short"
    assert shortened("a longer, text", 10) == "a longer…"


def test_figures_stand_under_each_other() -> None:
    lines = columns(("cut", "mL"), [("1", "5.0"), ("2", "25.0")], Paper())
    assert lines == ["cut    mL", "1     5.0", "2    25.0"]


def test_long_sentences_wrap_under_their_mark() -> None:
    lines = wrapped("word " * 20, Paper(width=40), mark="- ", indent=2)
    assert all(len(line) <= 40 for line in lines)
    assert lines[0].startswith("  - word")
    assert all(line.startswith("    word") for line in lines[1:])


def test_nothing_to_say_is_not_said() -> None:
    assert paragraph("Look out", [], Paper(), "amber") == []


def _paper(doi: str) -> Reference:
    return Reference(f"doi:{doi}", f"measured vapour pressures of doi:{doi}", doi)


def test_parts_of_one_book_share_a_line_and_papers_are_counted() -> None:
    references = [
        Reference("crc_a", "Haynes, Handbook, CRC Press 2014, boiling points"),
        Reference("crc_b", "Haynes, Handbook, CRC Press 2014, latent heats"),
        *(_paper(f"10.1/{k}") for k in range(9)),
    ]
    assert source_lines(references) == [
        "Haynes, Handbook, CRC Press 2014: boiling points; latent heats",
        "9 papers with measured points",
    ]
    assert len(source_object([*references, references[0]])) == 11


def test_few_papers_are_named() -> None:
    assert source_lines([_paper("10.1/a")]) == ["measured vapour pressures of doi:10.1/a"]
