"""Reading the shipped file: checksum, sources, then one record at a time."""

from __future__ import annotations

import gzip
import hashlib
import json
from functools import cache
from pathlib import Path
from typing import Any

from forerun.core.errors import CalculationFailed
from forerun.core.references import Reference
from forerun.substances.model import (
    Dimerisation,
    HeatCapacity,
    LatentHeat,
    MolarVolume,
    Sourced,
    Stated,
    Substance,
    VapourPressureFit,
)

__all__ = ["index", "record_at", "records", "reference", "substance_of", "verified"]

Record = dict[str, Any]

FOLDER = Path(__file__).parent / "data"
FILE = FOLDER / "liquids.json.gz"
CHECKSUM = FOLDER / "liquids.sha256"


def verified(packed: bytes, checksum: str) -> Record:
    """Return the content of the data file after checking it.

    Args:
        packed: the gzip file.
        checksum: SHA-256 of it, hexadecimal.

    Returns:
        the parsed file: format, sources, substances.

    Raises:
        CalculationFailed: the file was altered, or a value has no source.
    """
    body: Record = json.loads(_unpacked(packed, checksum))
    for record in body["substances"]:
        _refuse_without_source(record, body["sources"])
    return body


def _unpacked(packed: bytes, checksum: str) -> bytes:
    found = hashlib.sha256(packed).hexdigest()
    if found != checksum.strip():
        raise CalculationFailed(
            "Reading the substance data",
            f"checksum {found[:12]}… instead of {checksum[:12]}…",
            "Install forerun again: the data file is damaged or was edited by hand.",
        )
    return gzip.decompress(packed)


def _refuse_without_source(record: Record, known: Record) -> None:
    for name, part in record.items():
        if not isinstance(part, dict):
            continue
        sources = part.get("sources") or ()
        unknown = [key for key in sources if key not in known and not key.startswith("doi:")]
        if not sources or unknown:
            raise CalculationFailed(
                "Reading the substance data",
                f"{record['name']}, {name}: {'unknown source' if unknown else 'no source'}",
                "Every value needs a source that the file names.",
            )


@cache
def _lines() -> tuple[Record, list[bytes]]:
    """Return the head of the file and its records, each a line that is parsed when asked for."""
    first, *lines = _unpacked(FILE.read_bytes(), CHECKSUM.read_text("utf-8")).split(b"\n")
    return json.loads(first + b"]}"), lines[:-1]


def index() -> Record:
    """Return where names and numbers lead, as `forerun.substances.catalogue.index_of` wrote it."""
    found: Record = _lines()[0]["index"]
    return found


@cache
def record_at(position: int) -> Record:
    """Return one raw record by its place in the file.

    Raises:
        CalculationFailed: a value has no source.
    """
    head, lines = _lines()
    record: Record = json.loads(lines[position].rstrip(b","))
    _refuse_without_source(record, head["sources"])
    return record


def records() -> list[Record]:
    """Return the raw records in the order of the file."""
    return [record_at(k) for k in range(len(_lines()[1]))]


@cache
def reference(key: str) -> Reference:
    """Return the reference behind a key.

    Args:
        key: as it stands in ``sources`` of a value; ``doi:...`` is the paper of measured points.

    Raises:
        KeyError: no such source.
    """
    if key.startswith("doi:"):
        doi = key.removeprefix("doi:")
        archive = _lines()[0]["sources"]["trc_thermoml"]["citation"]
        return Reference(key, f"measured vapour pressures of doi:{doi}", doi, archive)
    sources = _lines()[0]["sources"]
    entry = sources[key] if key in sources else _estimation_sources()[key]
    return Reference(key, entry["citation"], entry["doi"] or None, entry["provenance"])


@cache
def _estimation_sources() -> Record:
    """Return the sources that only substances known by their structure rest on."""
    found: Record = json.loads((FOLDER / "estimation_sources.json").read_text("utf-8"))
    return found


def substance_of(record: Record) -> Substance:
    """Return the substance of a raw record."""
    fit = record["vapour_pressure"]
    heat, capacity, volume = (record[k] for k in ("latent_heat", "heat_capacity", "molar_volume"))
    dimer, peroxide = record["dimerisation"], record["peroxide_class"]
    return Substance(
        **{k: record[k] for k in ("name", "cas", "inchikey", "smiles", "formula", "molar_mass")},
        synonyms=tuple(record["synonyms"]),
        melting_point=_sourced(record["melting_point"]),
        boiling_point=_present(record, "boiling_point"),
        critical_temperature=_present(record, "critical_temperature"),
        critical_pressure=_present(record, "critical_pressure"),
        vapour_pressure=VapourPressureFit(
            coefficients=tuple(fit["coefficients"]),
            temperature_low=fit["low"],
            temperature_high=fit["high"],
            data_low=fit["data_low"],
            data_high=fit["data_high"],
            spread=fit["spread"],
            sources=tuple(fit["sources"]),
        ),
        latent_heat=LatentHeat(
            heat["value"], heat["reference_temperature"], heat["exponent"], **_tail(heat)
        ),
        heat_capacity=HeatCapacity(*capacity["value"], **_tail(capacity)),
        molar_volume=MolarVolume(*volume["value"], **_tail(volume)),
        refractive_index=_sourced(record["refractive_index"]),
        flash_point=_sourced(record["flash_point"]),
        autoignition=_sourced(record["autoignition"]),
        lower_flammable_fraction=_sourced(record["lower_flammable_fraction"]),
        peroxide_class=_stated(peroxide) if peroxide else None,
        peroxide_signs=tuple(record["peroxide_signs"]),
        energetic_groups=tuple(record["energetic_groups"]),
        hazards=tuple(_stated(h) for h in record["hazards"]),
        dimerisation=dimer
        and Dimerisation(tuple(dimer["value"]), tuple(dimer["sources"]), dimer["method"]),
    )


def _tail(part: Record) -> Record:
    return {
        "spread": part["spread"],
        "sources": tuple(part["sources"]),
        "method": part["method"],
    }


def _sourced(part: Record | None) -> Sourced | None:
    return Sourced(part["value"], **_tail(part), lowest=part.get("lowest")) if part else None


def _stated(part: Record) -> Stated:
    return Stated(part["value"], tuple(part["sources"]), part["method"])


def _present(record: Record, name: str) -> Sourced:
    found = _sourced(record[name])
    if found is None:
        raise CalculationFailed(
            "Reading the substance data",
            f"{record['name']} has no {name}",
            "Build the data file again.",
        )
    return found
