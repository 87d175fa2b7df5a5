"""`forerun passport`: what the runs of one's own glassware have shown."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from forerun.core.errors import BadInput, ForerunError
from forerun.core.provenance import signed
from forerun.records.interface import RunStore
from forerun.records.library import open_store
from forerun.reporting.paper import Paper
from forerun.reporting.passport import Passport
from forerun.sheets.resolving import load as load_sheet

__all__ = ["Passports", "kept_passport", "passport", "passport_anew", "passports"]


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


def passport_anew(name: str) -> Passport:
    """Return the passport of one item after each run it rests on was reviewed again; keep that.

    Mends a passport from before runs were kept one by one, and one whose runs are reviewed
    otherwise today. What cannot be reviewed again (erased, or a sheet that is refused today) is
    left out and named.

    Args:
        name: as sheets have it in ``passport`` of ``[rig]``.

    Raises:
        BadInput: none is kept under that name, or none of its runs can be reviewed again.
    """
    states = passport(name).states
    runs = list(dict.fromkeys(str(state.get("last", "")) for state in states))
    found, left_out = None, []
    with open_store() as store:
        for run in runs:
            try:
                found = _looked_again(store, run, found) or found
            except ForerunError:
                left_out.append(run or "a run without a name")
        if found is None:
            accepted = "a passport of which at least one run can be reviewed again"
            raise BadInput("NAME", name, accepted)
        store.keep_passport(name.strip(), {**found, "left_out": left_out})
    return passport(name)


def _looked_again(
    store: RunStore, run: str, before: Mapping[str, Any] | None
) -> dict[str, Any] | None:
    """Return the passport after one kept run was reviewed again by its own sheet."""
    from forerun.app.keep import kept_run
    from forerun.app.progress import Progress
    from forerun.app.ready import kernels_ready

    number = run.removeprefix("run ")
    if not number.isdecimal():
        raise BadInput("run", run, "the number of a run in the library")
    kept = kept_run(store, int(number))
    kernels_ready()
    from forerun.reviewing.passport import passport_of
    from forerun.reviewing.review import review_run

    # without the passport itself: what is typical of such a column is what was likely before
    sheet = load_sheet(kept.sheet)
    with Progress(f"reviewing {run} again") as bar:
        found = review_run(sheet, kept.readings, kept.assays, progress=bar)
    return passport_of(found, before, run)
