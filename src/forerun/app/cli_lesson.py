"""The command `forerun lesson`, apart from the others so that no file grows too long."""

from __future__ import annotations

import click

from forerun.app.cli_parts import as_json_option, show_answer

__all__ = ["lesson"]

_GATE_STOPS = 3


@click.command()
@click.argument("sheet")
@click.option("--out", required=True, metavar="FOLDER", help="Where the material goes.")
@as_json_option
def lesson(sheet: str, out: str, as_json: bool) -> int:
    """One SHEET in several ways, for a class: a page that opens without this program.

    SHEET is a file, "-" for standard input, or the name of an example.
    """
    from forerun.app.lesson import lesson as answer
    from forerun.app.lesson import write_folder
    from forerun.app.sheet import sheet_from_words

    found = answer(sheet_from_words(sheet))
    show_answer(found, as_json, ", ".join(write_folder(found, out)))
    return _GATE_STOPS if found.stopped else 0
