"""Labels for the bottles of a run, to scale on sheets of labels, with a code that names the record.

Dimensions of the sheets are those that makers print on their boxes (from memory): print one on
plain paper first and hold it against the sheet.
"""

from __future__ import annotations

import io
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from forerun.core.errors import BadInput
from forerun.core.quantities import format_mass, format_temperature
from forerun.reporting.bands import Span
from forerun.reporting.cut_rows import strength_words
from forerun.reporting.record import Record, digest_of
from forerun.reporting.review_json import boiling_range
from forerun.reporting.typeset import typeset
from forerun.reporting.words import listed, shortened
from forerun.reviewing.ledger import Line
from forerun.reviewing.review import Review
from forerun.substances.model import Substance

__all__ = ["LABEL_SHEETS", "LabelSheet", "labels_pdf"]

_WORTH = 0.002  # mass fraction from which a component stands on a label
_MOST_HAZARDS = 5


@dataclass(frozen=True, slots=True)
class LabelSheet:
    """A sheet of labels.

    Args:
        page_mm: width and height of the page [mm].
        label_mm: width and height of a label [mm].
        pitch_mm: from one label to the next, across and down [mm].
        left_mm: from the edge to the first label [mm].
        top_mm: from the edge to the first label [mm].
        across: labels in a row.
        down: rows.
        size: of the letters [pt].
        code_mm: width of the code [mm].
    """

    page_mm: tuple[float, float]
    label_mm: tuple[float, float]
    pitch_mm: tuple[float, float]
    left_mm: float
    top_mm: float
    across: int
    down: int
    size: float
    code_mm: float


_A4, _LETTER = (210.0, 297.0), (215.9, 279.4)
LABEL_SHEETS: Mapping[str, LabelSheet] = {
    "a4-14": LabelSheet(_A4, (99.1, 38.1), (101.6, 38.1), 4.7, 15.15, 2, 7, 7.0, 22.0),
    "a4-8": LabelSheet(_A4, (99.1, 67.7), (101.6, 67.7), 4.7, 13.1, 2, 4, 9.0, 28.0),
    "letter-10": LabelSheet(_LETTER, (101.6, 50.8), (106.4, 50.8), 4.0, 12.7, 2, 5, 8.0, 26.0),
}
"""Sheets by format and labels on each."""


def labels_pdf(record: Record, sheet: str, first: int = 1) -> bytes:
    """Return the labels of all receivers and of the pot.

    Args:
        record: of a run that was reviewed.
        sheet: one of `LABEL_SHEETS`.
        first: the label to begin with, so that a begun sheet can be used [-].

    Returns:
        The pages, at true size.

    Raises:
        BadInput: another sheet, no such label on it, or a run without a review.
    """
    if sheet not in LABEL_SHEETS:
        raise BadInput("--stock", sheet, listed(list(LABEL_SHEETS), "or"))
    form = LABEL_SHEETS[sheet]
    room = form.across * form.down
    if not 1 <= first <= room:
        raise BadInput("--skip", first - 1, f"a number from 0 to {room - 1}")
    if record.reviewed is None:
        raise BadInput("--labels", "a run without its log", "--readings CSV, to know what to write")
    lines = [
        line
        for line in record.reviewed.review.account.lines
        if (line.place.isdecimal() or line.place == "pot") and line.mass_kg > 1e-5
    ]
    labels = [_label(record, line) for line in lines]
    codes = {label["code"]: _code(label["says"]) for label in labels}
    cells: list[dict[str, Any] | None] = [None] * (first - 1) + list(labels)
    pages = [cells[k : k + room] for k in range(0, len(cells), room)]
    data = {
        "title": f"Labels: {record.foresight.sheet.title}",
        "sheets": pages,
        "page_mm": form.page_mm,
        "label_mm": form.label_mm,
        "pitch_mm": form.pitch_mm,
        "left_mm": form.left_mm,
        "top_mm": form.top_mm,
        "across": form.across,
        "size": form.size,
        "code_mm": form.code_mm,
    }
    return typeset("labels", data, **codes)


def _label(record: Record, line: Line) -> dict[str, Any]:
    reviewed = record.reviewed
    assert reviewed is not None
    review = reviewed.review
    words = record.notes.words
    shares = line.mass_fraction
    order = sorted(range(shares.size), key=lambda k: -float(shares[k]))
    shown = [k for k in order if shares[k] >= _WORTH]
    contents = ", ".join(f"{review.account.names[k]} {_strength(review, line, k)}" for k in shown)
    read = next((c for c in review.observed if str(c.number) == line.place), None)
    # what may be there counts, not only what probably is: a residue may hold the low boiler yet
    perhaps = [k for k in order if line.mole_fraction[k] + line.mole_fraction_band[k] >= _WORTH]
    told = _hazards([review.sheet.charge[k].substance for k in perhaps])
    place = f"Cut {line.place}" if line.place.isdecimal() else "Residue"
    lots = [record.notes.lots.get(review.account.names[k], "") for k in shown]
    foot = [
        words.get("owner", "") or "owner: ________",
        words.get("date", "") or record.made.removeprefix("recorded "),
        f"from lot {listed([lot.removeprefix('lot ') for lot in lots if lot])}"
        if any(lots)
        else "",
        _known_by(review, line),
    ]
    says = f"{place} of {review.sheet.title}; record {digest_of(review.readings.text)[:16]}"
    return {
        "title": shortened(f"{place}: {review.sheet.title}", 60),
        "contents": contents,
        "amount": format_mass(line.mass_kg, line.band_kg)
        if line.measured
        else f"{format_mass(line.mass_kg, line.band_kg)} by forecast",
        "range": boiling_range(read) if read is not None else "",
        "hazards": "; ".join(told),
        "foot": " · ".join(part for part in foot if part),
        "code": f"code{line.place}",
        "says": says,
    }


def _strength(review: Review, line: Line, k: int) -> str:
    """Return one component by mass with its 80 % band.

    Derivation: the ends of the band by amount, the others kept in their proportion; exact for
    two components.
    """
    x, half = float(line.mole_fraction[k]), float(line.mole_fraction_band[k])
    others = np.maximum(np.delete(line.mole_fraction, k), 1e-12)
    if not others.size:
        return strength_words(1.0, None, "wt%")
    molar = review.account.molar_masses
    own, rest = float(molar[k]), float(others @ np.delete(molar, k) / others.sum())
    low, high = (
        v * own / (v * own + (1.0 - v) * rest) for v in (max(x - half, 0.0), min(x + half, 1.0))
    )
    return strength_words(float(line.mass_fraction[k]), Span(low, high), "wt%")


def _known_by(review: Review, line: Line) -> str:
    """Return how the composition on a label is known: only what was analysed is called so."""
    if line.place in review.analysed:
        return "composition analysed"
    if line.measured:
        return "not analysed: composition by the forecast"
    return "neither weighed nor analysed: all by the forecast"


def _hazards(substances: Sequence[Substance]) -> list[str]:
    """Return what is known to be dangerous, and that this is not all."""
    found: list[str] = []
    flashes = [s.flash_point for s in substances if s.flash_point is not None]
    if flashes:
        lowest = min(f.value if f.lowest is None else f.lowest for f in flashes)
        found.append(f"flash point from {format_temperature(lowest, 1.0)}")
    for substance in substances:
        if substance.peroxide_class is not None:
            found.append(f"{substance.name}: peroxides, class {substance.peroxide_class.value}")
    found += [h.value for s in substances for h in s.hazards]
    return [*list(dict.fromkeys(found))[:_MOST_HAZARDS], "more: safety data sheet"]


def _code(text: str) -> str:
    import segno  # noqa: PLC0415 -- only labels need it

    out = io.BytesIO()
    segno.make(text, error="m", micro=False).save(out, kind="svg", border=1, xmldecl=False)
    return out.getvalue().decode()
