"""`forerun passport`: what the runs of one's own glassware have shown."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from forerun.core.errors import BadInput
from forerun.core.provenance import signed
from forerun.records.library import open_store
from forerun.reporting.paper import Paper
from forerun.reporting.passport import Passport

__all__ = ["Passports", "kept_passport", "passport", "passports"]


@dataclass(frozen=True, slots=True)
class Passports:
    """All passports of this user.

    Args:
        kept: each with its states.
    """

    kept: tuple[Passport, ...]

    @property
    def warnings(self) -> tuple[str, ...]:
        """Sentences that the user should read."""
        return tuple(dict.fromkeys(w for one in self.kept for w in one.warnings))

    def to_json(self) -> dict[str, Any]:
        """Return what is known of each."""
        return signed({"passports": [one.brief() for one in self.kept]})

    def printed(self, paper: Paper) -> list[str]:
        """Return one line for each."""
        if not self.kept:
            return [
                'None is kept. Name the column in a sheet, passport = "my Vigreux" in [rig], and '
                "keep a run: forerun review SHEET --readings CSV --keep"
            ]
        return [paper.spelled(p.finding) for p in self.kept]


def passport(name: str) -> Passport:
    """Return what the runs of one item have shown.

    Args:
        name: as sheets have it in ``passport`` of ``[rig]``.

    Raises:
        BadInput: none is kept under that name.
    """
    found = kept_passport(name)
    if found is None:
        names = ", ".join(p.name for p in passports().kept) or "none is kept yet"
        raise BadInput("passport", name, f"the name of one that is kept ({names})")
    return found


def passports() -> Passports:
    """Return all passports of this user, by name."""
    with open_store() as store:
        names = store.passport_names()
    return Passports(tuple(p for p in map(kept_passport, names) if p is not None))


def kept_passport(name: str) -> Passport | None:
    """Return one passport, None where none is kept under that name."""
    with open_store() as store:
        states = store.passports(name)
    if not states:
        return None
    when = tuple(state.stored_utc_s for state in states)
    return Passport(name.strip(), tuple(state.data for state in states), when)
