"""The page drops nothing of a sheet: each key of the form is one that it keeps."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from forerun.sheets.form import InvolatileForm, ProgrammeForm, RigForm, SheetForm

TIDY = Path(__file__).resolve().parents[3] / "web" / "src" / "state" / "tidy.ts"


@pytest.mark.parametrize("form", [SheetForm, RigForm, ProgrammeForm, InvolatileForm])
def test_the_page_knows_each_key(form: type) -> None:
    text = TIDY.read_text(encoding="utf-8")
    lost = [key for key in form.model_fields if not re.search(rf"['.]{key}\b", text)]
    assert lost == []
