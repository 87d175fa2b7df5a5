"""Lay the data file out so that a command parses only the records that it asks for.

    python tools/substances/packing.py

packs the present file anew, which is needed when the way in which names are understood changes.
"""

from __future__ import annotations

import gzip
import hashlib
import json
import sys
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[2]
OUT = ROOT / "src" / "forerun" / "substances" / "data"
sys.path.insert(0, str(ROOT / "src"))

from forerun.substances.catalogue import index_of  # noqa: E402 -- found through the line above

Record = dict[str, Any]


def pack(sources: Record, records: list[Record]) -> None:
    """Write file and checksum: the same bytes for the same input, one line for each record."""
    head = _dumped({"format": 1, "index": index_of(records), "sources": sources})
    lines = ",\n".join(_dumped(record) for record in records)
    text = f'{head[:-1]},"substances":[\n{lines}\n]}}'
    packed = gzip.compress(text.encode(), 9, mtime=0)
    OUT.mkdir(parents=True, exist_ok=True)
    (OUT / "liquids.json.gz").write_bytes(packed)
    (OUT / "liquids.sha256").write_text(hashlib.sha256(packed).hexdigest() + "\n", encoding="utf-8")
    print(f"{len(text) / 1e3:.0f} kB, {len(packed) / 1e3:.0f} kB packed")


def _dumped(value: Any) -> str:
    return json.dumps(value, ensure_ascii=False, separators=(",", ":"), sort_keys=True)


if __name__ == "__main__":
    body = json.loads(gzip.decompress((OUT / "liquids.json.gz").read_bytes()))
    pack(body["sources"], body["substances"])
