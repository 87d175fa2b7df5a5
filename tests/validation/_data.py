"""Reading the rows of a published source, and comparing numbers with them."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from validation._rows import ValidationRow

FOLDER = Path(__file__).parent / "data"


def published_rows(name: str) -> dict[str, dict[str, Any]]:
    """Return the rows of a data file by their id."""
    text = (FOLDER / name).read_text(encoding="utf-8")
    return {row["id"]: row for row in json.loads(text)}


def compared(
    row: dict[str, Any],
    suffix: str,
    quantity: str,
    unit: str,
    published: float,
    ours: float,
    tolerance: float,
) -> ValidationRow:
    """Return one comparison of a number of a row with ours."""
    miss = ours - published
    return ValidationRow(
        id=f"{row['id']}{suffix}",
        system=row["system"],
        quantity=quantity,
        source=row["source"],
        provenance=row["provenance"],
        published=published,
        ours=ours,
        unit=unit,
        tolerance=tolerance,
        miss=miss,
        met=abs(miss) <= tolerance,
    )


def changed_misses(rows: list[ValidationRow], known: dict[str, str]) -> list[str]:
    """Return the rows that miss and are not known to, and the known ones that no longer miss."""
    missing = {row.id: row for row in rows if row.met is False}
    new = [f"{r.id}: published {r.published}, ours {r.ours}" for r in missing.values()]
    new = [text for text in new if text.partition(":")[0] not in known]
    return new + [f"{key} is met now" for key in known if key not in missing]
