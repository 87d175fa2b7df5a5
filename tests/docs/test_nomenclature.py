"""One name for one thing: every parameter of the physics stands in docs/nomenclature.md."""

from __future__ import annotations

import re

from docs._public import ROOT, free_functions

PAGE = ROOT / "docs" / "nomenclature.md"
ROW = re.compile(r"^\| `([^`]+)`((?:, `[^`]+`)*) \| (.+?) \| (.+?) \|$")


def _rows() -> dict[str, tuple[str, str]]:
    found: dict[str, tuple[str, str]] = {}
    for line in PAGE.read_text(encoding="utf-8").splitlines():
        match = ROW.match(line)
        if match:
            for name in re.findall(r"`([^`]+)`", line.split("|")[1]):
                assert name not in found, f"{name} stands twice in docs/nomenclature.md"
                found[name] = (match.group(3), match.group(4))
    return found


def test_every_parameter_is_in_the_nomenclature() -> None:
    known = _rows()
    used: dict[str, list[str]] = {}
    for item in free_functions():
        for p in item.parameters:
            used.setdefault(p.name, []).append(str(item))
    unknown = {name: places for name, places in used.items() if name not in known}
    assert not unknown, f"not in docs/nomenclature.md (or better renamed): {unknown}"


def test_every_row_has_a_meaning_and_a_unit() -> None:
    rows = _rows()
    assert len(rows) > 20  # the pattern above reads the table
    for name, (meaning, unit) in rows.items():
        assert meaning.strip(), name
        assert re.search(r"\[.+\]|text|flag|object|function", unit), f"{name}: {unit}"
