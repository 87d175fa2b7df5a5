"""Tables as CSV for other programs; a cell that a spreadsheet would run is made plain text."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Sequence

from forerun.core.cells import harmless
from forerun.records.readings import CHANNELS, Readings
from forerun.reporting.review import Reviewed

__all__ = ["csv_text", "cuts_csv", "ledger_csv", "readings_csv"]


def csv_text(head: Sequence[str], rows: Iterable[Sequence[object]]) -> str:
    """Return a table as CSV with a line of headings.

    Args:
        head: headings.
        rows: numbers stay as they are; texts that begin as a formula does get an apostrophe.

    Returns:
        Lines that end in CR LF, as RFC 4180 has them.
    """
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow([harmless(cell) for cell in head])
    writer.writerows([harmless(cell) for cell in row] for row in rows)
    return out.getvalue()


def readings_csv(readings: Readings) -> str:
    """Return a log as it is understood, in SI units."""
    rows = [
        (row.time_s, *(getattr(row, name) for name in CHANNELS), row.remark, "; ".join(row.flags))
        for row in readings.rows
    ]
    return csv_text(("time_s", *CHANNELS, "remark", "flags"), rows)


def cuts_csv(reviewed: Reviewed) -> str:
    """Return what every receiver and the pot hold, in SI units."""
    account = reviewed.review.account
    rows = [
        (x.place, x.mass_kg, x.band_kg, x.volume_m3, *map(float, x.mole_fraction), x.measured)
        for x in account.lines
        if x.place.isdecimal() or x.place == "pot"
    ]
    names = [f"mole_fraction {name}" for name in account.names]
    return csv_text(("cut", "mass_kg", "band_kg", "volume_m3", *names, "measured"), rows)


def ledger_csv(reviewed: Reviewed) -> str:
    """Return where every gram went, in SI units."""
    account = reviewed.review.account
    rows = [
        (x.place, x.mass_kg, x.band_kg, *map(float, x.by_component_kg), x.measured)
        for x in (account.charge, *account.lines)
    ]
    names = [f"mass_kg {name}" for name in account.names]
    return csv_text(("place", "mass_kg", "band_kg", *names, "measured"), rows)
