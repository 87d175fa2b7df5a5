"""The shipped file: checksum, sources, and nothing from where nothing may come."""

from __future__ import annotations

import ast
import gzip
import hashlib
import json
from pathlib import Path
from typing import Any

import pytest

from forerun.core.errors import CalculationFailed
from forerun.substances.store import records, reference, verified

ROOT = Path(__file__).parents[3]
FOLDER = ROOT / "src" / "forerun" / "substances" / "data"
TOOLS = ROOT / "tools" / "substances"


def _packed(change: dict[str, Any] | None = None) -> bytes:
    body = json.loads(gzip.decompress((FOLDER / "liquids.json.gz").read_bytes()))
    body["substances"] = body["substances"][:1]
    body["substances"][0] |= change or {}
    return gzip.compress(json.dumps(body).encode())


def _whitelist() -> dict[str, Any]:
    """Return the constants of tools/substances/sources.py without importing what it needs."""
    tree = ast.parse((TOOLS / "sources.py").read_text("utf-8"))
    found: dict[str, Any] = {}
    for node in tree.body:
        if isinstance(node, ast.AnnAssign) and isinstance(node.target, ast.Name) and node.value:
            keys = node.value.keys if isinstance(node.value, ast.Dict) else []
            found[node.target.id] = [ast.literal_eval(key) for key in keys if key]
    return found


def test_altered_file_is_refused() -> None:
    packed = _packed()
    with pytest.raises(CalculationFailed, match="checksum"):
        verified(packed, "0" * 64)
    assert verified(packed, hashlib.sha256(packed).hexdigest())["format"] == 1


@pytest.mark.parametrize(("sources", "said"), [([], "no source"), (["hearsay"], "unknown source")])
def test_value_without_a_source_is_refused(sources: list[str], said: str) -> None:
    packed = _packed({"flash_point": {"value": 300.0, "sources": sources, "method": "measured"}})
    with pytest.raises(CalculationFailed, match=said):
        verified(packed, hashlib.sha256(packed).hexdigest())


def test_only_whitelisted_sources_are_cited() -> None:
    lists = _whitelist()
    allowed = {*lists["TABLES"], *lists["METHODS"]}
    body = json.loads(gzip.decompress((FOLDER / "liquids.json.gz").read_bytes()))
    assert set(body["sources"]) <= allowed
    cited = {key for record in body["substances"] for key in _keys(record)}
    assert {key for key in cited if not key.startswith("doi:")} <= allowed


def test_no_excluded_table_entered() -> None:
    text = gzip.decompress((FOLDER / "liquids.json.gz").read_bytes()).decode().casefold()
    whitelisted = (TOOLS / "sources.py").read_text("utf-8")
    tables = whitelisted[: whitelisted.index("EXCLUDED")].casefold()
    excluded = [word.casefold() for word in _whitelist()["EXCLUDED"]]
    assert len(excluded) > 8
    assert not [word for word in excluded if word in text]
    assert not [word for word in excluded if word in tables]


def _keys(node: Any) -> set[str]:
    if isinstance(node, dict):
        return set(node.get("sources", ())).union(*map(_keys, node.values()))
    return set().union(*map(_keys, node)) if isinstance(node, list) else set()


def test_every_cited_source_can_be_shown() -> None:
    for key in {key for record in records() for key in _keys(record)}:
        assert str(reference(key))


def test_file_is_compact() -> None:
    assert len((FOLDER / "liquids.json.gz").read_bytes()) < 300_000
