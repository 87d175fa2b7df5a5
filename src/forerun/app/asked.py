"""The question behind an answer, kept with it so that it can be asked again to the last digit."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping, Sequence
from datetime import date
from itertools import combinations
from pathlib import Path
from typing import TYPE_CHECKING, Any

from forerun.sheets.model import RunSheet
from forerun.substances.model import Substance

if TYPE_CHECKING:
    from forerun.records.assays import Assays
    from forerun.records.readings import Readings

__all__ = [
    "asked_about",
    "asked_of_log",
    "asked_of_substances",
    "asked_of_sweep",
    "drawer_asked",
    "own_pairs",
]


def asked_about(command: str, sheet: RunSheet, **words: Any) -> dict[str, Any]:
    """Return a question about a sheet.

    Args:
        command: that was asked.
        sheet: as it was read.
        words: the options, as the Python function takes them.

    Returns:
        Command, sheet as TOML, options, and what this user's own library adds to the sheet; empty
        for a sheet that was put together by hand, of which there is no text.
    """
    # here and not above: only with a sheet
    from forerun.sheets.form import SheetForm
    from forerun.sheets.writing import toml_of

    if not isinstance(sheet.written, SheetForm):
        return {}

    own = own_pairs([portion.substance for portion in sheet.charge])
    return {
        "command": command,
        "sheet": toml_of(sheet, as_written=True),
        **{name: _plain(value) for name, value in words.items() if value is not None},
        **({"own_pairs": own} if own else {}),
        **_passport(sheet.rig.passport),
    }


def asked_of_log(
    command: str, sheet: RunSheet, readings: Readings, assays: Assays, **words: Any
) -> dict[str, Any]:
    """Return a question about a sheet and its log; empty where the log has no text.

    Args:
        command: that was asked.
        sheet: of the run.
        readings: its log.
        assays: what was weighed and analysed.
        words: the options.
    """
    if not readings.text or (assays.rows and not assays.text):
        return {}
    return asked_about(command, sheet, readings=readings.text, assays=assays.text or None, **words)


def asked_of_substances(
    command: str, found: Sequence[Substance], /, **words: Any
) -> dict[str, Any]:
    """Return a question about substances without a sheet.

    Args:
        command: that was asked.
        found: the substances, for this user's own points of their pairs.
        words: what was said, as the Python function takes it.
    """
    own = own_pairs(found)
    return {
        "command": command,
        **{name: _plain(value) for name, value in words.items() if value is not None},
        **({"own_pairs": own} if own else {}),
    }


def asked_of_sweep(
    first: RunSheet, table: Mapping[str, Any], vary: Sequence[str]
) -> dict[str, Any]:
    """Return the question of a sweep.

    Args:
        first: the sheet of the first point, whose pairs are looked for.
        table: the sheet as a table of tables; days in it become text.
        vary: what is varied, as it was written.
    """
    found = [portion.substance for portion in first.charge]
    plain = json.loads(json.dumps(table, default=str))
    names = [one.name for one in found]
    return asked_of_substances("sweep", found, substances=names, table=plain, vary=list(vary))


def own_pairs(substances: Sequence[Substance]) -> dict[str, str]:
    """Return the checksum of each pair of these that the user fitted, by the names of the two.

    Args:
        substances: whose pairs are looked for.
    """
    found: dict[str, str] = {}
    if len(substances) < 2:
        return found
    from forerun.equilibrium.own_pairs import own_pair_file

    for first, second in combinations(substances, 2):
        file = own_pair_file(first.inchikey, second.inchikey)
        if file.is_file():
            digest = hashlib.sha256(file.read_bytes()).hexdigest()
            found[f"{first.name} + {second.name}"] = digest
    return found


def drawer_asked(drawer: str | Path | Mapping[str, Any] | None) -> str | dict[str, Any] | None:
    """Return a drawer so that it means the same on another day: a file by what it holds.

    Args:
        drawer: as `forerun.advise` takes it, found readable.
    """
    if drawer is None or isinstance(drawer, Mapping):
        return None if drawer is None else dict(drawer)
    if not Path(drawer).is_file():
        return str(drawer)
    import tomllib

    return tomllib.loads(Path(drawer).read_text("utf-8"))


def _passport(name: str) -> dict[str, Any]:
    """Return the passport that was taken for a column, None where none was kept."""
    if not name:
        return {}
    from forerun.records.library import open_store

    with open_store() as store:
        kept = store.passports(name)
    return {"passport": dict(kept[-1].data) if kept else None}


def _plain(value: Any) -> Any:
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, Sequence) and not isinstance(value, str):
        return [_plain(one) for one in value]
    return value
