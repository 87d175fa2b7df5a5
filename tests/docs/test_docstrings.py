"""Everything public says what it does; the physics says shapes, units, range and source."""

from __future__ import annotations

import re

import pytest

from docs._public import (
    Item,
    entries_of,
    free_functions,
    model_functions,
    physics_functions,
    physics_items,
    public_items,
    sections_of,
)

UNIT = re.compile(r"\[[^\]]+\]")
SHAPE = re.compile(r"\([\w +\-*/]+,[^)]*\)")
ELSEWHERE = re.compile(r"`[\w.]+`|as in |same (shape|order)|like ")
RANGE = re.compile(
    r"(?i)\bvalid|raises|[<>≤≥]|summing to|beyond|outside|between|\bany\b|\bfrom\b.+\bto\b"
    r"|\bexact\b|never negative|not negative|none negative|positive|everywhere"
)
SOURCE = re.compile(r"\b(Sources?|Derivation):|Not a published model|No published model")


def _is_model(item: Item) -> bool:
    """Whether the function itself names what it implements."""
    return bool(re.search(r"\b(Sources?|Derivation):", item.docstring or ""))


@pytest.mark.parametrize("item", public_items(), ids=str)
def test_public_has_a_docstring(item: Item) -> None:
    assert item.docstring, f"{item} has no docstring"
    summary = item.docstring.split("\n\n")[0]
    assert summary.rstrip().endswith((".", "::", ":")), f"{item}: the summary is not a sentence"


@pytest.mark.parametrize("item", free_functions(), ids=str)
def test_physics_function_explains_its_arguments(item: Item) -> None:
    missing = [p.name for p in item.parameters if p.text is None]
    assert not missing, f"{item}: Args says nothing of {missing}"
    extra = set(entries_of(item.sections.get("Args", ""))) - {p.name for p in item.parameters}
    assert not extra, f"{item}: Args names {sorted(extra)}, which it does not take"
    if item.returns != "None":
        assert item.sections.get("Returns"), f"{item} has no Returns section"


@pytest.mark.parametrize("item", free_functions(), ids=str)
def test_physics_function_gives_units_and_shapes(item: Item) -> None:
    for p in item.parameters:
        if p.is_number:
            assert _has(UNIT, p.text), f"{item}: {p.name} has no unit in brackets"
        if p.is_array:
            assert _has(SHAPE, p.text), f"{item}: {p.name} has no shape such as (C,)"
    if item.returns_number:
        text = item.sections.get("Returns", "")
        assert _has(UNIT, text), f"{item}: what it returns has no unit in brackets"


@pytest.mark.parametrize("item", [i for i in physics_functions() if "." in i.name], ids=str)
def test_method_gives_the_unit_of_its_answer(item: Item) -> None:
    assert not item.returns_number or _has(UNIT, item.docstring), f"{item}: no unit in brackets"


@pytest.mark.parametrize("item", model_functions(), ids=str)
def test_model_names_its_source(item: Item) -> None:
    """In the docstring of the function or, where a whole file is one method, of the file."""
    said = SOURCE.search(f"{item.docstring}\n{item.file_docstring}")
    assert said, f"{item}: say 'Source:', 'Derivation:' or 'Not a published model'"


@pytest.mark.parametrize("item", [i for i in free_functions() if _is_model(i)], ids=str)
def test_model_says_where_it_holds(item: Item) -> None:
    assert RANGE.search(item.docstring or ""), f"{item} does not say where it is valid"


@pytest.mark.parametrize("item", [i for i in physics_items() if i.is_dataclass], ids=str)
def test_record_gives_units_and_shapes(item: Item) -> None:
    for p in item.parameters:
        if p.is_number:
            assert _has(UNIT, p.text), f"{item}: field {p.name} has no unit in brackets"
        if p.is_array:
            assert _has(SHAPE, p.text), f"{item}: field {p.name} has no shape such as (C,)"


def test_the_reader_of_docstrings_sees_what_is_missing() -> None:
    sections = sections_of(
        "Do it.\n\nArgs:\n    a: first [K].\n    b, c: more\n        of it.\n\nSource:\n    X."
    )
    assert set(sections) == {"", "Args", "Source"}
    assert entries_of(sections["Args"]) == {
        "a": "first [K].",
        "b": "more of it.",
        "c": "more of it.",
    }
    assert not _has(UNIT, "a temperature")
    assert not _has(SHAPE, "an array (long)")
    assert not SOURCE.search("taken from somewhere")


def _has(pattern: re.Pattern[str], text: str | None) -> bool:
    return bool(text and (pattern.search(text) or ELSEWHERE.search(text)))
