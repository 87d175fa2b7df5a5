"""Commands for while the flask drips: `diagnose`."""

from __future__ import annotations

import click

from forerun.app.cli_parts import as_json_option, show_answer

__all__ = ["diagnose"]


@click.command()
@click.argument("sheet")
@click.option("--readings", metavar="CSV", required=True, help="The log of the run so far.")
@click.option("--assays", metavar="CSV", help="What was weighed of each cut and of the pot.")
@as_json_option
def diagnose(sheet: str, readings: str, assays: str | None, as_json: bool) -> None:
    """Something is odd: why, which test tells, what then.

    SHEET is a file, "-" for standard input, or the name of an example.
    """
    from forerun.app.diagnose import diagnose as answer
    from forerun.app.sheet import sheet_from_words

    show_answer(answer(sheet_from_words(sheet), readings=readings, assays=assays), as_json)
