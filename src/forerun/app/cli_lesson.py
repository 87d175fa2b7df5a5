"""The command `forerun lesson`, apart from the others so that no file grows too long."""

from __future__ import annotations

import click

from forerun.app.cli_parts import GATE_STOPS, as_json_option, show_answer

__all__ = ["lesson"]


@click.command()
@click.argument("sheet")
@click.option("--out", required=True, metavar="FOLDER", help="Where the material goes.")
@click.option(
    "--benches",
    type=click.IntRange(1, 200),
    default=12,
    show_default=True,
    metavar="N",
    help="For the list of kit.",
)
@click.option("--length", metavar="TIME", help="Of the class; the aim's, or 3 h, if left out.")
@click.option("--paper", default="a4", show_default=True, metavar="a4|letter", help="Its size.")
@as_json_option
def lesson(
    sheet: str, out: str, benches: int, length: str | None, paper: str, as_json: bool
) -> int:
    """One SHEET in several ways, for a class: a page that opens by itself, handout, key.

    SHEET is a file, "-" for standard input, the name of an example, or a ready topic: far-apart,
    close-together, lowest-boiling-mixture, highest-boiling-mixture, reduced-pressure, altitude,
    small-charge, three-liquids, steam, two-liquids, thermometer-placement.
    """
    from forerun.app.lesson import lesson as answer
    from forerun.app.lesson import write_folder
    from forerun.app.sheet import sheet_from_words
    from forerun.sheets.topics import topics

    found = answer(sheet if sheet in topics() else sheet_from_words(sheet))
    written = write_folder(found, out, paper=paper, benches=benches, length=length)
    show_answer(found, as_json, ", ".join(written))
    return GATE_STOPS if found.stopped else 0
