"""Pages, labels, archive, tables for spreadsheets."""

from __future__ import annotations

import csv
import hashlib
import io
import json
import re
import zipfile
from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest

from contract.test_json_objects import SHEET
from forerun.app.record import Recorded, record
from forerun.core.errors import BadInput
from forerun.reporting import labels
from forerun.reporting.archive import METADATA_FILE
from forerun.reporting.labels import LABEL_SHEETS
from forerun.reporting.record_notes import NOTES, Notes, read_notes
from forerun.reporting.tables_csv import csv_text
from forerun.reporting.typeset import PAPERS, typeset

FILES = Path(__file__).resolve().parents[2] / "contract" / "files"
EVIL = '#panic("x") $x$ *b* \\ <a> "q" = 1'


@cache
def _recorded(paper: str = "a4") -> Recorded:
    notes = Notes({"operator": EVIL, "purpose": "solvent back"}, {"acetone": "lot 7, 2026"})
    return record(
        SHEET.decode(),
        readings=FILES / "log.csv",
        assays=FILES / "assays.csv",
        notes=notes,
        paper=paper,
        fit=False,
    )


def _pages(pdf: bytes) -> int:
    return len(re.findall(rb"/Type\s*/Page[^s]", pdf))


@pytest.mark.parametrize(("paper", "size"), [("a4", b"595"), ("letter", b"612")])
def test_record_is_a_tagged_pdf_of_the_wanted_size(paper: str, size: bytes) -> None:
    pdf = _recorded(paper).pdf
    assert pdf.startswith(b"%PDF-1.")
    assert b"/MarkInfo" in pdf
    assert b"/Lang" in pdf
    assert re.search(rb"/MediaBox\s*\[\s*0 0 " + size, pdf)
    assert _pages(pdf) >= 2


_WORDS_OF_THE_SPECIFICATION = {  # those of its context that an archive needs
    "about", "affiliation", "author", "conformsTo", "contentSize", "dateCreated", "datePublished",
    "description", "encodingFormat", "hasPart", "instrument", "license", "mentions", "name",
    "publisher", "version",
}  # fmt: skip


def test_what_the_trade_asks_for_is_on_it() -> None:
    data = _recorded().record.data("a4", True)
    fields = dict(data["fields"])
    assert fields["purpose"] == "solvent back"
    assert set(fields) >= {"barometer as read", "barometer corrected", "flask, empty", "balance"}
    assert dict(data["closing"])["waste: what went where"] == ""
    assert data["charge"][0][-1] == "lot 7, 2026"
    assert {gate[0] for gate in data["gates"]} >= {"vent path", "peroxides", "dryness", "bath"}
    assert any(row[0] == "1" and "°C/" in row[2] for row in data["cuts"])
    assert [row[0] for row in data["account"]][-2:] == ["column, head", "lost"]
    assert any("receiver 2" in row[-1] for row in data["log"])
    digest = hashlib.sha256((FILES / "log.csv").read_bytes()).hexdigest()
    assert any(digest in line for line in data["versions"])
    assert any(line.startswith("forerun ") for line in data["versions"])
    assert data["sources"]


def test_words_are_never_read_as_markup() -> None:
    assert _recorded().pdf  # the operator's name would panic if it were
    with_evil = {**_recorded().record.data("a4", False), "title": EVIL, "finding": EVIL}
    assert typeset("record", with_evil, curve="").startswith(b"%PDF")


def test_a_plan_can_be_printed_before_the_run() -> None:
    found = record(SHEET.decode())
    assert found.record.data("a4", True)["cuts_title"] == "What should come over"
    assert found.pdf.startswith(b"%PDF")
    with pytest.raises(BadInput, match="--readings"):
        found.labels("a4-14")


@pytest.mark.parametrize("name", sorted(LABEL_SHEETS))
def test_labels_fit_their_sheet(name: str) -> None:
    form = LABEL_SHEETS[name]
    right = form.left_mm + (form.across - 1) * form.pitch_mm[0] + form.label_mm[0]
    bottom = form.top_mm + (form.down - 1) * form.pitch_mm[1] + form.label_mm[1]
    assert right <= form.page_mm[0]
    assert bottom <= form.page_mm[1]
    pdf = _recorded().labels(name)
    wide = str(int(form.page_mm[0] / 25.4 * 72)).encode()
    assert re.search(rb"/MediaBox\s*\[\s*0 0 " + wide, pdf)
    assert _pages(pdf) == 1


def test_a_begun_sheet_of_labels_runs_over_to_the_next() -> None:
    form = LABEL_SHEETS["a4-14"]
    assert _pages(_recorded().labels("a4-14", form.across * form.down)) == 2
    for wrong in (0, 15):
        with pytest.raises(BadInput, match="--skip"):
            _recorded().labels("a4-14", wrong)
    with pytest.raises(BadInput, match="--stock"):
        _recorded().labels("round")


def _crate() -> tuple[dict[str, bytes], dict[str, dict[str, object]]]:
    with zipfile.ZipFile(io.BytesIO(_recorded().archive())) as bundle:
        files = {name: bundle.read(name) for name in bundle.namelist()}
    described = json.loads(files[METADATA_FILE])
    words, own = described["@context"]
    assert words == "https://w3id.org/ro/crate/1.1/context"
    used = {key for entity in described["@graph"] for key in entity if not key.startswith("@")}
    assert used <= _WORDS_OF_THE_SPECIFICATION | set(own)
    entities = described["@graph"]
    assert len({e["@id"] for e in entities}) == len(entities)
    return files, {e["@id"]: e for e in entities}


def test_archive_keeps_the_rules_of_its_specification() -> None:
    files, entities = _crate()
    descriptor = entities[METADATA_FILE]
    assert descriptor["@type"] == "CreativeWork"
    assert descriptor["conformsTo"] == {"@id": "https://w3id.org/ro/crate/1.1"}
    assert descriptor["about"] == {"@id": "./"}
    root = entities["./"]
    assert root["@type"] == "Dataset"
    for needed in ("name", "description", "datePublished", "license"):
        assert root[needed]
    assert re.fullmatch(r"\d{4}-\d{2}-\d{2}", str(root["datePublished"]))
    parts = {part["@id"] for part in root["hasPart"]}  # type: ignore[attr-defined]
    assert parts == set(files) - {METADATA_FILE}
    for entity in entities.values():
        assert entity["@type"]
        for value in entity.values():
            for item in value if isinstance(value, list) else [value]:
                if isinstance(item, dict) and not item["@id"].startswith("http"):
                    assert item["@id"] in entities


def test_archive_describes_its_files_truly() -> None:
    files, entities = _crate()
    for name, data in files.items():
        if name == METADATA_FILE:
            continue
        entity = entities[name]
        assert entity["@type"] == "File"
        assert entity["sha256"] == hashlib.sha256(data).hexdigest()
        assert entity["contentSize"] == str(len(data))
        assert entity["encodingFormat"]
    assert files["readings.csv"] == (FILES / "log.csv").read_bytes()
    assert files["sheet.toml"] == SHEET
    assert json.loads(files["results.json"])["review"]["cuts"]
    rows = list(csv.DictReader(io.StringIO(files["ledger.csv"].decode())))
    assert rows[0]["place"] == "charge"
    parts = sum(float(row["mass_kg"]) for row in rows[1:])
    assert parts == pytest.approx(float(rows[0]["mass_kg"]), rel=1e-9)


@pytest.mark.parametrize("evil", ["=1+1", "+1", "-2+3", "@SUM(A1)", "\t=1", "\r=1"])
def test_a_spreadsheet_runs_nothing(evil: str) -> None:
    (row,) = list(csv.reader(io.StringIO(csv_text(("a", "b"), [(evil, -2.5)]), newline="")))[1:]
    assert row == [f"'{evil}", "-2.5"]


def test_notes(tmp_path: Path) -> None:
    path = tmp_path / "notes.toml"
    path.write_text('purpose = "get it\\nback"\n[lots]\nacetone = "A 1"\n', "utf-8")
    notes = read_notes(path)
    assert notes.words == {"purpose": "get it back"}
    assert notes.lots == {"acetone": "A 1"}
    assert len(notes.opening()) + len(notes.closing()) == len(NOTES) + 1
    path.write_text('colour = "red"\n', "utf-8")
    with pytest.raises(BadInput, match="colour"):
        read_notes(path)
    path.write_text("purpose = \n", "utf-8")
    with pytest.raises(BadInput, match="--notes"):
        read_notes(path)


def test_paper() -> None:
    assert set(PAPERS) == {"a4", "letter"}
    with pytest.raises(BadInput, match="--paper"):
        record(SHEET.decode(), paper="a5")


@pytest.mark.parametrize("name", sorted(LABEL_SHEETS))
def test_labels_print_to_scale(name: str) -> None:
    form = LABEL_SHEETS[name]
    found = re.search(rb"/MediaBox\s*\[\s*0 0 ([\d.]+) ([\d.]+)\s*\]", _recorded().labels(name))
    assert found is not None
    box = [float(side) * 25.4 / 72.0 for side in found.groups()]
    assert box == pytest.approx(list(form.page_mm), abs=0.02)
    right = form.left_mm + (form.across - 1) * form.pitch_mm[0] + form.label_mm[0]
    # what is left over on the right is what stands on the left: labels lie in the middle
    assert form.page_mm[0] - right == pytest.approx(form.left_mm, abs=0.6)


def test_a_record_says_what_the_log_shows_and_does_not_deny_having_looked() -> None:
    parts = dict(_recorded().record.data("a4", False)["parts"])
    assert parts["What the log shows"]
    assert not any("Signs of trouble" in line for line in parts.get("Not examined", ()))


def test_a_fitted_record_says_what_another_way_would_have_given() -> None:
    fitted = record(
        SHEET.decode(), readings=FILES / "log.csv", assays=FILES / "assays.csv", fit=True
    )
    parts = dict(fitted.record.data("a4", False)["parts"])
    assert any(line.startswith("Half the heat") for line in parts["Run otherwise"])
    assert "Run otherwise" not in dict(_recorded().record.data("a4", False)["parts"])


_WEIGHED = "cut,method,substance,value,unit\n1,mass,,20.00,g\n"


def test_a_label_never_calls_analysed_what_was_only_weighed() -> None:
    analysed = _label_words(_recorded())
    assert any("composition analysed" in words for words in analysed)
    sheet, log = SHEET.decode(), FILES / "log.csv"
    weighed = _label_words(record(sheet, readings=log, assays=_WEIGHED, fit=False))
    assert not any("composition analysed" in words for words in weighed)
    assert "not analysed: composition by the forecast" in weighed[0]
    assert "neither weighed nor analysed: all by the forecast" in weighed[-1]
    for words in (*analysed, *weighed):
        assert re.search(r"\d ± \d|\(\d|>", words.split("|")[0]), "a strength without its band"
    notes = record(sheet, readings=log, assays=_WEIGHED, fit=False).record.reviewed
    assert notes is not None
    assert any("Not analysed: cut 1" in note for note in notes.cut_notes())


def _label_words(found: Recorded) -> list[str]:
    reviewed = found.record.reviewed
    assert reviewed is not None
    lines = [x for x in reviewed.review.account.lines if x.place.isdecimal() or x.place == "pot"]
    made = [labels._label(found.record, line) for line in lines if line.mass_kg > 1e-5]
    return [f"{one['contents']}|{one['foot']}" for one in made]


def test_a_label_warns_of_what_may_be_there() -> None:
    """A residue that was only weighed may still hold acetone, and catches fire as acetone does."""
    found = record(
        SHEET.decode(), readings=FILES / "log.csv", assays="cut,method,substance,value,unit\n"
        "pot,mass,,23.40,g\n", fit=False,
    )  # fmt: skip
    reviewed = found.record.reviewed
    assert reviewed is not None
    line = reviewed.review.account.line("pot")
    assert line is not None
    pure = replace(
        line,
        by_component_kg=np.array([0.0, line.mass_kg]),
        mole_fraction=np.array([0.0, 1.0]),
        mole_fraction_band=np.array([0.3, 0.3]),
    )
    assert reviewed.review.account.names[0] == "acetone"
    label = labels._label(found.record, pure)
    assert label["contents"].endswith("wt\N{NARROW NO-BREAK SPACE}%")
    assert re.search(r"100 \(\d\d–100\)", label["contents"])
    assert "flash point from −" in label["hazards"]
