"""Generated pages are up to date, and the sheet that a newcomer copies is a good one."""

from __future__ import annotations

import importlib.util
import re
from types import ModuleType

import pytest

from docs._public import ROOT
from forerun.sheets.reading import read_text


@pytest.fixture(scope="module")
def generator() -> ModuleType:
    path = ROOT / "tools" / "docs" / "run_sheet.py"
    spec = importlib.util.spec_from_file_location("run_sheet_page", path)
    assert spec
    assert spec.loader
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def test_run_sheet_reference_is_up_to_date(generator: ModuleType) -> None:
    for path, text in generator.pages().items():
        assert path.read_text(encoding="utf-8") == text, "run: python3 dev.py docs"


def test_the_sheet_in_the_first_pages_is_accepted() -> None:
    page = (ROOT / "docs" / "start.md").read_text(encoding="utf-8")
    sheets = re.findall(r"```toml\n(.*?)```", page, flags=re.DOTALL)
    assert sheets
    for text in sheets:
        assert len(read_text(text).charge) == 2
