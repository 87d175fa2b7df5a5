"""A run as one file that other tools can read: a zip that follows RO-Crate 1.1.

Source: RO-Crate Metadata Specification 1.1, doi:10.5281/zenodo.4031327; its words know no checksum,
so that term is the one of the Workflow Run RO-Crate terms, w3id.org/ro/terms/workflow-run.
"""

from __future__ import annotations

import hashlib
import io
import json
import zipfile
from collections.abc import Mapping
from datetime import UTC, datetime
from importlib import metadata
from typing import Any

from forerun.reporting.record import Record
from forerun.reporting.tables_csv import cuts_csv, ledger_csv, readings_csv

__all__ = ["METADATA_FILE", "archive_of", "crate_metadata"]

METADATA_FILE = "ro-crate-metadata.json"
_SPECIFICATION = "https://w3id.org/ro/crate/1.1"
_CONTEXT = [
    f"{_SPECIFICATION}/context",
    {"sha256": "https://w3id.org/ro/terms/workflow-run#sha256"},
]
_FIXED_TIME = (1980, 1, 1, 0, 0, 0)  # of the members, so that the same run gives the same bytes
_KINDS = {
    "toml": ("application/toml", "the run sheet"),
    "csv": ("text/csv", ""),
    "json": ("application/json", ""),
    "pdf": ("application/pdf", "the record"),
    "svg": ("image/svg+xml", "the curve"),
}
_MEANINGS = {
    "readings.csv": "the log as it was given",
    "readings_si.csv": "the log as it was understood, SI units",
    "assays.csv": "what was weighed and analysed, as it was given",
    "cuts.csv": "what every receiver holds, SI units",
    "ledger.csv": "where every gram went, SI units",
    "passport.svg": "what the runs of its column have shown",
    "results.json": "everything that was found, SI units",
}


def archive_of(record: Record, pdf: bytes, results: Mapping[str, Any]) -> bytes:
    """Return the archive of a record.

    Args:
        record: of the run.
        pdf: its pages.
        results: the object of the review or forecast.

    Returns:
        A zip file with its metadata first.
    """
    files = _files(record, pdf, results)
    described = crate_metadata(record, files)
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as bundle:
        text = json.dumps(described, indent=2, ensure_ascii=False, allow_nan=False)
        for name, data in {METADATA_FILE: text.encode(), **files}.items():
            bundle.writestr(zipfile.ZipInfo(name, _FIXED_TIME), data, zipfile.ZIP_DEFLATED)
    return out.getvalue()


def _files(record: Record, pdf: bytes, results: Mapping[str, Any]) -> dict[str, bytes]:
    texts = {"sheet.toml": record.sheet_text}
    if record.reviewed is not None:
        review = record.reviewed.review
        texts |= {
            "readings.csv": review.readings.text,
            "readings_si.csv": readings_csv(review.readings),
            "assays.csv": review.assays.text,
            "cuts.csv": cuts_csv(record.reviewed),
            "ledger.csv": ledger_csv(record.reviewed),
        }
    texts["curve.svg"] = record.drawing()
    if record.passport is not None:
        texts["passport.svg"] = record.passport.drawing()
    texts["results.json"] = json.dumps(results, ensure_ascii=False, allow_nan=False)
    files = {name: text.encode("utf-8") for name, text in texts.items() if text}
    return {**files, "record.pdf": pdf}


def crate_metadata(record: Record, files: Mapping[str, bytes]) -> dict[str, Any]:
    """Return the description of an archive.

    Args:
        record: of the run.
        files: names and contents.

    Returns:
        A JSON-LD object as the specification demands: descriptor, root, one entity a file.
    """
    today = datetime.now(UTC).date().isoformat()
    version = metadata.version("forerun")
    root: dict[str, Any] = {
        "@id": "./",
        "@type": "Dataset",
        "name": record.foresight.sheet.title or "a distillation",
        "description": record.finding,
        "datePublished": today,
        "license": {"@id": "#terms"},
        "hasPart": [{"@id": name} for name in files],
        "mentions": {"@id": "#forerun"},
    }
    entities: list[dict[str, Any]] = [
        {
            "@id": METADATA_FILE,
            "@type": "CreativeWork",
            "conformsTo": {"@id": _SPECIFICATION},
            "about": {"@id": "./"},
        },
        root,
        {
            "@id": "#terms",
            "@type": "CreativeWork",
            "name": "Terms of use",
            "description": "As the owner of the run decides; none is stated here.",
        },
        {
            "@id": "#forerun",
            "@type": "SoftwareApplication",
            "name": "forerun",
            "version": version,
            "description": "Made the results, the record and this archive.",
        },
    ]
    operator = record.notes.words.get("operator", "")
    if operator:
        root["author"] = {"@id": "#operator"}
        entities.append({"@id": "#operator", "@type": "Person", "name": operator})
    entities += [_entity(name, data) for name, data in files.items()]
    return {"@context": _CONTEXT, "@graph": entities}


def _entity(name: str, data: bytes) -> dict[str, Any]:
    media, meaning = _KINDS[name.rpartition(".")[2]]
    return {
        "@id": name,
        "@type": "File",
        "name": name,
        "description": _MEANINGS.get(name, meaning),
        "encodingFormat": media,
        "contentSize": str(len(data)),
        "sha256": hashlib.sha256(data).hexdigest(),
    }
